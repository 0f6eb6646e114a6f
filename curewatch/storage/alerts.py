"""Alerts as they stand, and every phase they went through."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from curewatch.errors import BadInput
from curewatch.shop.alert import Alert, AlertKind, AlertPhase
from curewatch.shop.reading import Urgency

if TYPE_CHECKING:
    from curewatch.storage.database import Database, Row


@dataclass(frozen=True, slots=True)
class AlertEvent:
    """One step in an alert's life.

    Attributes
    ----------
    alert_id, kind, subject: which alert.
    phase: the phase it came to, or stayed in with a new reason.
    at_ms: when [ms].
    reason: what was found then.
    """

    alert_id: int
    kind: AlertKind
    subject: str
    phase: AlertPhase
    at_ms: int
    reason: str


class Alerts:
    """The alerts: one row for each as it stands, one more for each step of its life."""

    def __init__(self, db: Database) -> None:
        """Read from and write to `db`."""
        self._db = db

    def active(self) -> tuple[Alert, ...]:
        """Return the alerts that are not cleared, oldest first."""
        found = self._db.rows(f"{_SELECT} WHERE phase <> 'cleared' ORDER BY since_ms, id")
        return tuple(map(_alert, found))

    def get(self, alert_id: int) -> Alert:
        """Return one alert.

        Raises
        ------
        BadInput
            When there is none with that number.
        """
        found = self._db.row(f"{_SELECT} WHERE id = ?", (alert_id,))
        if found is None:
            raise BadInput(
                f"there is no alert with number {alert_id}: 'curewatch alert list' shows them"
            )
        return _alert(found)

    def save(self, alert: Alert, *, at_ms: int | None = None) -> Alert:
        """Keep `alert` as it stands and return it with its number.

        A step of its life is written when its phase or its reason changed. An alert that has no
        number yet takes the number of the active one with the same kind and subject.

        Parameters
        ----------
        alert
            What to keep.
        at_ms
            When it came to this [ms]; taken from the time of its phase when not given.
        """
        when = _phase_ms(alert) if at_ms is None else at_ms
        with self._db.transaction():
            before = self._before(alert)
            if before is None:
                number = self._db.insert(_INSERT, _columns(alert))
            else:
                number = before.id
                self._db.execute(_UPDATE, (*_columns(alert), number))
            if before is None or (before.phase, before.reason) != (alert.phase, alert.reason):
                self._step(number, alert.phase, when, alert.reason)
        return replace(alert, id=number)

    def mark_seen(self, alert_id: int, by: str, at_ms: int) -> Alert:
        """Write that `by` has the alert and return it so.

        Raises
        ------
        BadInput
            When there is no such alert or it is cleared.
        """
        with self._db.transaction():
            alert = self._open(alert_id)
            return self.save(
                replace(
                    alert,
                    phase=AlertPhase.SEEN,
                    seen_ms=at_ms,
                    seen_by=by,
                    rest_until_ms=None,
                ),
                at_ms=at_ms,
            )

    def rest(self, alert_id: int, until_ms: int, at_ms: int) -> Alert:
        """Put the alert aside until `until_ms` [ms] and return it so.

        Raises
        ------
        BadInput
            When there is no such alert, it is cleared, or the time to rest is over already.
        """
        if until_ms <= at_ms:
            raise BadInput("an alert can only rest until a time that is still to come")
        with self._db.transaction():
            alert = self._open(alert_id)
            return self.save(
                replace(alert, phase=AlertPhase.RESTING, rest_until_ms=until_ms), at_ms=at_ms
            )

    def history(self, *, limit: int = 100, since_ms: int = 0) -> tuple[AlertEvent, ...]:
        """Return the newest steps of all alerts' lives at or after `since_ms`, newest first."""
        found = self._db.rows(
            """
            SELECT alert, kind, subject, event.phase, at_ms, event.reason
            FROM alert_event AS event JOIN alert ON alert.id = alert
            WHERE at_ms >= ? ORDER BY at_ms DESC, event.id DESC LIMIT ?
            """,
            (since_ms, limit),
        )
        return tuple(
            AlertEvent(alert, AlertKind(kind), subject, AlertPhase(phase), at_ms, reason)
            for alert, kind, subject, phase, at_ms, reason in found
        )

    def steps_after(self, number: int, limit: int) -> tuple[tuple[int, AlertEvent], ...]:
        """Return the first steps after step `number`, each with its own number, in order."""
        found = self._db.rows(
            """
            SELECT event.id, alert, kind, subject, event.phase, at_ms, event.reason
            FROM alert_event AS event JOIN alert ON alert.id = alert
            WHERE event.id > ? ORDER BY event.id LIMIT ?
            """,
            (number, limit),
        )
        return tuple(
            (step, AlertEvent(alert, AlertKind(kind), subject, AlertPhase(phase), at_ms, reason))
            for step, alert, kind, subject, phase, at_ms, reason in found
        )

    def newest_step(self) -> int:
        """Return the number of the newest step of all alerts' lives, 0 where there is none."""
        return int(self._db.value("SELECT coalesce(max(id), 0) FROM alert_event"))

    def phase_before(self, number: int, alert_id: int) -> AlertPhase | None:
        """Return the phase an alert was in before step `number`; None before its first."""
        found = self._db.value(
            "SELECT phase FROM alert_event WHERE alert = ? AND id < ? ORDER BY id DESC LIMIT 1",
            (alert_id, number),
        )
        return None if found is None else AlertPhase(found)

    def _before(self, alert: Alert) -> Alert | None:
        """Return what is kept of `alert` so far, None when it is new."""
        if alert.id:
            return self.get(alert.id)
        found = self._db.row(
            f"{_SELECT} WHERE kind = ? AND subject = ? AND phase <> 'cleared'",
            (alert.kind, alert.subject),
        )
        return None if found is None else _alert(found)

    def _open(self, alert_id: int) -> Alert:
        """Return one alert that is not cleared."""
        alert = self.get(alert_id)
        if alert.phase == AlertPhase.CLEARED:
            raise BadInput(f"alert {alert_id} ({alert.kind}, {alert.subject}) is cleared already")
        return alert

    def _step(self, number: int, phase: AlertPhase, at_ms: int, reason: str) -> None:
        """Write one step of an alert's life."""
        self._db.insert(
            "INSERT INTO alert_event (alert, phase, at_ms, reason) VALUES (?, ?, ?, ?)",
            (number, phase, at_ms, reason),
        )


_COLUMNS = (
    "kind, subject, urgency, phase, since_ms, reason, next_action, raised_ms, seen_ms, seen_by, "
    "rest_until_ms, cleared_ms"
)
_SELECT = f"SELECT {_COLUMNS}, id FROM alert"  # noqa: S608 - constants of this module
_INSERT = f"INSERT INTO alert ({_COLUMNS}) VALUES (?,?,?,?,?,?,?,?,?,?,?,?)"  # noqa: S608 - same
_UPDATE = f"UPDATE alert SET ({_COLUMNS}) = (?,?,?,?,?,?,?,?,?,?,?,?) WHERE id = ?"  # noqa: S608 - same


def _columns(alert: Alert) -> Row:
    """Return the alert's columns in the order of `_COLUMNS`."""
    return (
        alert.kind,
        alert.subject,
        alert.urgency,
        alert.phase,
        alert.since_ms,
        alert.reason,
        alert.next_action,
        alert.raised_ms,
        alert.seen_ms,
        alert.seen_by,
        alert.rest_until_ms,
        alert.cleared_ms,
    )


def _alert(row: Row) -> Alert:
    """Return the alert of a row (`_COLUMNS`, id)."""
    kind, subject, urgency, phase, *rest = row
    return Alert(AlertKind(kind), subject, Urgency(urgency), AlertPhase(phase), *rest)


def _phase_ms(alert: Alert) -> int:
    """Return when the alert came to its phase, as far as it says so itself [ms]."""
    match alert.phase:
        case AlertPhase.RAISED:
            known = alert.raised_ms
        case AlertPhase.SEEN:
            known = alert.seen_ms
        case AlertPhase.CLEARED:
            known = alert.cleared_ms
        case AlertPhase.WATCHING:
            known = alert.since_ms
        case AlertPhase.RESTING:
            known = None
    if known is None:
        raise BadInput(
            f"alert {alert.kind} of {alert.subject} is {alert.phase} but not since when: "
            "give the time with it"
        )
    return known
