"""A room's last days as stretches of ten minutes, and how long a day of rates takes."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.science.kinetics import CureLaw
from curewatch.shop.clocks import RateLaw
from curewatch.shop.laws import cure_law
from curewatch.shop.usual_air import CELLS, DAYS, DayHours, day_hours, day_rates, usual_air
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
    assert day_hours(rates, np.array([30.0])) == pytest.approx([30.0])


@given(
    rates=st.lists(st.floats(0.0, 3.0), min_size=24, max_size=24),
    days=st.integers(0, 60),
    within=st.integers(0, 24),
)
def test_the_hours_of_a_day_over_and_over_are_its_sums(
    rates: list[float], days: int, within: int
) -> None:
    day = np.array(rates)
    earned = day_hours(day, np.array([days * 24.0 + within, days * 24.0 + within + 0.5]))
    by_hour = np.tile(day, days + 2)
    at = days * 24 + within
    assert earned[0] == pytest.approx(by_hour[:at].sum(), rel=1e-9, abs=1e-9)
    assert earned[1] - earned[0] == pytest.approx(0.5 * by_hour[at], rel=1e-6, abs=1e-9)
