"""Delivery of notices: the one door for apprise, and the thread that waits for slow targets.

Nothing here touches storage. The daemon offers what lies in its outbox, takes the results and
writes them down; what was not delivered it offers again. A notice counts as delivered when every
target took it; while the daemon runs, a target that took it is not told again.
"""

from __future__ import annotations

import logging
import queue
import threading
import time
import warnings
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

from curewatch.errors import BadConfig, BadInput
from curewatch.outbound.backoff import Backoff
from curewatch.outbound.targets import target_name, target_names, without_secrets

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Sequence

    from apprise import Apprise, AppriseResult

CONNECT_TIMEOUT_S = 5
ANSWER_TIMEOUT_S = 10


@dataclass(frozen=True, slots=True)
class Delivery:
    """What became of a notice at one target.

    Attributes
    ----------
    target: scheme and host, never more.
    delivered: whether it was taken.
    why: why not, in words without secrets.
    """

    target: str
    delivered: bool
    why: str = ""


@dataclass(frozen=True, slots=True)
class OutgoingNotice:
    """A notice to be delivered, with the outbox's number."""

    id: int
    title: str
    body: str


@dataclass(frozen=True, slots=True)
class NoticeResult:
    """What became of a notice.

    Attributes
    ----------
    id: the outbox's number.
    deliveries: by target, those of this try only.
    delivered: whether every target has taken it by now.
    retry_in_s: when to offer it again [s]; None once delivered.
    """

    id: int
    deliveries: tuple[Delivery, ...]
    delivered: bool
    retry_in_s: float | None = None

    @property
    def error(self) -> str:
        """Why it is not delivered, by target; empty when it is."""
        return "; ".join(f"{d.target}: {d.why}" for d in self.deliveries if not d.delivered)


class Carrier(Protocol):
    """What carries a notice to some of its targets."""

    @property
    def targets(self) -> tuple[str, ...]:
        """The names of the targets, each once."""

    def send(
        self, title: str, body: str, *, to: Collection[str] | None = None
    ) -> tuple[Delivery, ...]:
        """Try to deliver to the targets named in `to`, or to all."""


class Messenger:
    """Carries notices to the addresses a shop has configured."""

    def __init__(self, urls: Sequence[str]) -> None:
        """Take the addresses; apprise is loaded here, when there are any.

        Raises
        ------
        BadConfig
            Naming every address that is none, without its secrets.
        """
        self._urls = tuple(urls)
        self.targets = target_names(urls)
        self._doors: tuple[Apprise, ...] = ()
        if urls:
            self._doors = _doors(urls)

    def send(
        self, title: str, body: str, *, to: Collection[str] | None = None
    ) -> tuple[Delivery, ...]:
        """Try to deliver once to each target, or to those named in `to`; may take a while."""
        return tuple(
            _delivery(door, (target, url), (title, body))
            for target, url, door in zip(self.targets, self._urls, self._doors, strict=True)
            if to is None or target in to
        )


class NoticeSender:
    """Delivers notices one after another in a thread of its own.

    A target that failed rests, longer each time; while it rests it fails every notice at once, so
    that others need not wait for it.
    """

    def __init__(
        self,
        messenger: Carrier,
        *,
        backoff: Backoff | None = None,
        monotonic_s: Callable[[], float] = time.monotonic,
    ) -> None:
        """Deliver through `messenger`; `monotonic_s` is a clock that nobody sets [s].

        Raises
        ------
        BadInput
            When there is no target: a notice to nobody must not count as delivered.
        """
        if not messenger.targets:
            raise BadInput(
                "there is nobody to tell: set notify.urls or notify.urls_file, or start no sender"
            )
        self._messenger = messenger
        self._backoff = backoff or Backoff()
        self._monotonic_s = monotonic_s
        self._in: queue.SimpleQueue[OutgoingNotice | None] = queue.SimpleQueue()
        self._out: queue.SimpleQueue[NoticeResult] = queue.SimpleQueue()
        self._under_way: set[int] = set()  # touched by the daemon's thread only
        self._taken: dict[int, set[str]] = {}  # by notice; touched by our thread only, as below
        self._failures: dict[str, int] = {}
        self._rests_until_s: dict[str, float] = {}
        self._thread = threading.Thread(target=self._run, name="notices", daemon=True)

    def start(self) -> None:
        """Begin to deliver."""
        self._thread.start()

    def stop(self, timeout_s: float = 2.0) -> bool:
        """Finish the notice under way and end; False when it does not end in time."""
        self._in.put(None)
        self._thread.join(timeout_s)
        return not self._thread.is_alive()

    def offer(self, notice: OutgoingNotice) -> bool:
        """Hand over a notice; False when it is under way already."""
        if notice.id in self._under_way:
            return False
        self._under_way.add(notice.id)
        self._in.put(notice)
        return True

    def results(self, wait_s: float = 0.0) -> tuple[NoticeResult, ...]:
        """Return what is known since last time, waiting up to `wait_s` for a first result [s]."""
        found: list[NoticeResult] = []
        try:
            if wait_s > 0.0:
                found.append(self._out.get(timeout=wait_s))
            while True:
                found.append(self._out.get_nowait())
        except queue.Empty:
            pass
        self._under_way -= {result.id for result in found}
        return tuple(found)

    def _run(self) -> None:
        while (notice := self._in.get()) is not None:
            self._out.put(self._deliver(notice))

    def _deliver(self, notice: OutgoingNotice) -> NoticeResult:
        taken = self._taken.setdefault(notice.id, set())
        now_s = self._monotonic_s()
        wanting = [target for target in self._messenger.targets if target not in taken]
        resting = [target for target in wanting if self._rests_until_s.get(target, now_s) > now_s]
        awake = set(wanting) - set(resting)
        deliveries = self._messenger.send(notice.title, notice.body, to=awake) if awake else ()
        for delivery in deliveries:
            self._note(delivery)
        taken |= {delivery.target for delivery in deliveries if delivery.delivered}
        deliveries += tuple(Delivery(target, False, "rests after a failure") for target in resting)
        if taken.issuperset(self._messenger.targets):
            del self._taken[notice.id]
            return NoticeResult(notice.id, deliveries, delivered=True)
        return NoticeResult(
            notice.id, deliveries, delivered=False, retry_in_s=self._soonest_s(wanting)
        )

    def _note(self, delivery: Delivery) -> None:
        """Let a target that failed rest, and wake one that took a notice."""
        if delivery.delivered:
            self._failures.pop(delivery.target, None)
            self._rests_until_s.pop(delivery.target, None)
            return
        failures = self._failures.get(delivery.target, 0) + 1
        self._failures[delivery.target] = failures
        self._rests_until_s[delivery.target] = self._monotonic_s() + self._backoff.after_s(failures)

    def _soonest_s(self, wanting: list[str]) -> float:
        """Return when the first of the targets that failed may be tried again [s]."""
        waits = [self._rests_until_s[target] for target in wanting if target in self._rests_until_s]
        return max(0.0, min(waits) - self._monotonic_s())


def _doors(urls: Sequence[str]) -> tuple[Apprise, ...]:
    from apprise import Apprise  # noqa: PLC0415 - 18 MiB that a shop without addresses is spared

    # what these write may hold addresses with their secrets; we say ourselves what failed
    logging.getLogger("apprise").propagate = False
    logging.getLogger("urllib3").setLevel(logging.INFO)
    doors, faults = [], []
    for number, url in enumerate(urls, start=1):
        door = Apprise()
        with warnings.catch_warnings():  # its mail plugin asks whether this Python still has it
            warnings.filterwarnings("ignore", "'imghdr' is deprecated", DeprecationWarning)
            added = door.add(_with_timeouts(url))
        if not added:
            faults.append(
                f"notify.urls[{number}]: '{target_name(url)}...' is not an address notices can "
                "go to; see the Apprise library's list of services for how it is written"
            )
        doors.append(door)
    if faults:
        raise BadConfig("the list of addresses for notices", faults)
    return tuple(doors)


def _with_timeouts(url: str) -> str:
    """Let no target hold the thread for ever, unless the shop says how long."""
    for key, seconds in (("cto", CONNECT_TIMEOUT_S), ("rto", ANSWER_TIMEOUT_S)):
        if f"{key}=" not in url:
            url += f"{'&' if '?' in url else '?'}{key}={seconds}"
    return url


def _delivery(door: Apprise, target: tuple[str, str], text: tuple[str, str]) -> Delivery:
    """Try one target once."""
    name, url = target
    title, body = text
    try:
        with door.notify(body=body, title=title, body_format="text") as result:
            why = "" if result else without_secrets(_why(result), url)
    except Exception as error:  # noqa: BLE001 - a service's plugin may fail in its own ways
        why = f"its plugin failed ({type(error).__name__})"  # the message may hold secrets
    return Delivery(name, not why, why)


def _why(result: AppriseResult) -> str:
    """Return the last thing the library had to say, or how it ended."""
    said = [entry.message for one in result for entry in one.logs()]
    return said[-1] if said else f"it was not taken ({result.status.name.lower()})"
