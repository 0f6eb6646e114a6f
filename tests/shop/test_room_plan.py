from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.errors import BadInput
from curewatch.shop.clocks import MS_PER_H
from curewatch.shop.room_plan import (
    LEAST_TEMP_C,
    MOST_TEMP_C,
    RoomPlan,
    known_plans,
    planned_climate,
)

HOUR_MS = int(MS_PER_H)
NOW_MS = 1_000 * HOUR_MS


def test_a_plan_is_handed_to_the_outlook_in_hours_from_its_start() -> None:
    off = RoomPlan("loft", NOW_MS + 6 * HOUR_MS, NOW_MS + 60 * HOUR_MS, temp_c=5.0, left_alone=True)
    dry = RoomPlan("loft", NOW_MS - 2 * HOUR_MS, None, rh_frac=0.45)
    first, second = planned_climate([off, dry], NOW_MS)
    assert (first.start_h, first.stop_h, first.temp_c, first.rh_frac) == (6.0, 60.0, 5.0, None)
    assert (second.start_h, second.stop_h, second.rh_frac) == (-2.0, math.inf, 0.45)
    assert (first.free, second.free) == (True, False)
    assert first.settling_h > 0.0  # no room jumps to its new temperature


def test_a_plan_that_is_over_is_left_out_and_the_order_is_kept() -> None:
    over = RoomPlan("loft", NOW_MS - 5 * HOUR_MS, NOW_MS, temp_c=5.0)
    ends = RoomPlan("loft", NOW_MS - 5 * HOUR_MS, NOW_MS + 1, temp_c=6.0)
    later = RoomPlan("loft", 0, None, temp_c=7.0)
    found = planned_climate([over, ends, later], NOW_MS)
    assert [change.temp_c for change in found] == [6.0, 7.0]
    assert planned_climate([], NOW_MS) == ()


def test_what_is_kept_to_one_side_only_is_handed_on_as_such() -> None:
    heater = RoomPlan("loft", 0, temp_c=20.0, temp_at_least=True)
    dryer = RoomPlan("loft", 0, rh_frac=0.45, rh_at_most=True)
    found = planned_climate([heater, dryer, RoomPlan("loft", 0, temp_c=20.0)], NOW_MS)
    assert [(one.temp_at_least, one.rh_at_most) for one in found] == [
        (True, False),
        (False, True),
        (False, False),
    ]


def test_what_people_said_later_was_not_known_before() -> None:
    always = RoomPlan("loft", 0, temp_c=20.0)
    before, after = (RoomPlan("loft", 0, temp_c=9.0, entered_ms=at_ms) for at_ms in (50, 51))
    assert known_plans([always, before, after], 50) == (always, before)


@pytest.mark.parametrize(
    ("given_", "complaint"),
    [
        ({"stop_ms": 10, "temp_c": 20.0}, "would stop before it starts"),
        ({"stop_ms": 9, "temp_c": 20.0}, "would stop before it starts"),
        ({}, "say what the room will be like"),
        ({"temp_c": MOST_TEMP_C + 0.1}, "no temperature of a room: check the unit"),
        ({"temp_c": LEAST_TEMP_C - 0.1}, "no temperature of a room"),
        ({"temp_c": math.nan}, "no temperature of a room"),
        ({"rh_frac": 45.0}, "4500 % is no relative humidity"),
        ({"rh_frac": -0.01}, "no relative humidity"),
        ({"rh_frac": math.nan}, "no relative humidity"),
        ({"temp_c": 5.0, "left_alone": True, "temp_at_least": True}, "nothing keeps the room"),
    ],
)
def test_what_cannot_be_meant_is_refused(given_: dict[str, float], complaint: str) -> None:
    with pytest.raises(BadInput, match=complaint):
        RoomPlan("loft", 10, **given_)  # type: ignore[arg-type]


@given(
    temp_c=st.floats(LEAST_TEMP_C, MOST_TEMP_C),
    rh_frac=st.none() | st.floats(0.0, 1.0),
    start_h=st.integers(-1000, 1000),
    length_h=st.none() | st.integers(1, 1000),
)
def test_every_plan_that_can_be_made_is_one_that_the_outlook_takes(
    temp_c: float, rh_frac: float | None, start_h: int, length_h: int | None
) -> None:
    start_ms = NOW_MS + start_h * HOUR_MS
    stop_ms = None if length_h is None else start_ms + length_h * HOUR_MS
    found = planned_climate([RoomPlan("loft", start_ms, stop_ms, temp_c, rh_frac)], NOW_MS)
    over = length_h is not None and start_h + length_h <= 0
    assert len(found) == (0 if over else 1)
    assert all(change.start_h < change.stop_h for change in found)
