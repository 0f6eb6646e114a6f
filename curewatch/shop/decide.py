"""Alert decisions: conditions in, changed alerts out.

    phase      condition holds                   condition gone
    (none)     watching, or raised without hold  -
    watching   raised after its hold time        cleared, nobody is told
    raised     -                                 cleared
    seen       -                                 cleared
    resting    raised again when the rest ends   cleared

`seen` and `resting` are entered by people. Nothing here knows what was sent to whom: a phase that
is entered is an event, and each event is told once.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from curewatch.shop.alert import Alert, AlertKind, AlertPhase

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from curewatch.shop.conditions import Condition


def decide(
    alerts: Mapping[tuple[AlertKind, str], Alert],
    conditions: Iterable[Condition],
    now_ms: int,
) -> list[Alert]:
    """Return the alerts that changed their phase at `now_ms`, in the order of the conditions.

    Parameters
    ----------
    alerts : mapping of key to Alert
        Those not cleared, of the subjects that `conditions` speak about.
    conditions : iterable of Condition
        What holds at `now_ms`.
    now_ms : int
        The moment [ms].
    """
    holding = {condition.key: condition for condition in conditions}
    changed = [
        after
        for key, condition in holding.items()
        if (after := _holds(alerts.get(key), condition, now_ms)) is not alerts.get(key)
        and after is not None
    ]
    changed += [
        replace(alert, phase=AlertPhase.CLEARED, cleared_ms=now_ms)
        for key, alert in alerts.items()
        if key not in holding
    ]
    return changed


def _holds(alert: Alert | None, condition: Condition, now_ms: int) -> Alert | None:
    if alert is None:
        fresh = Alert(
            kind=condition.kind,
            subject=condition.subject,
            urgency=condition.urgency,
            phase=AlertPhase.WATCHING,
            since_ms=now_ms,
            reason=condition.reason,
            next_action=condition.next_action,
        )
        return fresh if condition.hold_s > 0.0 else _raised(fresh, condition, now_ms)
    match alert.phase:
        case AlertPhase.WATCHING:
            held = now_ms - alert.since_ms >= condition.hold_s * 1000.0
            return _raised(alert, condition, now_ms) if held else alert
        case AlertPhase.RESTING:
            over = alert.rest_until_ms is None or now_ms >= alert.rest_until_ms
            return _raised(alert, condition, now_ms) if over else alert
        case (
            AlertPhase.RAISED | AlertPhase.SEEN | AlertPhase.CLEARED
        ):  # pragma: no branch - there is no other
            return alert


def _raised(alert: Alert, condition: Condition, now_ms: int) -> Alert:
    return replace(
        alert,
        phase=AlertPhase.RAISED,
        urgency=condition.urgency,
        reason=condition.reason,
        next_action=condition.next_action,
        raised_ms=now_ms,
        rest_until_ms=None,
    )
