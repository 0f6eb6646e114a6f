"""Alerts on MQTT: each step of their lives as an event, and those that stand as a retained list.

Events are sent from stored steps after a mark, which moves on once the broker has taken them: what
happened while the line or the daemon was away is said afterwards, at least once and in order. The
list is what a lamp that was just switched on needs; an event is what a siren wants to hear.
"""

from __future__ import annotations

import json
import logging
from collections import deque
from typing import TYPE_CHECKING, Protocol

from curewatch.errors import TransportError
from curewatch.shop.alert import AlertPhase
from curewatch.shop.climate import MINUTE_MS
from curewatch.shop.plain import FORMAT, alert_plain, instant
from curewatch.shop.reading import Urgency

if TYPE_CHECKING:
    from collections.abc import Sequence

    from curewatch.shop.alert import Alert
    from curewatch.shop.plain import Plain
    from curewatch.storage import Store
    from curewatch.storage.alerts import AlertEvent

LOG = logging.getLogger("curewatch.alerts")
MARK = "alerts_told"  # the newest step that the broker has
MOST_WAITING = 1000  # steps; what is older is in the list of alerts alone
AT_ONCE = 100  # steps in one round
MOST_LISTED = 100  # alerts in the retained list; a broker's packets have their limit
CALLS = (Urgency.NOW, Urgency.TODAY, Urgency.NOTE)  # the most urgent first
QUIET = "quiet"


class Sent(Protocol):
    """A message on its way."""

    @property
    def settled(self) -> bool:
        """Whether the broker has taken or refused it."""


class Line(Protocol):
    """What publishes messages of our own: the line to the broker."""

    def publish(self, topic: str, payload: str, *, retain: bool, qos: int) -> Sent:
        """Send one message."""


class AlertBoard:
    """Says what became of alerts under `curewatch/<site>/alert`, and which stand."""

    def __init__(self, store: Store, *, site: str, line: Line) -> None:
        """Begin where the mark stands; in a file that has none, with what comes from now on."""
        self._store = store
        self._root = f"curewatch/{site}"
        self._line = line
        newest = store.alerts.newest_step()
        mark = store.meta.get(MARK)
        self._told = mark if isinstance(mark, int) else newest
        if mark is None:
            store.meta.set(MARK, newest)
        self._offered = self._told
        self._under_way: deque[tuple[int, Sent | None]] = deque()
        self._generation = 0
        self._listed: str | None = None
        self._looked: tuple[int, int] | None = None  # newest step and minute of the list

    def tell(self, now_ms: int, *, generation: int) -> None:
        """Say what is new; on a new connection again what the broker has not acknowledged.

        Raises
        ------
        StorageError
            When the mark cannot be written; it is said again then.
        """
        if generation != self._generation:
            self._under_way.clear()
            self._offered = self._told
            self._listed = self._looked = None
            self._generation = generation
        self._move_mark()
        try:
            self._say_steps()
            self._say_list(now_ms)
        except TransportError as error:
            LOG.debug("alerts not published: %s", error)

    def _move_mark(self) -> None:
        told = self._told
        while self._under_way and (self._under_way[0][1] is None or self._under_way[0][1].settled):
            told, _ = self._under_way.popleft()
        if told != self._told:
            self._store.meta.set(MARK, told)
            self._told = told

    def _say_steps(self) -> None:
        newest = self._store.alerts.newest_step()
        after = max(self._offered, newest - MOST_WAITING)
        if newest <= after:
            return
        for number, step in self._store.alerts.steps_after(after, AT_ONCE):
            alert = self._store.alerts.get(step.alert_id)
            sent = None
            if alert.raised_ms is not None and self._is_news(number, step):
                sent = self._send("alert", event_plain(alert, step), retain=False)
            self._under_way.append((number, sent))
            self._offered = number

    def _is_news(self, number: int, step: AlertEvent) -> bool:
        """Whether an alert came to another phase: one that only has a new reason calls nobody."""
        before = self._store.alerts.phase_before(number, step.alert_id)
        return step.phase is not AlertPhase.WATCHING and step.phase is not before

    def _say_list(self, now_ms: int) -> None:
        looked = (self._store.alerts.newest_step(), now_ms // MINUTE_MS)
        if looked == self._looked:
            return
        standing = list_plain(self._store.alerts.active())
        text = json.dumps(standing)
        if text != self._listed:
            self._send("alerts", {"at": instant(now_ms), **standing}, retain=True)
            self._listed = text
        self._looked = looked

    def _send(self, topic: str, plain: Plain, *, retain: bool) -> Sent | None:
        """Send one message; one that can never be sent holds up no other."""
        payload = json.dumps({"format": FORMAT, **plain}, separators=(",", ":"))
        try:
            return self._line.publish(f"{self._root}/{topic}", payload, retain=retain, qos=1)
        except TransportError as error:
            if error.retry:
                raise
            LOG.error("not published, and not tried again: %s", error)  # noqa: TRY400 - the sentence says it all
            return None


def event_plain(alert: Alert, step: AlertEvent) -> Plain:
    """Return a step of an alert's life: the alert as it stands, in the phase it came to then."""
    plain = alert_plain(alert)
    plain |= {"phase": step.phase.value, "reason": step.reason}
    return {"at": instant(step.at_ms), **plain}


def list_plain(active: Sequence[Alert]) -> Plain:
    """Return the alerts that were raised and are not over, the most urgent first.

    `call` is the most urgent of those that nobody has taken or put aside, in a word.
    """
    standing = [alert for alert in active if alert.phase is not AlertPhase.WATCHING]
    standing.sort(key=lambda alert: (CALLS.index(alert.urgency), alert.raised_ms or 0, alert.id))
    waiting = [alert for alert in standing if alert.phase is AlertPhase.RAISED]
    return {
        "call": waiting[0].urgency.value if waiting else QUIET,
        "raised": {call.value: sum(a.urgency is call for a in waiting) for call in CALLS},
        "standing": len(standing),
        "alerts": [alert_plain(alert) for alert in standing[:MOST_LISTED]],
    }
