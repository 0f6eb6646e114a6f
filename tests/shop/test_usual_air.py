"""A room's last days as stretches of ten minutes, and how long a day of rates takes."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.science.kinetics import CureLaw
from curewatch.shop.clocks import RateLaw
from curewatch.shop.laws import cure_law
from curewatch.shop.usual_air import CELLS, DAYS, DayHours, day_rates, hours_until, usual_air
from curewatch.shop.what_if import Air
from curewatch.shop.words import Words
from tests.shop.scene import at_h, every, finish, readings, shop_of, steady

LAW = cure_law(finish("nitro-lacquer")) or RateLaw(CureLaw(0.0))


def test_a_room_that_was_never_heard_has_unknown_days() -> None:
    usual = usual_air(None, at_h(48.0))
    assert usual.known_pct == 0.0
    assert len(usual.at_ms) == DAYS * CELLS
    assert day_rates(LAW, usual.air) is None


def test_only_what_was_measured_counts() -> None:
    shop = shop_of({"loft": steady(2.0, 20.0)})
    usual = usual_air(shop.book.climates["loft"], at_h(48.0))
    assert usual.known_pct == pytest.approx(100.0 * 2 / DAYS, abs=0.1)
    assert np.nanmax(usual.air.temp_c) == np.nanmin(usual.air.temp_c) == pytest.approx(20.0)
    assert usual.at_ms[-1] == at_h(48.0) - 5 * 60_000


def test_a_room_without_a_hygrometer_has_no_humidity() -> None:
    shop = shop_of({"loft": steady(2.0, 20.0, None)})
    air = usual_air(shop.book.climates["loft"], at_h(48.0)).air
    assert np.isnan(air.rh_frac).all()
    assert air.mean_temp_c() == pytest.approx(20.0)


def test_hours_of_the_day_may_pass_midnight() -> None:
    day, night = DayHours(8 * 60, 18 * 60), DayHours(18 * 60, 8 * 60)
    for minute in range(0, 24 * 60, 30):
        assert day.holds(minute) != night.holds(minute)
    assert day.holds(8 * 60)
    assert not day.holds(18 * 60)


def test_the_shops_wall_clock_says_which_stretches_lie_inside() -> None:
    usual = usual_air(None, at_h(0.0))  # midnight, UTC
    inside = usual.inside(DayHours(8 * 60, 18 * 60), Words())
    assert sum(inside) == DAYS * 60
    assert not inside[0]
    assert inside[8 * 6]


def test_a_day_of_rates_begins_with_the_hour_after_now() -> None:
    hours = every(10.0, 7 * 24.0)
    warm = np.where(hours % 24.0 < 12.0, 26.0, 16.0)
    shop = shop_of({"loft": readings(hours, warm, 0.5)})
    usual = usual_air(shop.book.climates["loft"], at_h(7 * 24.0))
    rates = day_rates(LAW, usual.air)
    assert rates is not None
    assert rates.size == CELLS
    assert rates[3] > 1.0 > rates[-3]  # from midnight on it is warm first


def test_minutes_never_measured_count_as_the_mean_of_the_others() -> None:
    temp = np.full(CELLS, 21.0)
    temp[:12] = np.nan
    rates = day_rates(LAW, Air(temp, np.full(CELLS, 0.5)))
    assert rates is not None
    assert rates[0] == pytest.approx(1.0)


def test_a_steady_climate_is_a_steady_day() -> None:
    rates = day_rates(LAW, Air.of(21.0, 0.5))
    assert rates is not None
    assert hours_until(rates, 30.0, longest_h=1000.0) == pytest.approx(30.0)


def test_what_is_never_earned_or_too_far_is_not_told() -> None:
    still = np.zeros(CELLS)
    assert hours_until(still, 1.0, longest_h=1000.0) is None
    assert hours_until(still, 0.0, longest_h=1000.0) == 0.0
    assert hours_until(np.ones(CELLS), 1001.0, longest_h=1000.0) is None


@given(
    rates=st.lists(st.floats(0.0, 3.0), min_size=24, max_size=24),
    asked_h=st.floats(0.001, 100.0),
)
def test_the_hours_found_earn_what_was_asked(rates: list[float], asked_h: float) -> None:
    day = np.array(rates)
    found = hours_until(day, asked_h, longest_h=1e9)
    if found is None:
        assert day.sum() <= 0.0
        return
    edges = np.arange(25.0)
    sums = np.concatenate(([0.0], np.cumsum(day)))
    days, rest = divmod(found, 24.0)
    earned = days * float(sums[-1]) + float(np.interp(rest, edges, sums))
    assert earned == pytest.approx(asked_h, rel=1e-6, abs=1e-6)
