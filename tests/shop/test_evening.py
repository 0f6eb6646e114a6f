"""Until when a room is likely fit to spray."""

from __future__ import annotations

from curewatch.shop.evening import evening_of
from curewatch.shop.room import Room
from curewatch.shop.room_plan import RoomPlan
from tests.shop.scene import HOUR_MS, at_h, finish, shop_of, steady

WATERBORNE = finish("waterborne")
DAYS = 10.0
NOW_H = DAYS * 24.0 - 12.0


def evening(*plans: RoomPlan, temp_c: float = 21.0, days: float = DAYS):  # type: ignore[no-untyped-def]  # noqa: ANN201 - Evening or None
    shop = shop_of({"loft": steady(days, temp_c)}, finishes=[WATERBORNE])
    shop.plans = {"loft": plans}
    return evening_of(shop, "loft", WATERBORNE, at_h(NOW_H))


def test_a_steady_room_stays_fit_for_as_long_as_is_looked() -> None:
    steady_one = evening()
    assert steady_one.fit_until(at_h(NOW_H)) is None
    assert steady_one.fit_until(at_h(NOW_H + 300.0)) is None  # beyond what anybody can tell


def test_a_room_that_is_let_go_cold_turns_within_the_hours_it_takes() -> None:
    cold = evening(RoomPlan("loft", at_h(NOW_H + 5.0), None, temp_c=8.0))
    turns = cold.fit_until(at_h(NOW_H))
    assert turns is not None
    assert at_h(NOW_H + 5.0) <= turns <= at_h(NOW_H + 9.0)
    assert (turns - at_h(NOW_H)) % HOUR_MS == 0
    assert cold.fit_until(at_h(NOW_H + 3.5)) == turns  # the same hour, not judged again
    later = at_h(NOW_H + 12.25)
    assert cold.fit_until(later) == later  # not fit then: it turns at once


def test_hours_beyond_the_outlook_go_as_those_of_its_last_day() -> None:
    cold = evening(RoomPlan("loft", at_h(NOW_H + 5.0), None, temp_c=8.0))
    for later in (73.0, 193.0, 197.0, 500.25):
        assert cold.fit_until(at_h(NOW_H + later)) == at_h(NOW_H + later)


def test_a_room_never_heard_has_no_evening() -> None:
    shop = shop_of({}, rooms=[Room("loft")])
    assert evening_of(shop, "loft", WATERBORNE, at_h(1.0)) is None


def test_a_room_heard_long_ago_is_judged_by_its_outlook() -> None:
    assert evening(days=DAYS - 2.0) is not None
