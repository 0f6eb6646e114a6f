"""Telling: alerts brought forward minute by minute, kept, and handed on as notices and state."""

from __future__ import annotations

import hashlib
import json
import logging
import time
from typing import TYPE_CHECKING, Protocol

from curewatch.errors import StorageError, TransportError
from curewatch.outbound.notify import OutgoingNotice
from curewatch.outbound.wording import notice_text
from curewatch.shop.alert import Alert, AlertPhase
from curewatch.shop.assessment import assess_room
from curewatch.shop.climate import MINUTE_MS
from curewatch.shop.clocks import MS_PER_H
from curewatch.shop.finish import ClockName
from curewatch.shop.plain import FORMAT, instant, piece_plain, room_plain
from curewatch.shop.reading import Urgency

if TYPE_CHECKING:
    from curewatch.outbound.notify import NoticeResult, NoticeSender
    from curewatch.settings import Settings
    from curewatch.shop.assessment import PieceNow
    from curewatch.shop.plain import Plain, PlainValue
    from curewatch.shop.shop import Shop
    from curewatch.shop.watch import Watch
    from curewatch.storage import Store
    from curewatch.storage.meta import Meta

LOG = logging.getLogger("curewatch.alerts")
DAY_MS = 86_400_000
LONGEST_REPLAY_MS = 60 * DAY_MS  # of a clock that follows the readings
STANDING = "states_standing"  # topics of retained messages, as JSON
STEPPED = "stepped_ms"  # the last minute alerts were brought forward to
ROOMS_S = 0.5  # a round tells rooms no longer than that; the rest in the next
DUE_AT_ONCE = 1000  # notices looked at in a round: those held by quiet hours must not hide others


class Publisher(Protocol):
    """What publishes messages of our own: the line to the broker."""

    def publish(self, topic: str, payload: str, *, retain: bool, qos: int) -> object:
        """Send one message."""


class Alarm:
    """Brings alerts forward and writes what changed, with its notices, in one transaction."""

    def __init__(self, store: Store, shop: Shop, watch: Watch, settings: Settings) -> None:
        """Watch with `watch`, write to `store`."""
        self._store = store
        self._shop = shop
        self._watch = watch
        self._notify = settings.notify
        follows = settings.clock.source == "readings"
        self._longest_ms = LONGEST_REPLAY_MS if follows else DAY_MS
        self._tell = bool(settings.notify_urls())
        stepped = store.meta.get(STEPPED)
        self.stepped_ms = stepped if isinstance(stepped, int) else None
        self._undone = False
        self._seen_version = -1

    def bring_to(self, now_ms: int, *, again: bool = False) -> list[Alert]:
        """Step every whole minute up to `now_ms`; return the alerts that changed.

        With `again` the last minute is looked at once more: people have entered something.
        After more than a day away the minutes between are not gone through (unless the clock
        follows the readings): what is still true is told. Where the clock was set back it goes
        on from there, and does not wait until that time has come again.

        Raises
        ------
        StorageError
            When it could not be written; nothing of it counts then, and it is all done again.
        """
        if self._undone:
            self._forget_undone()
        last = now_ms // MINUTE_MS * MINUTE_MS
        if self.stepped_ms is None or last < self.stepped_ms:
            first = last
        else:
            first = max(self.stepped_ms + MINUTE_MS, last - self._longest_ms)
        if again:
            first = min(first, last)
        if first > last:
            return []
        try:
            with self._store.db.transaction():
                self._take_in_what_people_moved()
                changed = self._step(first, last)
        except StorageError:
            self._undone = True  # the watch has alerts that storage knows nothing of
            raise
        self.stepped_ms = last
        return changed

    def _forget_undone(self) -> None:
        """Let the watch stand on what storage holds again, and look at everything anew."""
        self._watch.replace_alerts(self._store.alerts.active())
        self._watch.pieces_changed()
        self._undone = False

    def _take_in_what_people_moved(self) -> None:
        """See alerts as others left them; nobody can write between here and the commit."""
        version = self._store.db.data_version()
        if version != self._seen_version:
            self._watch.replace_alerts(self._store.alerts.active())
            self._seen_version = version

    def _step(self, first_ms: int, last_ms: int) -> list[Alert]:
        changed: list[Alert] = []
        for at_ms in range(first_ms, last_ms + 1, MINUTE_MS):
            changed += [self._save(alert, at_ms) for alert in self._watch.step(at_ms)]
            if self._notify.repeat_h is not None and self._tell:
                self._repeat(at_ms)
        self._store.meta.set(STEPPED, last_ms)
        return changed

    def _save(self, alert: Alert, at_ms: int) -> Alert:
        kept = self._store.alerts.save(alert, at_ms=at_ms)
        self._watch.note(kept)
        if kept.phase is AlertPhase.RAISED:
            LOG.warning("raised %s %s (%s): %s", kept.kind, kept.subject, kept.urgency, kept.reason)
            self._enqueue(kept, f"raised {instant(kept.raised_ms)}", at_ms)
        elif kept.phase is AlertPhase.CLEARED and kept.raised_ms is not None:
            LOG.info("cleared %s %s", kept.kind, kept.subject)
        return kept

    def _repeat(self, at_ms: int) -> None:
        """Tell again what nobody has seen."""
        every_ms = round((self._notify.repeat_h or 0.0) * 3_600_000)
        for alert in self._watch.alerts():
            if alert.phase is AlertPhase.RAISED and alert.urgency is not Urgency.NOTE:
                times = (at_ms - (alert.raised_ms or at_ms)) // every_ms
                if times > 0 and (at_ms - (alert.raised_ms or at_ms)) % every_ms < MINUTE_MS:
                    self._enqueue(alert, f"repeated {instant(alert.raised_ms)} {times}", at_ms)

    def _enqueue(self, alert: Alert, event: str, at_ms: int) -> None:
        if self._tell and alert.kind not in self._notify.mute:
            title, body = notice_text(alert, self._shop.words, now_ms=at_ms)
            self._store.notices.enqueue(alert.id, event, title, body, at_ms)


class Postbox:
    """Hands due notices to the sender, minding quiet hours, and writes down what became of them."""

    def __init__(self, store: Store, settings: Settings, sender: NoticeSender | None) -> None:
        """Send through `sender`; None where no address is configured."""
        self._store = store
        self._notify = settings.notify
        self._zone = settings.zone
        self._sender = sender
        self._results: list[NoticeResult] = []  # not written down yet

    def work(self, now_ms: int) -> None:
        """Write down results, then offer what is due."""
        if self._sender is None:
            return
        self._results += self._sender.results()
        if self._results:
            with self._store.db.transaction():
                for result in self._results:
                    if result.delivered:
                        self._store.notices.sent(result.id, now_ms)
                    else:
                        wait_ms = round((result.retry_in_s or 0.0) * 1000.0)
                        self._store.notices.failed(result.id, result.error, now_ms + wait_ms)
            self._results.clear()
        held = {
            urgency: self._notify.held_until_ms(urgency, now_ms, zone=self._zone) is not None
            for urgency in Urgency
        }
        for notice in self._store.notices.due(now_ms, DUE_AT_ONCE):
            if not held[self._urgency(notice.alert_id)]:
                self._sender.offer(OutgoingNotice(notice.id, notice.title, notice.body))

    def _urgency(self, alert_id: int) -> Urgency:
        return self._store.alerts.get(alert_id).urgency if alert_id > 0 else Urgency.NOTE


class StateBoard:
    """Publishes the standing of rooms and pieces as retained messages.

    A room is judged when a reading of it came and each minute, a piece when the watch looked at
    it; what has not changed is not sent again. What goes out stands in docs/mqtt.md.
    """

    def __init__(
        self, shop: Shop, watch: Watch, *, site: str, line: Publisher, meta: Meta | None = None
    ) -> None:
        """Publish under `curewatch/<site>/`; note in `meta` what stands there over restarts."""
        self._shop = shop
        self._watch = watch
        self._root = f"curewatch/{site}"
        self._line = line
        self._said: dict[str, bytes] = {}  # a digest of each state: thousands of pieces may hang
        self._generation = 0
        self._judged: dict[str, tuple[int, int | None]] = {}
        self._next_room = 0  # counted on over the rounds
        self._looked: dict[str, None] = {}  # tags in order, to be said
        self._meta = meta
        # Whole topics whose message may stand at the broker, those of earlier runs too.
        self._standing: set[str] = set(_noted(meta))

    def tell(self, now_ms: int, *, generation: int) -> None:
        """Publish what is new; everything again on a new connection."""
        if generation != self._generation:
            self._said.clear()
            self._judged.clear()
            self._looked.update(dict.fromkeys(self._watch.pieces_now))
            self._generation = generation
        self._looked.update(dict.fromkeys(sorted(self._watch.looked)))
        self._watch.looked.clear()
        self._note_standing()
        try:
            self._tell_rooms(now_ms)
            for tag in list(self._looked):
                self._tell_piece(tag)
                del self._looked[tag]
            self._take_down()
        except TransportError as error:
            LOG.debug("state not published: %s", error)

    def _tell_rooms(self, now_ms: int) -> None:
        """Tell the rooms, those left over from the last round first; not all at any price.

        What is cold costs a lacquer's hours ahead a tenth of a second, and readings wait meanwhile.
        """
        until_s = time.monotonic() + ROOMS_S
        rooms = [*self._shop.rooms]
        for _ in rooms:
            self._tell_room(rooms[self._next_room % len(rooms)], now_ms)
            self._next_room += 1
            if time.monotonic() > until_s:
                return

    def _tell_room(self, room: str, now_ms: int) -> None:
        judged = (now_ms // MINUTE_MS, self._shop.book.frontier_ms(room))
        if self._judged.get(room) == judged:
            return
        state = room_plain(assess_room(self._shop, room, now_ms))
        self._say(f"room/{room}", _bare(state), now_ms)
        self._judged[room] = judged

    def _tell_piece(self, tag: str) -> None:
        now = self._watch.pieces_now.get(tag)
        if now is not None:
            self._say(f"piece/{tag}", _bare(piece_plain(now)), judged_ms(now))

    def _say(self, topic: str, state: Plain, at_ms: int | None) -> None:
        digest = hashlib.blake2b(json.dumps(state).encode(), digest_size=16).digest()
        if self._said.get(topic) != digest:
            self._send(topic, _stated({"at": instant(at_ms), **state}), retain=True)
            self._said[topic] = digest

    def _send(self, topic: str, state: Plain, *, retain: bool) -> None:
        payload = json.dumps(state, separators=(",", ":"))
        self._publish(f"{self._root}/{topic}", payload, retain=retain)

    def _publish(self, topic: str, payload: str, *, retain: bool) -> None:
        """Send one message; one that can never be sent holds up no other."""
        try:
            self._line.publish(topic, payload, retain=retain, qos=1)
        except TransportError as error:
            if error.retry:
                raise
            LOG.error("not published, and not tried again: %s", error)  # noqa: TRY400 - the sentence says it all

    def _wanted(self) -> set[str]:
        """Return the topics of what is there now."""
        rooms = (f"{self._root}/room/{name}" for name in self._shop.rooms)
        return {*rooms, *(f"{self._root}/piece/{tag}" for tag in self._shop.pieces)}

    def _note_standing(self) -> None:
        """Write down what will stand at the broker, before it does."""
        new = self._wanted() - self._standing
        if new:
            self._write_standing(self._standing | new)

    def _take_down(self) -> None:
        """Clear the retained messages of pieces that left, rooms that are gone, another site."""
        gone = self._standing - self._wanted()
        for topic in sorted(gone):
            self._publish(topic, "", retain=True)
            self._said.pop(topic.removeprefix(f"{self._root}/"), None)
        if gone:
            self._write_standing(self._standing - gone)

    def _write_standing(self, standing: set[str]) -> None:
        """Write down what stands, and go by it once that is taken."""
        if self._meta is not None:
            self._meta.set(STANDING, json.dumps(sorted(standing)))
        self._standing = standing


def _noted(meta: Meta | None) -> list[str]:
    """Return the topics that stood at the end of the last run."""
    noted = None if meta is None else meta.get(STANDING)
    return list(json.loads(noted)) if isinstance(noted, str) else []


def judged_ms(now: PieceNow) -> int | None:
    """Return when a piece was looked at [ms]; None before its first coat, when nothing moves."""
    wall = now.clocks.get(ClockName.WALL)
    if wall is None or now.last_coat_at is None:
        return None
    return now.last_coat_at + round(wall.effective_hours * MS_PER_H)


def _bare(plain: Plain) -> Plain:
    """Return the numbers without where each comes from: that is most of it, and seldom new.

    Whoever wants it asks the page's interface or a command with `--json`.
    """
    return {
        key: _bared(value)
        for key, value in plain.items()
        if key != "standing" or not isinstance(value, dict)
    }


def _bared(value: PlainValue) -> PlainValue:
    match value:
        case dict():
            return _bare(value)
        case list():
            return [_bared(one) for one in value]
        case _:
            return value


def _stated(plain: Plain) -> Plain:
    return {"format": FORMAT, **plain}
