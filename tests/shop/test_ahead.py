"""When hours will likely have been earned, by the room's own outlook and its plans."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from curewatch.shop.ahead import Eta, ahead_in, law_ahead, outlook_start_ms
from curewatch.shop.finish import ClockName
from curewatch.shop.laws import law_for
from curewatch.shop.room import Room
from curewatch.shop.room_plan import RoomPlan
from tests.shop.scene import HOUR_MS, T0_MS, at_h, block, every, finish, readings, shop_of, steady

if TYPE_CHECKING:
    from curewatch.shop.climate import Series
    from curewatch.shop.clocks import RateLaw
    from curewatch.shop.reading import Quantity

WATERBORNE = finish("waterborne")
MINUTE_MS = 60_000


def law_of(clock: ClockName) -> RateLaw:
    found = law_for(WATERBORNE, clock, Room("loft"))
    assert found is not None
    return found


CURE, DRYING = law_of(ClockName.CURE), law_of(ClockName.DRYING)


def swinging(days: float) -> dict[tuple[str, Quantity], Series]:
    hours = every(10.0, days * 24.0)
    return readings(hours, 18.0 + 4.0 * np.sin(hours / 24.0 * 2.0 * np.pi), 0.5)


def test_in_a_steady_room_the_likely_time_is_the_rest_of_the_hours() -> None:
    shop = shop_of({"loft": steady(20.0)})
    ahead = law_ahead(shop, "loft", CURE, at_h(48.3))
    assert ahead is not None
    eta = ahead.when(at_h(48.3), 47.7)
    assert eta.early is not None
    assert eta.likely is not None
    assert eta.late is not None
    assert eta.early < eta.likely < eta.late
    assert eta.likely == pytest.approx(at_h(96.0), abs=HOUR_MS // 4)
    assert not ahead.planned


def test_an_outlook_is_taken_at_a_whole_hour_whose_readings_have_settled() -> None:
    assert outlook_start_ms(at_h(48.49)) == at_h(47.0)
    assert outlook_start_ms(at_h(48.5)) == at_h(48.0)
    shop = shop_of({"loft": swinging(20.0)})
    hour = [law_ahead(shop, "loft", CURE, at_h(h)) for h in (48.5, 48.9, 49.4, 49.5)]
    assert hour[0] is hour[1] is hour[2]
    assert hour[3] is not hour[0]
    assert hour[3] is not None
    assert hour[3].start_ms == at_h(49.0)


def test_an_outlook_is_the_same_whatever_came_after_its_hour() -> None:
    whole = swinging(20.0)
    known = {key: (t[t <= at_h(200.6)], v[t <= at_h(200.6)]) for key, (t, v) in whole.items()}
    looks = [
        law_ahead(shop_of({"loft": record}), "loft", CURE, at_h(200.9)) for record in (whole, known)
    ]
    assert looks[0] is not None
    assert looks[1] is not None
    assert looks[0].start_ms == looks[1].start_ms == at_h(200.0)
    assert np.array_equal(looks[0].outlook.most_h, looks[1].outlook.most_h)


def test_a_late_reading_before_its_hour_makes_an_outlook_anew_and_one_after_it_does_not() -> None:
    shop = shop_of({"loft": steady(20.0, 18.0)})
    before = law_ahead(shop, "loft", CURE, at_h(300.0))
    assert before is not None
    shop.book.splice("loft", block(steady(20.0, 24.0), first_minute=at_h(299.8) // MINUTE_MS))
    assert law_ahead(shop, "loft", CURE, at_h(300.0)) is before
    shop.book.splice("loft", block(steady(20.0, 24.0), first_minute=at_h(270.0) // MINUTE_MS))
    after = law_ahead(shop, "loft", CURE, at_h(300.0))
    assert after is not None
    assert after.gained(at_h(300.0), at_h(310.0)) > before.gained(at_h(300.0), at_h(310.0))


def test_a_plan_is_obeyed_from_its_hour_on_and_forgotten_when_it_is_taken_back() -> None:
    shop = shop_of({"loft": steady(20.0)})
    alone = law_ahead(shop, "loft", CURE, at_h(240.0))
    shop.plans = {"loft": (RoomPlan("loft", at_h(250.0), at_h(300.0), temp_c=8.0),)}
    cold = law_ahead(shop, "loft", CURE, at_h(240.0))
    assert alone is not None
    assert cold is not None
    assert cold.planned
    for start, stop, less in ((240.0, 249.0, 0.0), (262.0, 300.0, 30.0), (330.0, 350.0, 0.0)):
        stretch = at_h(start), at_h(stop)
        lost = float(alone.earned(*stretch).likely) - float(cold.earned(*stretch).likely)
        assert lost == pytest.approx(less, abs=0.3) if not less else lost > less
    shop.plans = {"attic": shop.plans["loft"]}
    again = law_ahead(shop, "loft", CURE, at_h(240.0))
    assert again is not None
    assert not again.planned
    assert np.array_equal(again.outlook.likely_h, alone.outlook.likely_h)


def test_a_plan_that_is_over_says_nothing_more() -> None:
    shop = shop_of({"loft": steady(20.0)})
    shop.plans = {"loft": (RoomPlan("loft", at_h(10.0), at_h(20.0), temp_c=8.0),)}
    ahead = law_ahead(shop, "loft", CURE, at_h(240.0))
    assert ahead is not None
    assert not ahead.planned


def test_a_plan_moves_the_drying_clock_by_its_humidity() -> None:
    shop = shop_of({"loft": steady(20.0)})
    shop.plans = {"loft": (RoomPlan("loft", at_h(240.0), rh_frac=0.95),)}
    ahead = law_ahead(shop, "loft", DRYING, at_h(240.0))
    assert ahead is not None
    assert float(ahead.earned(at_h(250.0), at_h(260.0)).likely) < 5.0


def test_a_room_without_a_whole_hour_behind_it_gives_what_its_minutes_say() -> None:
    shop = shop_of({"loft": steady(20.0)})
    first = law_ahead(shop, "loft", CURE, at_h(0.4))
    assert first is not None
    assert first.first_hour
    assert first.start_ms == at_h(0.4)
    assert float(first.earned(at_h(1.0), at_h(2.0)).likely) == pytest.approx(1.0, abs=0.01)
    later = law_ahead(shop, "loft", CURE, at_h(1.5))
    assert later is not None
    assert not later.first_hour


def test_where_nothing_was_ever_heard_or_nothing_counts_nothing_is_told() -> None:
    shop = shop_of({"loft": steady(5.0), "cellar": {}, "dry": steady(5.0, rh_frac=None)})
    assert law_ahead(shop, "cellar", CURE, at_h(48.0)) is None
    assert law_ahead(shop, "dry", DRYING, at_h(48.0)) is None
    assert law_ahead(shop, "loft", DRYING, T0_MS) is None


def test_a_silent_room_goes_on_from_where_it_fell_silent() -> None:
    shop = shop_of({"loft": steady(5.0)})
    ahead = ahead_in(shop, at_h(200.0))("loft", CURE)
    assert ahead is not None
    assert ahead.start_ms == at_h(119.0)
    eta = ahead.when(at_h(200.0), 10.0)
    assert eta.likely == pytest.approx(at_h(210.0), abs=HOUR_MS // 4)


def test_what_is_earned_already_is_due_now_and_what_never_comes_has_no_time() -> None:
    shop = shop_of({"loft": steady(20.0), "cold": steady(20.0, 2.0)})
    warm, cold = (law_ahead(shop, room, CURE, at_h(240.0)) for room in ("loft", "cold"))
    assert warm is not None
    assert cold is not None
    assert warm.when(at_h(240.0), 0.0) == Eta(at_h(240.0), at_h(240.0), at_h(240.0))
    assert not cold.when(at_h(240.0), 100.0).told
    far = warm.when(at_h(240.0), 24.0 * 59.9)
    assert far.likely is not None
    assert far.late is None


def test_the_three_ends_keep_their_order_whatever_is_asked() -> None:
    shop = shop_of({"loft": swinging(40.0)})
    ahead = law_ahead(shop, "loft", CURE, at_h(900.0))
    assert ahead is not None
    for hours in np.linspace(0.1, 400.0, 60):
        eta = ahead.when(at_h(900.7), float(hours))
        assert eta.early is not None
        assert eta.likely is not None
        assert at_h(900.7) <= eta.early <= eta.likely <= (eta.late or eta.likely)
