"""The mirror: stored rows sent on to a server that keeps points in time, and nothing from memory.

The daemon's thread owns the marks and only ever claims what is due and writes down how far it came;
a thread of the mirror's own reads the database beside it and talks to the server. So a server that
is slow, or away for days, holds up nobody, and what was not sent is found again after any end.
"""

from __future__ import annotations

import logging
import queue
import threading
import time
from collections import deque
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from curewatch.errors import CurewatchError
from curewatch.outbound.backoff import Backoff
from curewatch.outbound.influx import InfluxDoor, NotNow, Place
from curewatch.outbound.lines import alert_line, reading_line, state_lines, void_line
from curewatch.shop.reading import Flag
from curewatch.storage import Store
from curewatch.storage.mirror_marks import NONE_YET, Numbers

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from curewatch.outbound.influx import Taker
    from curewatch.settings import Settings
    from curewatch.shop.reading import Reading
    from curewatch.storage.mirror_marks import Claim

LOG = logging.getLogger(__name__)
LINES = 1000  # of one write, at most
STATES = 200  # of one write, at most: a room is a line for itself and one for each finish
WRITES = 20  # of readings in one claim, at most: what is sent again after a SIGKILL
UNSETTLED_S = 60.0  # so long a server may need until what it took would outlive its own end
AT_ONCE_S = 0.0


@dataclass(frozen=True, slots=True)
class Progress:
    """How far a claim came.

    Attributes
    ----------
    until_ms: all readings before it are there [ms].
    after: the newest number of each other kind of row that is there.
    whole: whether the claim is done.
    parked: rows the server refuses for good.
    error: why it ended early; None where it did not.
    wait_s: how long the server asked to be left alone [s].
    """

    until_ms: int
    after: Numbers = NONE_YET
    whole: bool = True
    parked: int = 0
    error: str | None = None
    wait_s: float = 0.0


class Courier:
    """Sends claims one after another in a thread of its own."""

    def __init__(self, path: Path, site: str, taker: Taker) -> None:
        """Read the database at `path`; name points after `site`."""
        self._path = path
        self._site = site
        self._taker = taker
        self._in: queue.SimpleQueue[Claim | None] = queue.SimpleQueue()
        self._out: queue.SimpleQueue[Progress] = queue.SimpleQueue()
        self._ends = threading.Event()
        self._thread = threading.Thread(target=self._run, name="mirror", daemon=True)

    def start(self) -> None:
        """Begin to send."""
        self._thread.start()

    def stop(self, timeout_s: float = 2.0) -> None:
        """End after the write under way; one that hangs is left behind, and sent again later."""
        self._ends.set()
        self._in.put(None)
        self._thread.join(timeout_s)

    def take(self, claim: Claim) -> None:
        """Send a claim."""
        self._in.put(claim)

    def progress(self) -> Progress | None:
        """Return how far the last claim came, once that is known."""
        try:
            return self._out.get_nowait()
        except queue.Empty:
            return None

    def _run(self) -> None:
        while (claim := self._in.get()) is not None:
            self._out.put(self.send(claim))

    def send(self, claim: Claim) -> Progress:
        """Send a claim as far as it goes."""
        way = _Way(claim.from_ms, claim.after)
        try:
            with Store.open(self._path, read_only=True) as store:
                whole = self._send(store, claim, way)
        except NotNow as error:
            return replace(way.came(whole=False, error=str(error)), wait_s=error.wait_s)
        except CurewatchError as error:
            return way.came(whole=False, error=str(error))
        except Exception as error:  # the daemon must not lose its mirror to a surprise
            LOG.exception("the mirror failed")
            return way.came(whole=False, error=f"{type(error).__name__}: {error}")
        return way.came(whole=whole)

    def _send(self, store: Store, claim: Claim, way: _Way) -> bool:
        """Return whether all of the claim was sent; `way` says how far it came."""
        whole = self._send_numbered(store, way)
        for written, batch in enumerate(
            _batches(store.readings.rows(claim.from_ms, claim.stop_ms))
        ):
            if self._ends.is_set() or (written >= WRITES and way.until_ms > claim.from_ms):
                return False
            way.parked += self._taker.write([reading_line(self._site, one) for one in batch])
            way.until_ms = batch[-1].at_ms  # others of that instant may stand in the next batch
        way.until_ms = max(claim.from_ms, claim.stop_ms)
        return whole

    def _send_numbered(self, store: Store, way: _Way) -> bool:
        """Send one write of each kind whose rows are numbered; return whether that was all."""
        site = self._site
        steps = store.alerts.steps_after(way.after.alert, LINES)
        if steps:
            way.parked += self._taker.write(
                [
                    alert_line(
                        site,
                        kind=step.kind,
                        subject=step.subject,
                        phase=step.phase,
                        number=step.alert_id,
                        reason=step.reason,
                        at_ms=step.at_ms,
                    )
                    for _, step in steps
                ]
            )
            way.after = replace(way.after, alert=steps[-1][0])
        voids = store.reading_voids.after(way.after.void, LINES)
        if voids:
            way.parked += self._taker.write([void_line(site, *one) for one in voids])
            way.after = replace(way.after, void=voids[-1][0])
        states = store.states.after(way.after.state, STATES)
        if states:
            lines = [line for _, state in states for line in state_lines(site, state)]
            way.parked += self._taker.write(lines)
            way.after = replace(way.after, state=states[-1][0])
        return len(steps) < LINES and len(voids) < LINES and len(states) < STATES


@dataclass(slots=True)
class _Way:
    """How far a claim has come."""

    until_ms: int
    after: Numbers
    parked: int = 0

    def came(self, *, whole: bool, error: str | None = None) -> Progress:
        """Return it as what is known in the end."""
        return Progress(self.until_ms, self.after, whole, self.parked, error)


def _batches(readings: Iterator[Reading]) -> Iterator[list[Reading]]:
    """Yield readings whose time is known, so many as one write takes."""
    batch: list[Reading] = []
    for one in readings:
        if one.flags & Flag.TIME_UNKNOWN:
            continue
        batch.append(one)
        if len(batch) == LINES:
            yield batch
            batch = []
    if batch:
        yield batch


class Mirror:
    """Claims what is due and writes down what was sent, in the daemon's thread."""

    def __init__(
        self,
        store: Store,
        courier: Courier,
        *,
        place: str,
        every_s: float,
        backoff: Backoff | None = None,
        monotonic_s: Callable[[], float] = time.monotonic,
    ) -> None:
        """Keep the marks of `place` in `store`; look for new rows every so often [s]."""
        self._marks = store.mirror_marks
        self._courier = courier
        self._place = place
        self._every_s = every_s
        self._backoff = backoff or Backoff()
        self._now_s = monotonic_s
        self._due_s = AT_ONCE_S
        self._under_way = False
        self._unwritten: Progress | None = None  # storage would not take it yet
        self._failures = 0
        self._unsettled: deque[tuple[float, Claim]] = deque()  # of the last minute, by their time

    def start(self) -> None:
        """Begin to send."""
        if self._marks.aim(self._place):
            LOG.info("mirror: another place than before: everything is sent there from the start")
        self._marks.step_back(round(UNSETTLED_S * 1000.0))
        self._courier.start()

    def stop(self) -> None:
        """End; write down what is known of the last claim."""
        self._courier.stop()
        self._take_in()

    def work(self) -> None:
        """Write down how far the last claim came; claim anew when it is time.

        Raises
        ------
        StorageError
            When that cannot be written; it is tried again in the next round.
        """
        self._take_in()
        if self._under_way or self._now_s() < self._due_s:
            return
        if self._marks.due():
            claim = self._marks.claim()
            self._unsettled.append((self._now_s(), claim))
            self._courier.take(claim)
            self._under_way = True
        else:
            self._due_s = self._now_s() + self._every_s

    def _take_in(self) -> None:
        if self._unwritten is None:
            self._unwritten = self._courier.progress()
        came = self._unwritten
        if came is None:
            return
        self._settle(keep=bool(came.error))
        if came.error and not self._failures:
            came = self._unwritten = self._less_what_may_be_lost(came)
        self._marks.sent(came.until_ms, came.after, error=came.error, parked=came.parked)
        self._unwritten = None
        self._under_way = False
        self._tell(came)
        self._failures = self._failures + 1 if came.error else 0
        wait_s = max(self._backoff.after_s(self._failures), came.wait_s)
        if not came.error:
            wait_s = self._every_s if came.whole else 0.0
        self._due_s = self._now_s() + wait_s

    def _settle(self, *, keep: bool) -> None:
        """Forget claims that the server has had long enough, but not while it fails."""
        until_s = self._now_s() - UNSETTLED_S
        while not keep and self._unsettled and self._unsettled[0][0] < until_s:
            self._unsettled.popleft()

    def _less_what_may_be_lost(self, came: Progress) -> Progress:
        """Go back by a minute: a server that was killed may have lost what it took just before."""
        until_ms, after = came.until_ms, came.after
        for _, claim in self._unsettled:
            until_ms, after = min(until_ms, claim.from_ms), after.lowest(claim.after)
        self._unsettled.clear()
        return replace(came, until_ms=until_ms, after=after)

    def _tell(self, came: Progress) -> None:
        """Log the first of a row of failures, its end, and what was refused for good."""
        if came.error and not self._failures:
            LOG.warning("mirror: %s (kept, and tried again)", came.error)
        if not came.error and self._failures:
            LOG.info("mirror: sending again after %d failures", self._failures)
        if came.parked:
            LOG.warning("mirror: %d rows are refused by the server for good", came.parked)


def mirror_of(settings: Settings, store: Store) -> Mirror | None:
    """Return the mirror that the settings ask for; None where they ask for none.

    Raises
    ------
    BadConfig
        When the token cannot be read.
    """
    influx = settings.influx
    if (
        influx.url is None
        or influx.org is None
        or influx.bucket is None
        or settings.influx_token() is None
    ):
        return None
    place = Place(
        influx.url, influx.org, influx.bucket, lambda: settings.influx_token() or "", influx.ca_file
    )
    site = settings.site.name
    return Mirror(
        store,
        Courier(settings.storage.path, site, InfluxDoor(place)),
        place=f"{influx.url} {influx.org} {influx.bucket} {site}",
        every_s=influx.every_s,
    )
