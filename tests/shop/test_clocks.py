from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from curewatch.science import evaporation, kinetics
from curewatch.shop.climate import MINUTE_MS, ClimateTrack, merge
from curewatch.shop.clocks import (
    BEYOND,
    BY_AIR,
    BY_EA,
    BY_RH,
    BY_TEMP,
    COVERED,
    FAST,
    HOURS,
    Bias,
    ClockTrack,
    RateLaw,
)
from tests.shop.scene import (
    DAY_MS,
    GAP_S,
    HOUR_MS,
    T0_MINUTE,
    T0_MS,
    at_h,
    block,
    every,
    readings,
    steady,
)

if TYPE_CHECKING:
    from curewatch.shop.climate import Floats, Series
    from curewatch.shop.reading import Quantity

    Key = tuple[str, Quantity]

CURE = RateLaw(kinetics.CureLaw(55.0, 0.3, lower_limit_c=15.0, upper_limit_c=32.0), 13.0)
DRY_CURE = RateLaw(kinetics.CureLaw(65.0, 0.0, lower_limit_c=10.0))
WATER = RateLaw(evaporation.WaterDrying())
SOLVENT = RateLaw(evaporation.SolventDrying("n-butyl acetate"))
LAWS = pytest.mark.parametrize("law", [CURE, DRY_CURE, WATER, SOLVENT], ids=str)


class Narrow(ClockTrack):
    """A clock whose sums begin close before what is asked."""

    margin = 30


def clock(series: dict[Key, Series], law: RateLaw = CURE, bias: Bias | None = None) -> ClockTrack:
    climate = ClimateTrack(T0_MINUTE)
    climate.splice(block(series))
    return ClockTrack(climate, law, bias or Bias())


def gained(track: ClockTrack, start_h: float, stop_h: float) -> Floats:
    ends = track.sums_at(np.array([float(at_h(start_h)), float(at_h(stop_h))]))
    return np.asarray(ends[:, 1] - ends[:, 0])


def by_quad(series: dict[Key, Series], law: RateLaw, start_h: float, stop_h: float) -> float:
    """Integrate the same straight lines between readings with scipy, reading by reading."""
    (times, temp), (_, rh) = series.values()
    hours = (times - T0_MS) / HOUR_MS

    def at(hour: float) -> float:
        here = np.array([np.interp(hour, hours, temp)]), np.array([np.interp(hour, hours, rh)])
        return float(law.rates(*here)[0])

    total = 0.0
    for low, high in pairwise(hours):
        begin, end = max(low, start_h), min(high, stop_h)
        if end > begin and (high - low) * 3600 <= GAP_S + 1e-6:
            floor = [
                low + (edge - np.interp(low, hours, temp)) / slope
                for edge in (14.0, 15.0, 32.0, 9.0, 10.0)
                if (
                    slope := (np.interp(high, hours, temp) - np.interp(low, hours, temp))
                    / (high - low)
                )
            ]
            bends = [bend for bend in floor if begin < bend < end]
            total += quad(at, begin, end, points=bends or None, epsabs=1e-10, epsrel=1e-10)[0]
    return total


def wavy(days: float = 2.0, mean_c: float = 15.0, swing_k: float = 8.0) -> dict[Key, Series]:
    rng = np.random.default_rng(5)
    hours = np.concatenate(([0.0], np.cumsum(rng.uniform(0.02, 0.3, round(days * 150)))))
    hours = hours[hours <= days * 24.0]
    temp = mean_c + swing_k * np.sin(hours / 24 * 2 * np.pi) + rng.normal(0, 0.2, hours.size)
    return readings(hours, temp, 0.5 + 0.3 * np.cos(hours / 24 * 2 * np.pi))


# ---- sums


@LAWS
def test_hours_agree_with_quadrature_of_the_same_lines_across_the_floor(law: RateLaw) -> None:
    series = wavy()
    found = gained(clock(series, law), 1.0, 40.0)[HOURS]
    assert found == pytest.approx(by_quad(series, law, 1.0, 40.0), rel=1e-4)  # asked: 1e-3


def test_hours_agree_with_quadrature_on_a_record_with_gaps() -> None:
    series = wavy()
    keep = np.ones(series["rack", next(iter(series))[1]][0].size, dtype=bool)
    keep[40:55] = keep[150:210] = False
    holed = {key: (times[keep], values[keep]) for key, (times, values) in series.items()}
    track = clock(holed)
    assert gained(track, 0.0, 47.0)[HOURS] == pytest.approx(
        by_quad(holed, CURE, 0.0, 47.0), rel=1e-4
    )
    assert gained(track, 0.0, 47.0)[COVERED] < 40.0


def test_hours_agree_with_quadrature_in_a_record_that_dips_under_the_floor_for_minutes() -> None:
    hours = every(10, 12)
    series = readings(hours, 15.2 + 0.8 * np.sin(hours * 3.0), 0.5)
    expected = by_quad(series, CURE, 0.0, 12.0)
    assert gained(clock(series), 0.0, 12.0)[HOURS] == pytest.approx(expected, rel=1e-4)


def test_at_the_reference_climate_an_hour_is_an_hour() -> None:
    for law in (CURE, WATER, SOLVENT):
        assert gained(clock(steady(1.0), law), 3.0, 13.0)[HOURS] == pytest.approx(10.0, rel=1e-9)


@given(cuts=st.lists(st.floats(-2.0, 50.0), min_size=1, max_size=8))
def test_hours_of_any_split_add_up(cuts: list[float]) -> None:
    track = clock(wavy())
    edges = [-1.0, *sorted(cuts), 49.0]
    total = sum(gained(track, start, stop) for start, stop in pairwise(edges))
    np.testing.assert_allclose(total, gained(track, edges[0], edges[-1]), rtol=0, atol=1e-9)


@given(hour=st.floats(0.01, 47.0))
def test_when_is_the_inverse_of_the_sums(hour: float) -> None:
    track = clock(wavy(mean_c=20.0, swing_k=4.0))
    target = float(track.sums_at(np.array([float(at_h(hour))]))[HOURS, 0])
    found = track.when(target)
    assert found is not None
    back = float(track.sums_at(np.array([found]))[HOURS, 0])
    assert back == pytest.approx(target, abs=1e-9)
    assert found == pytest.approx(at_h(hour), abs=1.0)


@given(target=st.floats(0.001, 0.999))
def test_when_is_the_inverse_across_gaps_that_begin_and_end_inside_minutes(target: float) -> None:
    series = readings([0.0, 0.2512, 3.1177, 3.3, 3.7], 21.0, 0.5)
    track = clock(series)
    whole = float(track.sums_at(np.array([float(at_h(9.0))]))[HOURS, 0])
    found = track.when(target * whole)
    assert found is not None
    assert float(track.sums_at(np.array([found]))[HOURS, 0]) == pytest.approx(
        target * whole, abs=1e-9
    )
    assert not at_h(0.2512) + 1 < found < at_h(3.1177) - 1


@pytest.mark.parametrize("hour", [0.2505, 3.1180])
def test_when_is_the_inverse_inside_the_minutes_that_a_gap_opens_and_closes_in(
    hour: float,
) -> None:
    track = clock(readings([0.0, 0.2512, 3.1177, 3.3, 3.7], 21.0, 0.5))
    target = float(track.sums_at(np.array([float(at_h(hour))]))[HOURS, 0])
    assert track.when(target) == pytest.approx(at_h(hour), abs=1.0)


def test_when_has_no_answer_for_hours_that_are_not_earned() -> None:
    track = clock(steady(1.0))
    assert track.when(24.5) is None
    assert track.when(0.0) == T0_MS
    assert clock(readings([0.0], 21.0, 0.5)).when(0.0) is None


# ---- growing


@given(
    starts=st.lists(st.floats(0.0, 1.0), min_size=1, max_size=4),
    holes=st.lists(st.tuples(st.integers(0, 280), st.integers(1, 60)), max_size=3),
    with_surface=st.booleans(),
    asked=st.lists(st.floats(0.0, 48.0), min_size=4, max_size=4),
)
def test_a_clock_extended_piece_by_piece_equals_one_built_whole(
    *,
    starts: list[float],
    holes: list[tuple[int, int]],
    with_surface: bool,
    asked: list[float],
) -> None:
    """Whoever asks between, and however far back."""
    series = wavy()
    keep = np.ones(next(iter(series.values()))[0].size, dtype=bool)
    for begin, length in holes:
        keep[begin : begin + length] = False
    series = {key: (times[keep], values[keep]) for key, (times, values) in series.items()}
    if with_surface:
        series |= readings([5.0, 5.3, 5.71, 20.0, 20.4], surface_c=25.0)
    whole = clock(series)
    climate = ClimateTrack(T0_MINUTE)
    track = Narrow(climate, CURE, Bias())
    for cut, hour in zip([*sorted(starts), 1.0], [*asked, 0.0], strict=False):
        stop = T0_MS + cut * 48 * HOUR_MS
        here = {key: (t[t <= stop], v[t <= stop]) for key, (t, v) in series.items()}
        lasts = [
            T0_MS
            if climate.size == 0 or not (early := t[t <= (climate.frontier_ms or 0)]).size
            else int(early[-1])
            for t, _ in series.values()
        ]
        first = min(lasts) // MINUTE_MS
        track.extend(climate.splice(merge(here, first_minute=first, longest_gap_s=GAP_S)))
        stops = np.linspace(float(at_h(hour)), float(at_h(49.0)), 40)
        sums = track.sums_at(stops)
        plain = ClockTrack(climate, CURE, Bias()).sums_at(np.array([float(T0_MS), *stops]))[:, 1:]
        np.testing.assert_allclose(
            sums - sums[:, :1], plain - plain[:, :1], rtol=0, atol=1e-9, err_msg=str(hour)
        )
    at = np.arange(T0_MS, T0_MS + 3 * DAY_MS, 17_000.0)
    np.testing.assert_allclose(track.sums_at(at), whole.sums_at(at), rtol=0, atol=1e-9)


def test_extending_from_inside_a_gap_credits_the_whole_gap_at_its_faster_end() -> None:
    series = readings([0.0, 0.5, 5.0, 5.5], [21.0, 21.0, 31.0, 31.0], 0.5)
    whole = clock(series)
    climate = ClimateTrack(T0_MINUTE)
    climate.splice(block(series))
    track = ClockTrack(climate, CURE, Bias())
    assert not track.sums_at(np.array([float(T0_MS)])).any()
    track.extend(climate.splice(block(series, first_minute=T0_MINUTE + 200)))
    at = np.array([float(at_h(h)) for h in (0.5, 1.0, 3.0, 5.0, 5.5)])
    np.testing.assert_allclose(track.sums_at(at), whole.sums_at(at), rtol=0, atol=1e-9)


def test_a_gap_of_days_is_found_again_from_its_far_end() -> None:
    series = readings([0.0, 0.5, 80.0, 80.5], [21.0, 21.0, 31.0, 31.0], 0.5)
    whole = clock(series)
    climate = ClimateTrack(T0_MINUTE)
    climate.splice(block({key: (t[:3], v[:3]) for key, (t, v) in series.items()}))
    track = ClockTrack(climate, CURE, Bias())
    assert not track.sums_at(np.array([float(T0_MS)])).any()
    track.extend(climate.splice(block(series, first_minute=T0_MINUTE + 80 * 60)))
    at = np.array([float(at_h(h)) for h in (0.5, 40.0, 80.0, 80.5)])
    np.testing.assert_allclose(track.sums_at(at), whole.sums_at(at), rtol=0, atol=1e-9)


def test_a_clock_begins_near_what_was_asked_and_reaches_back_when_it_is_asked() -> None:
    series = wavy()
    late = np.linspace(float(at_h(40.0)), float(at_h(48.0)), 30)
    early = np.linspace(float(at_h(1.0)), float(at_h(48.0)), 30)
    climate = ClimateTrack(T0_MINUTE)
    climate.splice(block(series))
    track, whole = Narrow(climate, CURE, Bias()), clock(series)
    for at in (late, early, late):
        sums, plain = track.sums_at(at), whole.sums_at(at)
        np.testing.assert_allclose(sums - sums[:, :1], plain - plain[:, :1], rtol=0, atol=1e-11)
    behind = float(track.sums_at(late[:1])[HOURS, 0])
    assert track.when(behind + 2.0) == pytest.approx(
        whole.when(float(whole.sums_at(late[:1])[HOURS, 0]) + 2.0), abs=1.0
    )


def test_a_past_that_changes_before_a_clock_s_beginning_moves_that_beginning() -> None:
    """What was covered is open then: the gap began earlier, and is credited at that end."""
    series = readings(every(10, 48), 21.0, 0.5)
    climate = ClimateTrack(T0_MINUTE)
    climate.splice(block(series))
    track = Narrow(climate, CURE, Bias())
    stops = np.array([float(at_h(45.0)), float(at_h(48.0))])
    before = track.sums_at(stops)
    assert before[HOURS, 1] - before[HOURS, 0] == pytest.approx(3.0)
    hot = readings([0.0, 0.1, 47.0, 48.0], [40.0, 40.0, 21.0, 21.0], 0.5)
    track.extend(climate.splice(block(hot)))
    sums, plain = track.sums_at(stops), clock(hot).sums_at(np.array([float(T0_MS), *stops]))[:, 1:]
    np.testing.assert_allclose(sums - sums[:, :1], plain - plain[:, :1], rtol=0, atol=1e-9)
    assert sums[FAST, 1] - sums[FAST, 0] > 4.0


# ---- the early end


def test_a_gap_is_credited_at_the_faster_of_its_ends() -> None:
    series = readings([0.0, 0.5, 5.0, 5.5], [21.0, 21.0, 31.0, 31.0], 0.5)
    track = clock(series)
    warm = float(CURE.rates(np.array([31.0]), np.array([0.5]))[0])
    found = gained(track, 0.5, 5.0)
    assert found[HOURS] == 0.0
    assert found[FAST] == pytest.approx(4.5 * warm, rel=1e-9)
    cooling = readings([0.0, 0.5, 5.0, 5.5], [31.0, 31.0, 21.0, 21.0], 0.5)
    assert gained(clock(cooling), 0.5, 5.0)[FAST] == pytest.approx(4.5 * warm, rel=1e-9)


def test_a_gap_inside_minutes_is_credited_for_just_its_own_time() -> None:
    series = readings([0.0, 0.2512, 3.1177, 3.5], 21.0, 0.5)
    found = gained(clock(series), 0.0, 3.5)
    assert found[HOURS] == pytest.approx(3.5 - (3.1177 - 0.2512), abs=1e-6)
    assert found[FAST] == pytest.approx(3.5, abs=1e-6)


def test_past_the_newest_reading_the_early_end_goes_on_at_the_last_rate() -> None:
    track = clock(readings([0.0, 0.25, 0.5], 31.0, 0.5))
    warm = float(CURE.rates(np.array([31.0]), np.array([0.5]))[0])
    found = gained(track, 0.5, 8.0)
    assert found[HOURS] == 0.0
    assert found[FAST] == pytest.approx(7.5 * warm, rel=1e-9)


def test_where_humidity_alone_is_missing_the_measured_temperature_is_credited() -> None:
    """Also while it lasts: a warmer room later on takes nothing back from the hours before."""
    hours = every(10, 10)
    air = readings(hours, np.where(hours < 6.0, 21.0, 31.0))
    damp_then_dry = readings([0.0, 0.5, 9.5, 10.0], rh_frac=[0.6, 0.6, 0.3, 0.3], sensor="dial")
    found = gained(clock(air | damp_then_dry), 1.0, 5.0)
    cool_and_dry = float(CURE.rates(np.array([21.0]), np.array([0.3]))[0])
    assert found[HOURS] == 0.0
    assert found[FAST] == pytest.approx(4.0 * cool_and_dry, rel=1e-9)
    lasting = clock(air | readings([0.0, 0.5], rh_frac=0.6, sensor="dial"))
    cool_and_damp = float(CURE.rates(np.array([21.0]), np.array([0.6]))[0])
    assert gained(lasting, 1.0, 5.0)[FAST] == pytest.approx(4.0 * cool_and_damp, rel=1e-9)


def test_where_temperature_is_missing_too_its_own_faster_end_counts() -> None:
    air = readings([0.0, 0.5, 3.5, 4.0, 4.5, 5.0], [21.0, 21.0, 27.0, 31.0, 31.0, 31.0])
    found = gained(clock(air | readings([0.0, 0.5], rh_frac=0.5, sensor="dial")), 0.5, 3.5)
    warmer_end = float(CURE.rates(np.array([27.0]), np.array([0.5]))[0])
    assert found[FAST] == pytest.approx(3.0 * warmer_end, rel=1e-9)


@given(
    hours=st.lists(st.floats(0.001, 5.0), min_size=2, max_size=12),
    start=st.floats(0.0, 30.0),
    length=st.floats(0.0, 30.0),
    middle=st.floats(0.0, 1.0),
)
def test_the_early_end_never_lags_behind_the_hours(
    hours: list[float], start: float, length: float, middle: float
) -> None:
    times = np.cumsum(hours)
    track = clock(readings(times, 20.0 + 8.0 * np.sin(times * 3.0), 0.5))
    found = gained(track, start, start + length)
    assert found[FAST] >= found[HOURS] - 1e-9
    assert found[HOURS] >= 0.0
    assert found[FAST] >= gained(track, start, start + middle * length)[FAST] - 1e-9


# ---- what is missing, what is measured on the piece


def test_without_humidity_a_clock_that_needs_it_earns_nothing() -> None:
    series = steady(1.0, rh_frac=None)
    for law in (CURE, WATER):
        assert gained(clock(series, law), 0.0, 24.0)[HOURS] == 0.0
        assert clock(series, law).gaps(T0_MS, at_h(24.0)) == [(T0_MS, at_h(24.0))]
    for law in (DRY_CURE, SOLVENT):
        assert gained(clock(series, law), 0.0, 24.0)[HOURS] == pytest.approx(24.0, rel=1e-9)
        assert clock(series, law).gaps(T0_MS, at_h(24.0)) == []


def test_hours_stop_where_humidity_stops_though_temperature_goes_on() -> None:
    series = steady(1.0, rh_frac=None) | readings(every(10, 8), rh_frac=0.5, sensor="dial")
    track = clock(series)
    assert gained(track, 0.0, 24.0)[HOURS] == pytest.approx(8.0, rel=1e-9)
    assert track.gaps(T0_MS, at_h(24.0)) == [(at_h(8.0), at_h(24.0))]


def test_the_cure_clock_runs_on_the_surface_where_it_is_measured_and_drying_on_the_air() -> None:
    air = steady(1.0)
    both = air | readings(every(10, 24), surface_c=26.0, sensor="touch")
    warm = clock(readings(every(10, 24), 26.0, 0.5))
    assert gained(clock(both), 0.0, 24.0)[HOURS] == pytest.approx(
        gained(warm, 0.0, 24.0)[HOURS], rel=1e-12
    )
    assert gained(clock(both, WATER), 0.0, 24.0)[HOURS] == pytest.approx(24.0, rel=1e-9)


def test_where_the_surface_falls_silent_the_air_stands_in() -> None:
    both = steady(1.0) | readings(every(10, 6), surface_c=26.0, sensor="touch")
    track = clock(both)
    assert gained(track, 7.0, 24.0)[HOURS] == pytest.approx(17.0, rel=1e-9)
    assert gained(track, 0.0, 6.0)[HOURS] > 7.5


def test_above_the_upper_limit_hours_are_marked_as_extrapolated() -> None:
    track = clock(readings([0.0, 0.25, 0.5, 0.75, 1.0], [20.0, 20.0, 40.0, 40.0, 40.0], 0.5))
    held = float(CURE.rates(np.array([32.0]), np.array([0.5]))[0])
    found = gained(track, 0.5, 1.0)
    assert found[BEYOND] == pytest.approx(found[HOURS])
    assert found[HOURS] == pytest.approx(0.5 * held, rel=1e-9)
    assert gained(track, 0.0, 0.25)[BEYOND] == 0.0
    assert gained(clock(steady(1.0, 40.0), DRY_CURE), 0.0, 9.0)[BEYOND] == 0.0


def test_before_the_record_and_in_an_unheard_room_nothing_is_earned() -> None:
    track = clock(readings(every(10, 2, start_h=5.0), 21.0, 0.5))
    assert gained(track, -10.0, 5.0)[HOURS] == 0.0
    silent = ClockTrack(ClimateTrack(0), CURE, Bias())
    assert np.all(silent.sums_at(np.array([float(T0_MS)])) == 0.0)
    assert silent.when(0.0) is None
    assert (silent.last_rate, silent.last_doubt) == (0.0, 0.0)
    assert silent.gaps(T0_MS, at_h(1.0)) == []


def test_one_reading_alone_starts_a_clock_at_nought() -> None:
    track = clock(readings([0.0], 31.0, 0.5))
    assert gained(track, 0.0, 4.0)[HOURS] == 0.0
    assert gained(track, 0.0, 4.0)[FAST] > 4.0


# ---- doubt


@LAWS
def test_each_source_of_doubt_is_half_the_spread_of_the_same_sums(law: RateLaw) -> None:
    series, bias = wavy(), Bias(0.4, 0.03)
    found = gained(clock(series, law, bias), 2.0, 40.0)

    def shifted(temp_k: float, rh_frac: float) -> float:
        (times, temp), (_, rh) = series.values()
        held = np.clip(rh + rh_frac, 0.0, 1.0)
        moved = readings((times - T0_MS) / HOUR_MS, temp + temp_k, held)
        return float(gained(clock(moved, law), 2.0, 40.0)[HOURS])

    assert found[BY_TEMP] == pytest.approx((shifted(0.4, 0) - shifted(-0.4, 0)) / 2, abs=0.002)
    assert found[BY_RH] == pytest.approx((shifted(0, 0.03) - shifted(0, -0.03)) / 2, abs=0.002)


def test_the_doubt_of_the_activation_energy_is_half_the_spread_of_two_laws() -> None:
    series = wavy()
    low, high = (
        RateLaw(kinetics.CureLaw(ea, 0.3, lower_limit_c=15.0, upper_limit_c=32.0))
        for ea in (42.0, 68.0)
    )
    spread = [gained(clock(series, law), 2.0, 40.0)[HOURS] for law in (low, high)]
    found = gained(clock(series), 2.0, 40.0)
    assert found[BY_EA] == pytest.approx((spread[1] - spread[0]) / 2, rel=1e-6)
    assert found[BY_AIR] == 0.0


def test_the_doubt_of_the_air_is_half_the_spread_of_half_as_fast_again_and_as_slow() -> None:
    series = wavy(mean_c=21.0, swing_k=3.0)
    still = evaporation.AIR_SPEED_M_S["still"]
    spread = [
        gained(clock(series, RateLaw(evaporation.WaterDrying(air_speed_m_s=speed))), 2.0, 40.0)
        for speed in (still / 1.5, still * 1.5)
    ]
    found = gained(clock(series, WATER), 2.0, 40.0)
    assert found[BY_AIR] == pytest.approx((spread[1][HOURS] - spread[0][HOURS]) / 2, rel=1e-6)


def test_no_room_is_faster_than_the_fastest_rate() -> None:
    rng = np.random.default_rng(3)
    temp, rh = rng.uniform(-10, 60, 500), rng.uniform(0, 1, 500)
    for law in (CURE, DRY_CURE, WATER, SOLVENT):
        assert float(np.nanmax(law.rates(temp, rh))) <= law.fastest + 1e-9
