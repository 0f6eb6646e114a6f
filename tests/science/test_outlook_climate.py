"""The climate ahead: for a spray check and under planned changes."""

import math
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.errors import BadInput
from curewatch.science.humid_air import saturation_pressure_pa, vapour_pressure_pa
from curewatch.science.kinetics import CureLaw, rate_unchecked
from curewatch.science.outlook import LONGEST_H, Outlook
from curewatch.science.outlook_climate import (
    DEFAULT_TEMP_K,
    ClimateAhead,
    Range,
    climate_ahead,
    planned_rates,
)
from curewatch.science.outlook_paths import RECOVERY_H, PlannedClimate

FloatArray = npt.NDArray[np.float64]
DATA = Path(__file__).parents[1] / "data"
HOUR_OF_DAY = np.arange(24 * 20) % 24
WAVE_C = 18.0 + 4.0 * np.sin(2.0 * np.pi * HOUR_OF_DAY / 24.0)
LAW = CureLaw(55.0, humidity_exponent=0.3)


def ahead(
    temp_c: FloatArray,
    rh_frac: FloatArray | float,
    hours: FloatArray | float,
    *planned: PlannedClimate,
    step_s: float = 3600.0,
) -> ClimateAhead:
    pressure = rh_frac * np.asarray(saturation_pressure_pa(np.nan_to_num(temp_c, nan=20.0)))
    found = climate_ahead(temp_c, pressure, step_s, hours=hours, planned=planned)
    assert found is not None
    return found


def known(value: Range | None) -> Range:
    assert value is not None
    return value


def rates(temp_c: FloatArray, rh_frac: FloatArray) -> FloatArray:
    return rate_unchecked(temp_c, rh_frac, LAW)


rows = st.lists(
    st.tuples(
        st.one_of(st.just(math.nan), st.floats(-30.0, 60.0)),
        st.one_of(st.just(math.nan), st.floats(0.0, 1.0)),
    ),
    min_size=1,
    max_size=200,
)


@given(rows, st.sampled_from([60.0, 1800.0, 3600.0]))
def test_any_record_gives_finite_ordered_ranges_or_none(
    record: list[tuple[float, float]], step_s: float
) -> None:
    temp, rh = np.array(record).T
    pressure = rh * saturation_pressure_pa(np.nan_to_num(temp, nan=10.0))
    hours = np.array([0.0, 0.3, 1.0, 5.0, 30.0, 200.0])
    found = climate_ahead(temp, pressure, step_s, hours=hours)
    if found is None:
        assert not np.any(np.isfinite(temp))
        return
    assert (found.rh_frac is None) == (not np.any(np.isfinite(pressure)))
    for value in (found.temp_c, found.vapour_pressure_pa, found.rh_frac):
        if value is not None:
            assert np.all(np.isfinite(value.low) & np.isfinite(value.high))
            assert np.all((value.low <= value.likely) & (value.likely <= value.high))
    if found.rh_frac is not None:
        assert np.all((found.rh_frac.low >= 0.0) & (found.rh_frac.high <= 1.0))


def test_now_is_the_newest_value() -> None:
    temp = WAVE_C.copy()
    temp[-1] += 3.0
    found = ahead(temp, 0.5, 0.0)
    assert found.temp_c.likely == pytest.approx(temp[-1])
    assert known(found.rh_frac).likely == pytest.approx(0.5)


def test_a_constant_room_stays_and_is_known_well() -> None:
    found = ahead(np.full(30 * 1440, 21.0), 0.5, np.array([1.0, 24.0]), step_s=60.0)
    assert np.allclose(found.temp_c.likely, 21.0)
    assert np.allclose(known(found.rh_frac).likely, 0.5)
    assert np.all(found.temp_c.high - found.temp_c.low < 0.5)


def test_the_usual_day_is_followed() -> None:
    """The record's hours are means that stand for their middles, half an hour before the mark."""
    hours = np.arange(1.0, 49.0)
    found = ahead(WAVE_C, 0.5, hours - 0.5)
    assert np.allclose(found.temp_c.likely, np.tile(WAVE_C[:24], 2), atol=1.1)


def test_an_unusual_day_fades_back_to_the_usual() -> None:
    warm = WAVE_C.copy()
    warm[-3:] += 6.0
    plain, changed = (ahead(temp, 0.5, np.array([0.0, 6.0, 60.0])) for temp in (WAVE_C, warm))
    gap = changed.temp_c.likely - plain.temp_c.likely
    assert gap[0] == pytest.approx(6.0)
    assert 0.0 < gap[2] < 2.0 < gap[1] < 6.0


def test_an_hour_of_record_goes_on_flat_with_the_wide_band() -> None:
    found = ahead(np.full(60, 19.0), 0.4, np.array([0.5, 6.0]), step_s=60.0)
    assert np.allclose(found.temp_c.likely, 19.0)
    assert found.temp_c.high[1] - 19.0 == pytest.approx(DEFAULT_TEMP_K, rel=0.01)


def test_an_old_last_value_has_faded_by_its_age() -> None:
    temp = np.concatenate((WAVE_C, np.full(24, np.nan)))
    temp[24 * 20 - 1] += 5.0
    fresh = ahead(temp[: 24 * 20], 0.5, 24.0)
    old = ahead(temp, 0.5, 0.0)
    assert old.temp_c.likely == pytest.approx(float(fresh.temp_c.likely), abs=1.0)


def test_no_temperature_is_no_outlook_and_no_humidity_is_said_so() -> None:
    empty = np.full(10, np.nan)
    assert climate_ahead(empty, empty, 60.0, hours=1.0) is None
    dry = climate_ahead(np.full(10, 20.0), empty, 60.0, hours=1.0)
    assert dry is not None
    assert dry.rh_frac is None
    assert dry.vapour_pressure_pa is None


def test_a_set_point_is_obeyed_and_the_room_returns_to_its_ways() -> None:
    room = np.full(24 * 10, 21.0)
    plan = PlannedClimate(2.0, 8.0, temp_c=16.0)
    found = ahead(room, 0.5, np.array([1.9, 2.0, 5.0, 7.9, 8.0, 8.0 + RECOVERY_H, 40.0]), plan)
    shown = found.temp_c.likely
    assert np.allclose(shown[[0, 1, 2, 3]], [21.0, 16.0, 16.0, 16.0])
    assert shown[4] == pytest.approx(16.0)
    assert shown[5] == pytest.approx(21.0 - 5.0 / math.e)
    assert shown[6] == pytest.approx(21.0, abs=0.01)


def test_cooling_air_keeps_its_vapour_until_it_is_saturated() -> None:
    room = np.full(24 * 10, 21.0)
    cooler, cold = (
        known(ahead(room, 0.6, 5.0, PlannedClimate(0.0, temp_c=temp)).rh_frac).likely
        for temp in (16.0, 5.0)
    )
    before = float(vapour_pressure_pa(21.0, 0.6))
    assert cooler == pytest.approx(before / float(saturation_pressure_pa(16.0)))
    assert cold == pytest.approx(1.0)


def test_a_heater_off_lets_the_room_drift_to_its_base() -> None:
    room = np.full(24 * 30, 21.0)
    plan = PlannedClimate(0.0, 60.0, temp_c=5.0, settling_h=12.0, free=True)
    hours = np.array([12.0, 24.0, 59.0])
    found = ahead(room, 0.4, hours, plan)
    assert np.allclose(found.temp_c.likely, 5.0 + 16.0 * np.exp(-hours / 12.0))
    assert np.all(found.temp_c.high - found.temp_c.likely >= DEFAULT_TEMP_K)
    kept = ahead(room, 0.4, hours, PlannedClimate(0.0, 60.0, temp_c=5.0, settling_h=12.0))
    assert np.all(kept.temp_c.high < found.temp_c.high)


def test_a_dehumidifier_brings_the_humidity_down_at_its_pace() -> None:
    room = np.full(24 * 10, 20.0)
    plan = PlannedClimate(-5.0, rh_frac=0.45, settling_h=2.0)
    rh = known(ahead(room, 0.8, np.array([0.0, 2.0, 30.0]), plan).rh_frac).likely
    assert np.allclose(rh, 0.45 + 0.35 * np.exp(-np.array([0.0, 2.0, 30.0]) / 2.0))


def test_the_later_of_two_plans_rules_and_a_plan_that_is_over_is_forgotten() -> None:
    room = np.full(24 * 10, 21.0)
    found = ahead(
        room,
        0.5,
        np.array([5.0, 15.0]),
        PlannedClimate(0.0, temp_c=10.0),
        PlannedClimate(10.0, 20.0, temp_c=25.0, rh_frac=0.3),
        PlannedClimate(-9.0, -1.0, temp_c=40.0, rh_frac=0.9),
    )
    assert np.allclose(found.temp_c.likely, [10.0, 25.0])
    assert known(found.rh_frac).likely[1] == pytest.approx(0.3)


def test_a_set_point_gives_the_outlook_its_rate() -> None:
    temp = np.full(24 * 10, 21.0)
    pressure = np.asarray(vapour_pressure_pa(temp, 0.5))
    plan = PlannedClimate(10.0, 30.0, temp_c=15.0, rh_frac=0.4)
    planned = planned_rates(temp, pressure, 3600.0, planned=(plan,), rates=rates)
    outlook = Outlook.of(rates(temp, np.full(temp.size, 0.5)), 3600.0, planned=planned)
    assert outlook is not None
    hours = outlook.effective_hours(np.array([10.0, 30.0, 42.0, 43.0])).likely
    slow = float(rates(np.array(15.0), np.array(0.4)))
    assert hours[0] == pytest.approx(10.0)
    assert hours[1] - hours[0] == pytest.approx(20.0 * slow)
    assert slow < (hours[2] - hours[1]) / 12.0 < 1.0
    assert hours[3] - hours[2] == pytest.approx(1.0)


def test_a_weekend_without_heat_costs_what_the_integral_says() -> None:
    temp = np.full(24 * 10, 21.0)
    pressure = np.asarray(vapour_pressure_pa(temp, 0.3))
    plan = PlannedClimate(0.0, 61.0, temp_c=6.0, settling_h=14.0, free=True)
    planned = planned_rates(temp, pressure, 3600.0, planned=(plan,), rates=rates)
    assert planned[0].free
    outlook = Outlook.of(rates(temp, np.full(temp.size, 0.3)), 3600.0, planned=planned)
    assert outlook is not None
    fine = (np.arange(61 * 600) + 0.5) / 600.0
    drift = 6.0 + 15.0 * np.exp(-fine / 14.0)
    rh = np.minimum(pressure[0] / saturation_pressure_pa(drift), 1.0)
    assert outlook.effective_hours(61.0).likely == pytest.approx(
        float(rates(drift, rh).sum() / 600.0), rel=1e-3
    )


@pytest.mark.parametrize("law", ["cure", "drying"])
def test_a_room_left_alone_earns_no_more_than_the_warm_end_of_its_climate(law: str) -> None:
    """A day in a room that cools from 21 degC: the band ends are those of the climate, summed."""
    rate_of = rates if law == "cure" else lambda t, rh: np.maximum((1.0 - rh) * (t / 20.0), 0.0)
    temp = WAVE_C + 3.0
    pressure = np.asarray(vapour_pressure_pa(temp, 0.4))
    plan = PlannedClimate(0.0, 60.0, temp_c=6.0, settling_h=6.0, free=True)
    planned = planned_rates(temp, pressure, 3600.0, planned=(plan,), rates=rate_of)
    outlook = Outlook.of(rate_of(temp, np.full(temp.size, 0.4)), 3600.0, planned=planned)
    assert outlook is not None
    day = outlook.effective_hours(24.0)
    middles = np.arange(0.5, 24.0)
    found = climate_ahead(temp, pressure, 3600.0, hours=middles, planned=(plan,))
    assert found is not None
    steam, moist = known(found.vapour_pressure_pa).likely, known(found.rh_frac)
    by_temp = [
        rate_of(one, np.minimum(steam / saturation_pressure_pa(one), 1.0))
        for one in (found.temp_c.low, found.temp_c.likely, found.temp_c.high)
    ]
    by_rh = [rate_of(found.temp_c.likely, one) for one in (moist.low, moist.high)]
    assert day.most == pytest.approx(np.max([*by_temp, *by_rh], axis=0).sum(), rel=1e-6)
    assert day.least == pytest.approx(np.min([*by_temp, *by_rh], axis=0).sum(), rel=1e-6)
    assert day.least < 0.95 * day.likely < 0.9 * day.most
    assert day.most < 2.2 * day.likely


def test_a_room_left_alone_under_a_law_without_humidity_has_ends_without_humidity() -> None:
    steady = np.full(48, 21.0)
    dry_law = CureLaw(55.0)
    plan = PlannedClimate(0.0, 20.0, temp_c=6.0, settling_h=6.0, free=True)
    (stretch, _) = planned_rates(
        steady,
        np.full(48, np.nan),
        3600.0,
        planned=(plan,),
        rates=lambda temp, _: rate_unchecked(temp, np.full(temp.shape, 0.5), dry_law),
    )
    assert np.all(np.array(stretch.low) < stretch.rates)
    assert np.all(np.array(stretch.high) > stretch.rates)


def test_a_room_left_alone_that_was_never_seen_has_no_ends_of_its_own() -> None:
    nothing = np.full(10, np.nan)
    plan = PlannedClimate(0.0, temp_c=18.0, rh_frac=0.5, free=True)
    (stretch,) = planned_rates(nothing, nothing, 60.0, planned=(plan,), rates=rates)
    assert (stretch.low, stretch.high) == ((), ())


def test_a_heater_cannot_cool_a_room_that_is_warmer_by_itself() -> None:
    summer = np.full(24 * 10, 27.0)
    hours = np.array([1.0, 12.0, 40.0])
    kept, heated = (
        ahead(
            summer, 0.5, hours, PlannedClimate(0.0, temp_c=20.0, settling_h=3.0, temp_at_least=one)
        ).temp_c.likely
        for one in (False, True)
    )
    assert np.all(kept[1:] < 20.5)
    assert np.allclose(heated, 27.0)


def test_a_heater_keeps_a_room_from_falling_below_its_set_point() -> None:
    """Nights of 14 degC are heated to 18, days of 22 are left as they are."""
    plan = PlannedClimate(0.0, temp_c=18.0, temp_at_least=True)
    found, alone = (ahead(WAVE_C, 0.5, np.arange(0.5, 48.0), *plans) for plans in ((plan,), ()))
    assert np.allclose(found.temp_c.likely, np.maximum(alone.temp_c.likely, 18.0))
    assert alone.temp_c.likely.min() < 15.0


def test_forty_plans_that_keep_one_side_each_are_still_answered() -> None:
    """Were each of them to ask those below it twice, this would never end."""
    room = np.full(24 * 10, 12.0)
    plans = [
        PlannedClimate(
            float(start),
            temp_c=15.0 + 0.1 * start,
            rh_frac=0.4,
            temp_at_least=True,
            rh_at_most=True,
        )
        for start in range(40)
    ]
    found = ahead(room, 0.8, 48.0, *plans)
    assert found.temp_c.likely == pytest.approx(15.0 + 0.1 * 39)
    assert known(found.rh_frac).likely == pytest.approx(0.4)


def test_a_dehumidifier_cannot_wet_the_air() -> None:
    room = np.full(24 * 10, 20.0)
    dry, damp = (
        known(
            ahead(room, rh, 30.0, PlannedClimate(0.0, rh_frac=0.45, rh_at_most=True)).rh_frac
        ).likely
        for rh in (0.3, 0.8)
    )
    assert dry == pytest.approx(0.3)
    assert damp == pytest.approx(0.45)


def test_from_now_on_runs_to_the_end_of_the_outlook() -> None:
    temp = np.full(48, 21.0)
    plan = PlannedClimate(0.0, temp_c=18.0, rh_frac=0.5)
    planned = planned_rates(temp, np.full(48, 1200.0), 3600.0, planned=(plan,), rates=rates)
    outlook = Outlook.of(np.full(48, 1.0), 3600.0, planned=planned)
    assert outlook is not None
    slow = float(rates(np.array(18.0), np.array(0.5)))
    assert outlook.effective_hours(float(LONGEST_H)).likely == pytest.approx(LONGEST_H * slow)


def test_a_room_without_a_record_on_a_set_point_is_known_by_it_alone() -> None:
    nothing = np.full(10, np.nan)
    whole = PlannedClimate(0.0, temp_c=18.0, rh_frac=0.5)
    half = PlannedClimate(0.0, temp_c=18.0)
    known_rates, unknown_rates, over = (
        planned_rates(nothing, nothing, 60.0, planned=(plan,), rates=rates)
        for plan in (whole, half, PlannedClimate(-9.0, -8.0, temp_c=1.0))
    )
    assert len(known_rates) == 1
    assert unknown_rates == ()
    assert over == ()
    assert Outlook.of(nothing, 60.0, planned=known_rates) is not None


def station(name: str) -> tuple[FloatArray, FloatArray]:
    path = DATA / f"{name}-typical-year.csv"
    temp, rh = np.genfromtxt(path, delimiter=",", skip_header=1, usecols=(2, 4)).T
    return temp, np.minimum(rh / 100.0, 1.0) * saturation_pressure_pa(temp)


@pytest.mark.parametrize("name", ["greensboro", "sand-point"])
@pytest.mark.parametrize("lead_h", [1, 6, 24])
def test_on_a_year_outdoors_the_band_covers_and_the_error_beats_the_simple_rules(
    name: str, lead_h: int
) -> None:
    """Outlooks at 300 instants spread over the year, each from the record before it alone."""
    temp, pressure = station(name)
    missed, now, yesterday, inside = [], [], [], []
    for end in np.linspace(24 * 40, temp.size - 30, 300).astype(int):
        since = slice(end - 24 * 40, end)
        middle = np.array(float(lead_h) - 0.5)  # the middle of the hour in question
        found = climate_ahead(temp[since], pressure[since], 3600.0, hours=middle)
        assert found is not None
        came = temp[end + lead_h - 1]
        missed.append(float(found.temp_c.likely) - came)
        now.append(temp[end - 1] - came)
        yesterday.append(temp[end + lead_h - 25] - came)
        rh = pressure[end + lead_h - 1] / saturation_pressure_pa(came)
        moist = known(found.rh_frac)
        inside.append(
            (
                found.temp_c.low <= came <= found.temp_c.high,
                moist.low - 1e-9 <= rh <= moist.high + 1e-9,
            )
        )
    rms, rms_now, rms_day = (math.sqrt(np.mean(np.square(e))) for e in (missed, now, yesterday))
    assert rms <= 1.05 * min(rms_now, rms_day)
    # 300 outlooks tell a share of 80 % to 2.3 points (one standard error) if independent.
    for share in np.mean(inside, axis=0):
        assert 0.73 <= share <= 0.9


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"start_h": 5.0, "stop_h": 5.0, "temp_c": 20.0}, "start before it stops"),
        ({"start_h": math.nan, "temp_c": 20.0}, "start before it stops"),
        ({"start_h": 0.0}, "sets nothing"),
        ({"start_h": 0.0, "temp_c": 99.0}, "temp_c is 99"),
        ({"start_h": 0.0, "rh_frac": 50.0}, "rh_frac is 50"),
        ({"start_h": 0.0, "temp_c": 20.0, "settling_h": -1.0}, "settling_h is -1"),
    ],
)
def test_a_plan_that_cannot_be_meant_is_refused(fields: dict[str, float], said: str) -> None:
    with pytest.raises(BadInput, match=said):
        PlannedClimate(**fields)  # type: ignore[arg-type]


def test_records_that_cannot_be_are_refused() -> None:
    good = np.full(10, 20.0)
    with pytest.raises(BadInput, match="two rows of one length"):
        climate_ahead(good, np.full(9, 900.0), 60.0, hours=1.0)
    with pytest.raises(BadInput, match="temp_c at index 0 is not from"):
        climate_ahead(np.full(10, 200.0), good, 60.0, hours=1.0)
    with pytest.raises(BadInput, match="vapour_pressure_pa at index 0 is not from"):
        climate_ahead(good, np.full(10, -1.0), 60.0, hours=1.0)
    with pytest.raises(BadInput, match="hours is -1"):
        climate_ahead(good, np.full(10, 900.0), 60.0, hours=-1.0)
