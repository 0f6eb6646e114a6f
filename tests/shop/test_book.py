from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from curewatch.science import evaporation, humid_air
from curewatch.shop.book import ClockBook
from curewatch.shop.budget import RoomBudget, sensor_budget
from curewatch.shop.clocks import HOURS, Bias
from curewatch.shop.laws import cure_law
from curewatch.shop.reading import Quantity
from curewatch.shop.room import Room, Sensor
from tests.shop.scene import T0_MINUTE, at_h, block, every, finish, readings, steady

if TYPE_CHECKING:
    from curewatch.shop.climate import ClimateTrack

LAW = cure_law(finish("waterborne"))
assert LAW is not None
LOFT = Room("loft")


def book_of(days: float = 3.0, temp_c: float = 21.0) -> ClockBook:
    book = ClockBook()
    book.splice("loft", block(steady(days, temp_c)))
    return book


def hours(book: ClockBook, until_h: float) -> float:
    assert LAW is not None
    return float(book.clock("loft", LAW).sums_at(np.array([float(at_h(until_h))]))[HOURS, 0])


def track(book: ClockBook) -> ClimateTrack:
    return book.climates["loft"]


def test_a_clock_is_built_once_and_kept() -> None:
    book = book_of()
    assert LAW is not None
    assert book.clock("loft", LAW) is book.clock("loft", LAW)
    book.forget({("loft", LAW)})
    kept = book.clock("loft", LAW)
    book.forget(set())
    assert book.clock("loft", LAW) is not kept


def test_new_readings_bring_every_clock_of_their_room_up_to_date() -> None:
    book = book_of(1.0)
    book.splice("cellar", block(steady(1.0, 30.0)))
    assert LAW is not None
    ends = np.array([float(at_h(0.0)), float(at_h(48.0))])
    cellar = book.clock("cellar", LAW).sums_at(ends)
    assert hours(book, 48.0) == pytest.approx(24.0)
    book.splice("loft", block(steady(2.0), first_minute=T0_MINUTE + 24 * 60))
    assert hours(book, 48.0) == pytest.approx(48.0)
    assert np.array_equal(book.clock("cellar", LAW).sums_at(ends), cellar)


def test_readings_from_before_the_record_rebuild_the_room() -> None:
    book = book_of(1.0)
    assert hours(book, 24.0) == pytest.approx(24.0)
    longer = readings(every(10, 48, start_h=-24.0), 21.0, 0.5)
    book.splice("loft", block(longer, first_minute=T0_MINUTE - 24 * 60))
    assert hours(book, 24.0) == pytest.approx(48.0)


def test_a_dropped_room_is_spliced_anew_with_its_clocks() -> None:
    book = book_of(2.0)
    climate = track(book).last_known(at_h(40.0))
    assert climate is not None
    assert book.dew_point_c("loft", climate) is not None
    assert hours(book, 48.0) == pytest.approx(48.0)
    book.drop("loft")
    assert book.frontier_ms("loft") is None
    book.splice("loft", block(steady(1.0)))
    assert hours(book, 48.0) == pytest.approx(24.0)


def test_a_room_without_a_budget_gets_the_usual_sensor_s() -> None:
    book = ClockBook({"oven": Bias(1.0, 0.05)})
    assert book.bias("oven") == Bias(1.0, 0.05)
    assert book.bias("loft") == Bias()


def test_air_gaps_are_those_of_the_temperature() -> None:
    book = ClockBook()
    assert book.air_gaps("loft", at_h(0.0), at_h(9.0)) == []
    book.splice("loft", block(readings([0.0, 0.1, 2.0, 2.1], 21.0)))
    assert book.air_gaps("loft", at_h(0.0), at_h(2.1)) == [(at_h(0.1), at_h(2.0))]


# ---- what follows from the climate


def wavy_book(days: float = 5.0) -> ClockBook:
    stops = every(10, days * 24)
    book = ClockBook()
    temp, rh = 20 + 5 * np.sin(stops / 4), 0.5 + 0.3 * np.cos(stops / 5)
    book.splice("loft", block(readings(stops, temp, rh)))
    return book


@pytest.mark.parametrize("hour", [0.0, 10.0, 23.99, 24.5, 60.0, 119.0])
def test_dew_point_and_wet_film_are_those_of_the_minute(hour: float) -> None:
    book = wavy_book()
    climate = track(book).at(at_h(hour))
    assert climate is not None
    assert climate.rh_frac is not None
    dew = float(humid_air.dew_point_c(climate.temp_c, climate.rh_frac))
    film = float(evaporation.wet_film(climate.temp_c, climate.rh_frac, air_speed_m_s=2.0).temp_c)
    assert book.dew_point_c("loft", climate) == pytest.approx(dew, abs=1e-9)
    assert book.wet_film_c(replace(LOFT, air="fan"), climate) == pytest.approx(film, abs=1e-9)


def test_going_back_by_days_finds_what_was_true_then() -> None:
    book = wavy_book()
    for hour in (119.0, 3.0, 50.0):
        climate = track(book).at(at_h(hour))
        assert climate is not None
        assert climate.rh_frac is not None
        dew = float(humid_air.dew_point_c(climate.temp_c, climate.rh_frac))
        assert book.dew_point_c("loft", climate) == pytest.approx(dew, abs=1e-9)


def test_a_rewritten_record_has_its_own_dew_point() -> None:
    book = wavy_book()
    before = track(book).at(at_h(110.0))
    assert before is not None
    assert book.dew_point_c("loft", before) is not None
    book.splice("loft", block(steady(5.0, 30.0, 0.7), first_minute=T0_MINUTE + 60))
    climate = track(book).at(at_h(110.0))
    assert climate is not None
    expected = float(humid_air.dew_point_c(30.0, 0.7))
    assert book.dew_point_c("loft", climate) == pytest.approx(expected, abs=1e-9)


def test_without_humidity_or_in_bone_dry_air_there_is_no_dew_point() -> None:
    book = ClockBook()
    book.splice("loft", block(steady(1.0, rh_frac=None)))
    climate = track(book).at(at_h(5.0))
    assert climate is not None
    assert book.dew_point_c("loft", climate) is None
    dry = ClockBook()
    dry.splice("loft", block(steady(1.0, rh_frac=0.0005)))
    climate = track(dry).at(at_h(5.0))
    assert climate is not None
    assert dry.dew_point_c("loft", climate) is None
    assert dry.wet_film_c(LOFT, climate) < 12.0


def test_other_budgets_hold_for_the_room_and_for_its_clocks() -> None:
    book = book_of()
    assert LAW is not None
    clock = book.clock("loft", LAW)
    tight = RoomBudget(
        air=(sensor_budget(Sensor("rack", "loft", temp_bias_k=0.1), Quantity.TEMPERATURE),)
    )
    book.budgets_changed({"loft": tight})
    assert book.budget("loft") is tight
    assert book.bias("loft").temp_k == 0.1
    assert clock.bias is tight
    book.budgets_changed({})
    assert book.clock("loft", LAW).bias == Bias()
