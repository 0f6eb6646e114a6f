"""A room's climate by whole hours, reduced from its minute record."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.science import evaporation, humid_air, kinetics
from curewatch.shop.book import ClockBook
from curewatch.shop.climate import ClimateTrack
from curewatch.shop.clocks import RateLaw
from curewatch.shop.hourly import LOOK_BACK_H, HourTrack, reduced
from tests.shop.scene import (
    HOUR_MS,
    T0_MINUTE,
    T0_MS,
    at_h,
    block,
    every,
    readings,
    shop_of,
    steady,
)

if TYPE_CHECKING:
    from curewatch.shop.climate import Floats, Series
    from curewatch.shop.reading import Quantity

    Record = dict[tuple[str, Quantity], Series]

T0_HOUR = T0_MS // HOUR_MS
CURE = RateLaw(kinetics.CureLaw(55.0, 0.3, lower_limit_c=5.0, upper_limit_c=40.0))
DRY_CURE = RateLaw(kinetics.CureLaw(55.0, 0.0, lower_limit_c=5.0, upper_limit_c=40.0))
WATER = RateLaw(evaporation.WaterDrying())


def track_of(record: Record) -> ClimateTrack:
    climate = ClimateTrack(T0_MINUTE)
    climate.splice(block(record))
    return climate


def test_hours_are_the_means_of_the_minutes_and_end_with_the_last_whole_one() -> None:
    hours = every(10.0, 50.0)
    shop = shop_of({"loft": readings(hours, 10.0 + hours / 5.0, 0.5)})
    found = shop.book.hourly("loft", at_h(30.7), hours=4)
    assert found.first_hour == T0_HOUR + 26
    assert np.allclose(found.temp_c, 10.0 + (np.arange(26, 30) + 0.5) / 5.0)
    assert np.isnan(found.surface_c).all()
    assert np.allclose(found.rh_frac, 0.5, atol=1e-3)
    expected = [float(humid_air.vapour_pressure_pa(t, 0.5)) for t in found.temp_c]
    assert np.allclose(found.vapour_pressure_pa, expected, rtol=1e-3)
    assert shop.book.hourly("loft", at_h(900.0)).first_hour == T0_HOUR + 50 - LOOK_BACK_H


def test_an_hour_of_which_less_than_half_is_covered_is_not_known() -> None:
    hours = every(5.0, 12.0)
    for start, known in ((2.6, True), (2.4, False)):
        holed = hours[(hours < start) | (hours > 6.0)]
        shop = shop_of({"loft": readings(holed, 21.0, 0.5)})
        temp = shop.book.hourly("loft", at_h(12.0), hours=12).temp_c
        assert np.isfinite(temp).tolist() == [True] * 2 + [known] + [False] * 3 + [True] * 6


def test_what_one_sensor_does_not_tell_is_unknown_by_itself() -> None:
    shop = shop_of({"loft": steady(2.0, rh_frac=None)})
    found = shop.book.hourly("loft", at_h(48.0), hours=48)
    assert np.isfinite(found.temp_c).all()
    assert np.isnan(found.vapour_pressure_pa).all()
    assert np.isnan(found.rates(CURE)).all()
    assert np.isnan(found.rates(WATER)).all()
    assert np.isfinite(found.rates(DRY_CURE)).all()


def test_a_piece_s_own_temperature_counts_for_its_cure_and_not_for_its_drying() -> None:
    hours = every(10.0, 12.0)
    on_piece = readings(hours, 21.0, 0.5, surface_c=17.0)
    with_it, without = (
        shop_of({"loft": one}).book.hourly("loft", at_h(12.0), hours=12)
        for one in (on_piece, readings(hours, 21.0, 0.5))
    )
    assert np.allclose(with_it.surface_c, 17.0)
    assert np.all(with_it.rates(CURE) < without.rates(CURE))
    assert np.array_equal(with_it.rates(WATER), without.rates(WATER))


def test_the_rates_of_hours_are_what_the_clock_of_minutes_gained() -> None:
    """The bend of a law over one hour of a 6 K day: 0.5 (Ea / R T^2)^2 var(T), 4e-4 or less."""
    hours = every(5.0, 240.0)
    swing = 20.0 + 6.0 * np.sin(hours / 24.0 * 2.0 * np.pi)
    shop = shop_of({"loft": readings(hours, swing, 0.5 + swing / 200.0)})
    for law in (CURE, WATER):
        rates = shop.book.hourly("loft", at_h(240.0), hours=240).rates(law)
        sums = shop.book.clock("loft", law).sums_at(np.array([float(T0_MS), float(at_h(240.0))]))
        assert rates.sum() == pytest.approx(sums[0, 1] - sums[0, 0], rel=4e-4)


def test_hours_outside_a_record_are_unknown() -> None:
    track = track_of(steady(1.0))
    assert np.isnan(reduced(track, T0_HOUR - 30, T0_HOUR)).all()
    assert np.isnan(reduced(track, T0_HOUR + 25, T0_HOUR + 30)).all()
    assert (
        np.isfinite(reduced(track, T0_HOUR - 2, T0_HOUR + 2)[0]).tolist()
        == [False] * 2 + [True] * 2
    )
    never = ClockBook().hourly("cellar", at_h(5.0), hours=7)
    assert never.temp_c.size == 7
    assert np.isnan(never.temp_c).all()


def test_a_stretch_spliced_in_makes_its_hours_anew_and_no_others() -> None:
    shop = shop_of({"loft": steady(10.0, 18.0)})
    assert not shop.book.remembers("loft")
    shop.book.hourly("loft", at_h(240.0))
    assert shop.book.remembers("loft")
    shop.book.splice("loft", block(steady(10.0, 25.0), first_minute=at_h(100.2) // 60_000))
    temp = shop.book.hourly("loft", at_h(240.0), hours=240).temp_c
    assert np.allclose(temp[:100], 18.0)
    assert 18.0 < temp[100] < 25.0
    assert np.allclose(temp[101:], 25.0)
    shop.book.drop("loft")
    assert np.isnan(shop.book.hourly("loft", at_h(240.0)).temp_c).all()


@given(asked=st.lists(st.tuples(st.integers(1, 240), st.integers(1, 400)), min_size=1, max_size=8))
def test_hours_are_the_same_in_whatever_order_they_are_asked_for(
    asked: list[tuple[int, int]],
) -> None:
    hours = every(30.0, 240.0)
    record = readings(hours, 20.0 + np.sin(hours), 0.5)
    shop = shop_of({"loft": record})
    whole = reduced(track_of(record), T0_HOUR - 400, T0_HOUR + 240)[0]
    for until, count in asked:
        found = shop.book.hourly("loft", at_h(float(until)), hours=count).temp_c
        np.testing.assert_array_equal(found, whole[400 + until - count : 400 + until])


def test_hours_before_the_record_are_asked_for_once_and_farther_back_when_wanted() -> None:
    calls: list[tuple[int, int]] = []

    def recall(first_hour: int, stop_hour: int) -> Floats:
        calls.append((first_hour, stop_hour))
        return np.full((3, stop_hour - first_hour), 11.0)

    track, known = track_of(steady(2.0)), HourTrack(recall)
    temp = known.rows(track, T0_HOUR - 5, T0_HOUR + 5)[0]
    assert np.allclose(temp, [11.0] * 5 + [21.0] * 5)
    assert np.allclose(known.rows(track, T0_HOUR - 3, T0_HOUR + 9)[0], [11.0] * 3 + [21.0] * 9)
    assert calls == [(T0_HOUR - 5, T0_HOUR)]
    farther = known.rows(track, T0_HOUR - 8, T0_HOUR - 6)[0]
    assert np.allclose(farther, 11.0)
    assert np.allclose(known.rows(track, T0_HOUR - 8, T0_HOUR + 9)[0], [11.0] * 8 + [21.0] * 9)
    assert calls[1:] == [(T0_HOUR - 8, T0_HOUR)]
