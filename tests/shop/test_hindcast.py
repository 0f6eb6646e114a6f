from __future__ import annotations

import numpy as np
import pytest

from curewatch.science import evaporation, kinetics
from curewatch.science.outlook import Hindcast, Outlook
from curewatch.shop.climate import ClimateTrack
from curewatch.shop.clocks import Bias, ClockTrack, RateLaw
from curewatch.shop.hindcast import hindcast_room, hourly_rates, without_limits
from tests.shop.scene import T0_MINUTE, at_h, block, every, readings, steady

LIMITED = RateLaw(kinetics.CureLaw(55.0, 0.3, lower_limit_c=15.0, upper_limit_c=32.0), 13.0)
WATER = RateLaw(evaporation.WaterDrying())


def climate_of(*parts: object) -> ClimateTrack:
    climate = ClimateTrack(T0_MINUTE)
    for part in parts:
        climate.splice(block(part))  # type: ignore[arg-type]
    return climate


def test_hourly_rates_are_what_the_clock_gained_in_each_covered_hour() -> None:
    hours = every(10.0, 30.0)
    track = ClockTrack(climate_of(readings(hours, 16.0 + hours / 6.0, 0.5)), LIMITED, Bias())
    rates = hourly_rates(track, at_h(30.0), hours=30)
    sums = track.sums_at(np.array([float(at_h(h)) for h in range(31)]))
    assert np.allclose(rates, np.diff(sums[0]))
    assert np.all(np.diff(rates) > 0.0)


def test_hours_outside_the_record_and_in_its_gaps_are_unknown() -> None:
    hours = np.concatenate((every(10.0, 5.0), every(10.0, 5.0, start_h=8.0)))
    track = ClockTrack(climate_of(readings(hours, 21.0, 0.5)), LIMITED, Bias())
    rates = hourly_rates(track, at_h(15.0), hours=20)
    expected = [np.nan] * 5 + [1.0] * 5 + [np.nan] * 3 + [1.0] * 5 + [np.nan] * 2
    assert np.allclose(rates, expected, equal_nan=True)


def test_a_room_that_has_just_begun_gives_the_minutes_it_has() -> None:
    track = ClockTrack(climate_of(readings(every(5.0, 0.25), 21.0, 0.5)), LIMITED, Bias())
    rates = hourly_rates(track, at_h(0.25))
    assert np.isnan(rates[:-1]).all()
    assert rates[-1] == pytest.approx(1.0)
    assert Outlook.of(rates, 3600.0) is not None


def test_a_cold_room_is_held_to_account_without_its_limits() -> None:
    hours = every(10.0, 24.0 * 12)
    cold = climate_of(readings(hours, 3.0 + np.sin(2.0 * np.pi * hours / 24.0), 0.5))
    (day,) = hindcast_room(cold, LIMITED, horizons_h=(24,))
    assert day.n == (12 - 2) * 8 + 1
    assert day.rmse_pct is not None
    assert day.rmse_as_now_pct is not None
    assert day.rmse_pct < 1.0 < day.rmse_as_now_pct


def test_a_law_without_limits_is_the_same_law_elsewhere() -> None:
    free = without_limits(LIMITED)
    inside, below = np.array([20.0, 31.0]), np.array([3.0])
    half = np.array(0.5)
    assert np.array_equal(free.rates(inside, half), LIMITED.rates(inside, half))
    assert free.rates(below, half) > 0.0 == LIMITED.rates(below, half)
    assert without_limits(WATER) is WATER


def test_a_drying_law_is_held_to_account_too() -> None:
    (day,) = hindcast_room(climate_of(steady(4.0)), WATER, horizons_h=(24,))
    assert day.coverage_80_pct == 100.0
    assert day.rmse_pct == pytest.approx(0.0, abs=1e-6)


def test_a_room_without_a_record_has_nothing_to_account_for() -> None:
    empty = (Hindcast(24, 0), Hindcast(72, 0))
    assert hindcast_room(ClimateTrack(T0_MINUTE), LIMITED) == empty
    assert hindcast_room(climate_of({}), LIMITED) == empty
