"""What sensors may be off by: data sheet, check and drift, and a room's sensors together."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.science.evaporation import WaterDrying
from curewatch.shop.book import ClockBook
from curewatch.shop.budget import (
    DAYS_A_YEAR,
    Bias,
    RoomBudget,
    SensorBudget,
    room_budgets,
    sensor_budget,
)
from curewatch.shop.calibration import DAY_MS, NEW, Check, Correction, corrections
from curewatch.shop.climate import merge
from curewatch.shop.clocks import BY_RH, BY_TEMP, HOURS, RateLaw
from curewatch.shop.reading import IN_THE_AIR, Quantity
from curewatch.shop.room import Sensor

HUMIDITY, TEMPERATURE = Quantity.HUMIDITY, Quantity.TEMPERATURE
SURFACE = Quantity.SURFACE_TEMPERATURE
NOON = 1000 * DAY_MS
YEAR_MS = 365 * DAY_MS
SENSOR = Sensor("h1", "loft", temp_bias_k=0.3, rh_bias_frac=0.025)


def checked(*points: tuple[str, float, float]) -> tuple[Correction, ...]:
    checks = [
        Check("h1", HUMIDITY, name, reference, 0.008, read, 0.006, 20.0, NOON, NOON, NOON)
        for name, reference, read in points
    ]
    return corrections(checks)["h1", HUMIDITY]


TWO = checked(("table", 0.755, 0.74), ("magnesium", 0.331, 0.34))


def test_without_a_check_it_is_the_data_sheets_and_grows_from_the_first_day() -> None:
    found = sensor_budget(SENSOR, HUMIDITY, since_ms=NOON)
    assert found.at(NOON - YEAR_MS) == 0.025
    assert found.at(NOON) == 0.025
    by_hand = (0.025**2 + (0.01 * 365 / DAYS_A_YEAR) ** 2) ** 0.5
    assert found.at(NOON + YEAR_MS) == pytest.approx(by_hand)


def test_where_the_first_day_is_not_known_nothing_grows() -> None:
    assert sensor_budget(SENSOR, HUMIDITY).at(NOON) == 0.025


def test_one_salt_narrows_nothing() -> None:
    found = sensor_budget(SENSOR, HUMIDITY, made=checked(("table", 0.755, 0.74)))
    assert found.at(NOON, 0.755) == 0.025
    assert found.at(NOON, 0.5) >= 0.025


def test_one_salts_offset_is_doubted_by_its_own_size_away_from_it() -> None:
    # +2 points at 33 % and -4.5 at 75 %, checked over table salt alone: 4.5 are added everywhere,
    # which leaves it 6.5 high at 33 %. Far from the salt the doubt is (2.5^2 + 4.5^2)^0.5 = 5.148
    # points; 5 of the 10 points of reach away it is half-way there from 2.5: 3.824.
    found = sensor_budget(SENSOR, HUMIDITY, made=checked(("table", 0.755, 0.71)))
    assert found.at(NOON, 0.33) == pytest.approx(0.05148, abs=1e-5)
    assert found.at(NOON) == pytest.approx(0.05148, abs=1e-5)  # where humidity is not known
    assert found.at(NOON, 0.805) == found.at(NOON, 0.705) == pytest.approx(0.03824, abs=1e-5)
    assert found.at(NOON, 0.755) == 0.025


def test_beyond_two_salts_the_nearer_ones_offset_is_doubted_by_its_own_size() -> None:
    found = sensor_budget(
        SENSOR, HUMIDITY, made=checked(("table", 0.755, 0.71), ("magnesium", 0.331, 0.351))
    )
    assert found.at(NOON, 0.95) == pytest.approx(0.05148, abs=1e-5)
    assert found.at(NOON, 0.10) == pytest.approx(0.03202, abs=1e-5)
    assert found.at(NOON) == pytest.approx(0.05148, abs=1e-5)
    assert found.at(NOON, 0.5) == pytest.approx(0.01414, abs=1e-5)


def test_two_salts_narrow_it_within_their_reach_only() -> None:
    found = sensor_budget(SENSOR, HUMIDITY, made=TWO)
    by_hand = (0.008**2 + 0.006**2 + 0.010**2) ** 0.5  # 1.41 points
    assert found.at(NOON, 0.55) == pytest.approx(by_hand)
    assert found.at(NOON, 0.95) > 0.025
    assert found.at(NOON) > 0.025  # where humidity is not known
    assert found.at(NOON - 1, 0.55) == 0.025  # and not before it holds


def test_it_grows_again_from_the_check_on_and_before_it() -> None:
    found = sensor_budget(SENSOR, HUMIDITY, made=TWO, since_ms=NOON - YEAR_MS)
    assert found.at(NOON + YEAR_MS, 0.55) > found.at(NOON, 0.55)
    early = tuple(replace(one, from_ms=NOON - YEAR_MS) for one in TWO)
    back = sensor_budget(SENSOR, HUMIDITY, made=early)
    assert back.at(NOON - YEAR_MS, 0.55) == pytest.approx(back.at(NOON + YEAR_MS, 0.55))


def test_a_sensor_found_too_far_off_may_be_off_by_what_was_found() -> None:
    found = sensor_budget(SENSOR, HUMIDITY, made=checked(("table", 0.755, 0.60)))
    assert found.at(NOON, 0.5) == pytest.approx(0.155)


def test_a_new_sensor_of_the_same_name_has_its_data_sheets_again() -> None:
    new = Check("h1", HUMIDITY, NEW, 0.0, 0.0, 0.0, 0.0, None, NOON, NOON + 1, NOON + 1)
    made = corrections([*TWO[0].checks, new])["h1", HUMIDITY]
    assert sensor_budget(SENSOR, HUMIDITY, made=made).at(NOON + 1, 0.5) == 0.025


def test_a_thermometers_check_takes_the_place_of_its_data_sheet() -> None:
    check = Check("h1", TEMPERATURE, "thermometer", 20.0, 0.1, 20.4, 0.0, None, NOON, NOON, NOON)
    made = corrections([check])["h1", TEMPERATURE]
    assert sensor_budget(SENSOR, TEMPERATURE, made=made).at(NOON) == pytest.approx(0.1)


def test_a_room_is_as_doubtful_as_its_worst_sensor_of_each_quantity() -> None:
    probe = Sensor("p1", "loft", temp_bias_k=0.5, measures=frozenset({SURFACE}))
    worse = Sensor("h2", "loft", rh_bias_frac=0.04)
    scale = Sensor("s1", "loft", air=False)
    found = room_budgets(["loft", "shed"], [SENSOR, worse, probe, scale], {}, {})
    assert found.keys() == {"loft"}
    assert found["loft"].at(NOON) == Bias(0.3, 0.04, 0.5)
    assert found["loft"].at(None) == Bias(0.3, 0.04, 0.5)


def test_a_probe_without_humidity_does_not_spoil_a_checked_hygrometer() -> None:
    probe = Sensor("p1", "loft", measures=frozenset({SURFACE}))
    found = room_budgets(["loft"], [SENSOR, probe], {("h1", HUMIDITY): TWO}, {})["loft"]
    assert found.at(NOON, 0.5).rh_frac == pytest.approx(0.01414, abs=1e-5)


def test_a_quantity_that_nothing_measures_has_the_default_doubt() -> None:
    assert RoomBudget().at(NOON) == RoomBudget().at(None) == Bias()


def test_a_bias_that_does_not_grow_is_the_same_along_a_record() -> None:
    bias = Bias(0.2, 0.03, 0.4)
    along = bias.along(np.array([NOON], dtype=np.int64), np.array([0.5]))
    assert [float(n) for n in (along.temp_k, along.rh_frac, along.surface_k)] == [0.2, 0.03, 0.4]
    assert bias.at(NOON) is bias


@given(
    st.floats(0.001, 0.1),
    st.floats(0.0, 0.05),
    st.floats(0.0, 0.05),
    st.integers(-800, 800),
    st.sampled_from([(), TWO, checked(("table", 0.755, 0.74)), checked(("table", 0.755, 0.5))]),
    st.floats(0.0, 1.0),
)
def test_a_worse_sheet_or_more_drift_never_narrows_it(
    accuracy: float,
    more: float,
    drift: float,
    days: int,
    made: tuple[Correction, ...],
    rh_frac: float,
) -> None:
    at_ms = NOON + days * DAY_MS
    good = SensorBudget(accuracy, drift, NOON, made, humid=True)
    worse = replace(good, accuracy=accuracy + more)
    restless = replace(good, drift_per_year=drift + more)
    assert worse.at(at_ms, rh_frac) >= good.at(at_ms, rh_frac)
    assert restless.at(at_ms, rh_frac) >= good.at(at_ms, rh_frac)
    two = RoomBudget((), (good, restless))
    assert two.at(at_ms, rh_frac).rh_frac >= RoomBudget((), (good,)).at(at_ms, rh_frac).rh_frac


def test_sensors_tell_of_all_of_the_climate_unless_it_is_said() -> None:
    assert SENSOR.measures == frozenset(IN_THE_AIR)


def doubts(budget: Bias | RoomBudget) -> list[float]:
    """Return a week's drying a year after the first day, and what two sensors make of it [h]."""
    book = ClockBook({"loft": budget})
    minutes = np.arange(NOON + YEAR_MS, NOON + YEAR_MS + 7 * DAY_MS, 600_000, dtype=np.int64)
    series = {
        ("h1", TEMPERATURE): (minutes, np.full(minutes.shape, 16.0)),
        ("h1", HUMIDITY): (minutes, np.full(minutes.shape, 0.5)),
    }
    first = int(minutes[0]) // 60_000
    book.splice("loft", merge(series, first_minute=first, longest_gap_s=1800.0))
    law = RateLaw(WaterDrying(air_speed_m_s=0.1, p_pa=101325.0))
    ends = np.array([float(minutes[0]), float(minutes[-1])])
    sums = np.diff(book.clock("loft", law).sums_at(ends))[:, 0]
    return [abs(float(sums[which])) for which in (HOURS, BY_TEMP, BY_RH)]


def test_hours_widen_as_a_sensor_drifts_and_narrow_once_it_is_checked() -> None:
    warm = (SensorBudget(0.3, 0.2, NOON),)
    never = RoomBudget(warm, (SensorBudget(0.025, 0.02, NOON, humid=True),))
    lately = RoomBudget(warm, (SensorBudget(0.025, 0.02, NOON, TWO, humid=True),))
    new, drifted, fresh = doubts(Bias(0.3, 0.025)), doubts(never), doubts(lately)
    assert drifted[0] == fresh[0] == new[0]  # the hours themselves are what they were
    assert drifted[1] > new[1] > 0.0
    assert drifted[2] > fresh[2]
    assert drifted[2] > new[2] > 0.0
