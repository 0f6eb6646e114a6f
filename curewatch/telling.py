"""Telling: alerts brought forward minute by minute, kept, and handed on as notices and state."""

from __future__ import annotations

import json
import logging
from typing import TYPE_CHECKING, Protocol

from curewatch.errors import TransportError
from curewatch.outbound.notify import OutgoingNotice
from curewatch.outbound.wording import notice_text
from curewatch.shop.alert import Alert, AlertPhase
from curewatch.shop.assessment import assess_room
from curewatch.shop.climate import MINUTE_MS
from curewatch.shop.plain import FORMAT, alert_plain, instant, piece_plain, room_plain
from curewatch.shop.reading import Urgency

if TYPE_CHECKING:
    from curewatch.outbound.notify import NoticeSender
    from curewatch.settings import Settings
    from curewatch.shop.plain import Plain
    from curewatch.shop.shop import Shop
    from curewatch.shop.watch import Watch
    from curewatch.storage import Store

LOG = logging.getLogger("curewatch.alerts")
DAY_MS = 86_400_000
STEPPED = "stepped_ms"  # the last minute alerts were brought forward to


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
        self._tell = bool(settings.notify_urls())
        stepped = store.meta.get(STEPPED)
        self.stepped_ms = stepped if isinstance(stepped, int) else None

    def bring_to(self, now_ms: int, *, again: bool = False) -> list[Alert]:
        """Step every whole minute up to `now_ms`; return the alerts that changed.

        With `again` the last minute is looked at once more: people have entered something.
        After more than a day away the minutes between are not replayed: what is still true is
        told, what came and went is in the record.
        """
        last = now_ms // MINUTE_MS * MINUTE_MS
        first = last if self.stepped_ms is None else self.stepped_ms + MINUTE_MS
        first = max(first, last - DAY_MS)
        if again:
            first = min(first, last)
        if first > last:
            return []
        changed: list[Alert] = []
        with self._store.db.transaction():
            for at_ms in range(first, last + 1, MINUTE_MS):
                changed += [self._save(alert, at_ms) for alert in self._watch.step(at_ms)]
                if self._notify.repeat_h is not None and self._tell:
                    self._repeat(at_ms)
            self._store.meta.set(STEPPED, last)
        self.stepped_ms = last
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

    def work(self, now_ms: int) -> None:
        """Write down results, then offer what is due."""
        if self._sender is None:
            return
        results = self._sender.results()
        if results:
            with self._store.db.transaction():
                for result in results:
                    if result.delivered:
                        self._store.notices.sent(result.id, now_ms)
                    else:
                        wait_ms = round((result.retry_in_s or 0.0) * 1000.0)
                        self._store.notices.failed(result.id, result.error, now_ms + wait_ms)
        for notice in self._store.notices.due(now_ms):
            held = self._notify.held_until_ms(
                self._urgency(notice.alert_id), now_ms, zone=self._zone
            )
            if held is None:
                self._sender.offer(OutgoingNotice(notice.id, notice.title, notice.body))

    def _urgency(self, alert_id: int) -> Urgency:
        return self._store.alerts.get(alert_id).urgency if alert_id > 0 else Urgency.NOTE


class StateBoard:
    """Publishes the standing of rooms and pieces as retained messages, and alerts as they come."""

    def __init__(self, shop: Shop, watch: Watch, *, site: str, line: Publisher) -> None:
        """Publish under `curewatch/<site>/`."""
        self._shop = shop
        self._watch = watch
        self._root = f"curewatch/{site}"
        self._line = line
        self._said: dict[str, str] = {}
        self._generation = 0
        self._alerts: list[Alert] = []

    def tell(self, now_ms: int, *, generation: int, changed: list[Alert]) -> None:
        """Publish what is new; everything again on a new connection."""
        if generation != self._generation:
            self._said.clear()
            self._generation = generation
        self._alerts += [alert for alert in changed if alert.raised_ms is not None]
        try:
            while self._alerts:
                self._event(self._alerts[0])
                del self._alerts[0]
            for room in self._shop.rooms:
                now = assess_room(self._shop, room, now_ms)
                self._say(f"room/{room}", _stated(room_plain(now)))
            for tag, piece in self._watch.pieces_now.items():
                self._say(f"piece/{tag}", _stated(piece_plain(piece)))
            self._take_down()
        except TransportError as error:
            LOG.debug("state not published: %s", error)

    def _say(self, topic: str, state: Plain) -> None:
        payload = json.dumps(state, separators=(",", ":"))
        if self._said.get(topic) != payload:
            self._line.publish(f"{self._root}/{topic}", payload, retain=True, qos=1)
            self._said[topic] = payload

    def _event(self, alert: Alert) -> None:
        payload = json.dumps(_stated(alert_plain(alert)), separators=(",", ":"))
        self._line.publish(f"{self._root}/alert", payload, retain=False, qos=1)

    def _take_down(self) -> None:
        """Clear the retained message of a piece that left."""
        held = {f"piece/{tag}" for tag in self._watch.pieces_now}
        for topic in [t for t in self._said if t.startswith("piece/") and t not in held]:
            self._line.publish(f"{self._root}/{topic}", "", retain=True, qos=1)
            del self._said[topic]


def _stated(plain: Plain) -> Plain:
    return {"format": FORMAT, **plain}
