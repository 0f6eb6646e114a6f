from __future__ import annotations

from dataclasses import replace

import pytest

from curewatch.shop.alert import Alert, AlertKind, AlertPhase
from curewatch.shop.conditions import Condition
from curewatch.shop.decide import decide
from curewatch.shop.reading import Urgency
from tests.shop.scene import T0_MS, at_h

WATCHING, RAISED, SEEN, RESTING, CLEARED = AlertPhase
HELD = Condition(
    AlertKind.FILM_COLD, "room:loft#waterborne", Urgency.NOW, "cold film", "warm the room", 600.0
)
AT_ONCE = replace(HELD, hold_s=0.0)
ALERT = Alert(
    kind=HELD.kind,
    subject=HELD.subject,
    urgency=Urgency.NOTE,
    phase=WATCHING,
    since_ms=T0_MS,
    reason="as first found",
    next_action="as first said",
    id=7,
)


def stands(phase: AlertPhase, **changes: int | None) -> dict[tuple[AlertKind, str], Alert]:
    return {ALERT.key: replace(ALERT, phase=phase, **changes)}  # type: ignore[arg-type]


def phases(changed: list[Alert]) -> list[AlertPhase]:
    return [alert.phase for alert in changed]


# ---- nothing told yet


def test_a_condition_with_a_hold_time_is_watched_first() -> None:
    (watched,) = decide({}, [HELD], at_h(1.0))
    assert (watched.phase, watched.since_ms, watched.raised_ms) == (WATCHING, at_h(1.0), None)
    assert (watched.reason, watched.next_action) == ("cold film", "warm the room")
    assert watched.urgency is Urgency.NOW


def test_a_condition_without_a_hold_time_is_raised_at_once() -> None:
    (raised,) = decide({}, [AT_ONCE], at_h(1.0))
    assert (raised.phase, raised.since_ms, raised.raised_ms) == (RAISED, at_h(1.0), at_h(1.0))


def test_where_nothing_holds_and_nothing_was_told_nothing_changes() -> None:
    assert decide({}, [], at_h(1.0)) == []


# ---- watching


def test_a_watched_condition_is_raised_when_its_hold_time_is_over_and_not_before() -> None:
    assert decide(stands(WATCHING), [HELD], T0_MS + 599_999) == []
    (raised,) = decide(stands(WATCHING), [HELD], T0_MS + 600_000)
    assert (raised.phase, raised.raised_ms, raised.since_ms) == (RAISED, T0_MS + 600_000, T0_MS)
    assert (raised.reason, raised.urgency, raised.id) == ("cold film", Urgency.NOW, 7)


def test_a_watched_condition_that_goes_is_cleared_without_ever_being_raised() -> None:
    (cleared,) = decide(stands(WATCHING), [], at_h(0.1))
    assert (cleared.phase, cleared.cleared_ms, cleared.raised_ms) == (CLEARED, at_h(0.1), None)


def test_a_condition_that_comes_back_is_held_from_its_return() -> None:
    (again,) = decide({}, [HELD], at_h(0.2))
    assert again.since_ms == at_h(0.2)


# ---- raised, seen


@pytest.mark.parametrize("phase", [RAISED, SEEN])
def test_what_is_raised_or_seen_says_nothing_more_while_it_holds(phase: AlertPhase) -> None:
    assert decide(stands(phase, raised_ms=T0_MS), [HELD], at_h(9.0)) == []


@pytest.mark.parametrize("phase", [RAISED, SEEN, RESTING])
def test_what_was_told_is_cleared_when_its_condition_goes(phase: AlertPhase) -> None:
    (cleared,) = decide(stands(phase, raised_ms=T0_MS), [], at_h(2.0))
    assert (cleared.phase, cleared.raised_ms, cleared.cleared_ms) == (CLEARED, T0_MS, at_h(2.0))


def test_an_alert_that_storage_still_calls_cleared_is_left_alone() -> None:
    assert decide(stands(CLEARED), [HELD], at_h(2.0)) == []


# ---- resting


def test_a_resting_alert_speaks_again_when_its_rest_ends() -> None:
    resting = stands(RESTING, raised_ms=T0_MS, rest_until_ms=at_h(4.0))
    assert decide(resting, [HELD], at_h(4.0) - 1) == []
    (raised,) = decide(resting, [HELD], at_h(4.0))
    assert (raised.phase, raised.raised_ms, raised.rest_until_ms) == (RAISED, at_h(4.0), None)


def test_a_rest_without_an_end_is_over_at_once() -> None:
    assert phases(decide(stands(RESTING), [HELD], at_h(1.0))) == [RAISED]


# ---- several


def test_each_subject_has_an_alert_of_its_own() -> None:
    other = replace(HELD, subject="room:oven#waterborne", hold_s=0.0)
    changed = decide(stands(RAISED), [other], at_h(1.0))
    assert [(a.subject, a.phase) for a in changed] == [
        (other.subject, RAISED),
        (HELD.subject, CLEARED),
    ]
