from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.shop.climate import (
    ASSUMED,
    MINUTE_MS,
    RH,
    RH_COVER,
    SURFACE,
    SURFACE_COVER,
    TEMP,
    TEMP_COVER,
    ClimateTrack,
    GridBlock,
    gaps,
    merge,
)
from curewatch.shop.piece import Fill
from curewatch.shop.reading import Quantity
from tests.shop.scene import GAP_S, HOUR_MS, T0_MINUTE, T0_MS, at_h, block, every, readings

if TYPE_CHECKING:
    from curewatch.shop.climate import Floats, Series

    Key = tuple[str, Quantity]

MIN_H = 1.0 / 60.0


def track_of(*blocks: GridBlock) -> ClimateTrack:
    track = ClimateTrack(blocks[0].first_minute)
    for one in blocks:
        track.splice(one)
    return track


def open_gaps(
    series: dict[Key, Series], start_ms: int, stop_ms: int, gap_s: float = GAP_S
) -> list[tuple[int, int]]:
    merged = block(series, gap_s=gap_s)
    return gaps(
        merged.rows[TEMP_COVER],
        merged.first_minute,
        start_ms=start_ms,
        stop_ms=stop_ms,
        frontier_ms=merged.frontier_ms,
    )


# ---- values


def test_grid_values_lie_on_the_straight_lines_between_the_readings() -> None:
    rng = np.random.default_rng(1)
    hours = np.cumsum(rng.uniform(0.01, 0.4, 60))
    temp, rh = rng.uniform(5, 30, 60), rng.uniform(0.2, 0.9, 60)
    merged = block(readings(hours, temp, rh))
    times = T0_MS + np.rint(hours * HOUR_MS)
    grid = (T0_MINUTE + np.arange(merged.rows.shape[1])) * MINUTE_MS
    np.testing.assert_allclose(merged.rows[TEMP], np.interp(grid, times, temp), rtol=0, atol=1e-12)
    np.testing.assert_allclose(merged.rows[RH], np.interp(grid, times, rh), rtol=0, atol=1e-12)


def test_the_grid_reaches_the_first_whole_minute_at_or_after_the_newest_reading() -> None:
    assert block(readings([0.0, 3 * MIN_H], 20.0)).rows.shape[1] == 4
    assert block(readings([0.0, 3.01 * MIN_H], 20.0)).rows.shape[1] == 5


def test_a_room_without_readings_is_one_unknown_minute() -> None:
    merged = block({})
    assert merged.frontier_ms is None
    assert merged.rows.shape == (7, 1)
    assert np.isnan(merged.rows[TEMP, 0])
    assert merged.rows[TEMP_COVER, 0] == 0.0


def test_a_series_that_has_lost_its_readings_is_as_good_as_none() -> None:
    nothing = readings([], [], sensor="dead")
    merged = block({**nothing, **readings([0.0, 0.2], 20.0)})
    assert merged.rows[TEMP].tolist() == [20.0] * 13
    assert block(nothing).frontier_ms is None


# ---- cover


def test_a_gap_that_starts_and_ends_inside_minutes_is_accounted_to_the_millisecond() -> None:
    start_ms, stop_ms = 754_321, 754_321 + 1_800_001
    hours = np.array([0.0, start_ms / HOUR_MS, stop_ms / HOUR_MS, 1.0])
    merged = block(readings(hours, 20.0))
    cover = merged.rows[TEMP_COVER]
    assert cover[12] * MINUTE_MS == pytest.approx(start_ms - 12 * MINUTE_MS, abs=1e-9)
    stop_cell = stop_ms // MINUTE_MS
    open_ms = stop_ms - stop_cell * MINUTE_MS
    assert cover[stop_cell] * MINUTE_MS == pytest.approx(MINUTE_MS - open_ms, abs=1e-9)
    assert np.all(cover[13:stop_cell] == 0.0)
    lost_ms = 1.0 * HOUR_MS - cover.sum() * MINUTE_MS
    assert lost_ms == pytest.approx(1_800_001, abs=1e-6)
    assert open_gaps(readings(hours, 20.0), T0_MS, at_h(1.0)) == [
        (T0_MS + start_ms, T0_MS + stop_ms)
    ]


@given(
    silence_ms=st.lists(st.integers(1, 4_000_000), min_size=1, max_size=12),
    offset_ms=st.integers(0, MINUTE_MS),
)
def test_cover_adds_up_to_the_bridged_silences_whatever_they_are(
    silence_ms: list[int], offset_ms: int
) -> None:
    times = offset_ms + np.concatenate(([0], np.cumsum(silence_ms)))
    merged = block(readings(times / HOUR_MS, 20.0))
    bridged = sum(one for one in silence_ms if one <= GAP_S * 1000)
    assert merged.rows[TEMP_COVER].sum() * MINUTE_MS == pytest.approx(bridged, abs=1e-3)
    assert np.all(merged.rows[TEMP_COVER] >= 0.0)
    assert np.all(merged.rows[TEMP_COVER] <= 1.0)


def test_a_silence_of_just_the_longest_gap_is_bridged() -> None:
    assert open_gaps(readings([0.0, GAP_S / 3600], 20.0), T0_MS, at_h(1.0)) == []


def test_an_isolated_reading_earns_nothing() -> None:
    merged = block(readings([0.0, 0.1, 2.0, 4.0, 4.1], [20.0, 20.0, 30.0, 20.0, 20.0]))
    assert merged.rows[TEMP_COVER].sum() == pytest.approx(12.0)
    assert np.all(merged.rows[TEMP_COVER, 7:239] == 0.0)


def test_inside_a_gap_the_nearer_reading_holds() -> None:
    merged = block(readings([0.0, 4.0], [10.0, 30.0]))
    assert merged.rows[TEMP, 119] == 10.0
    assert merged.rows[TEMP, 121] == 30.0


# ---- several sensors


def test_several_sensors_speak_by_their_median() -> None:
    hours = every(5, 1)
    series = {
        **readings(hours, 20.0, sensor="a"),
        **readings(hours, 21.0, sensor="b"),
        **readings(hours, 35.0, sensor="c"),
    }
    assert np.all(block(series).rows[TEMP] == 21.0)


def test_a_sensor_that_drops_out_leaves_the_room_to_the_others() -> None:
    series = {
        **readings(every(5, 4), 20.0, sensor="a"),
        **readings(every(5, 1), 24.0, sensor="b"),
    }
    temp = block(series).rows[TEMP]
    assert np.all(temp[:61] == 22.0)
    assert np.all(temp[61:] == 20.0)
    assert np.all(block(series).rows[TEMP_COVER, :240] == 1.0)


def test_in_a_gap_of_all_sensors_each_holds_its_nearest_value() -> None:
    series = {
        **readings([0.0, 0.1, 3.0, 3.1], 20.0, sensor="a"),
        **readings([0.0, 0.1, 3.0, 3.1], 24.0, sensor="b"),
    }
    merged = block(series)
    assert merged.rows[TEMP, 60] == 22.0
    assert merged.rows[TEMP_COVER, 60] == 0.0


def test_a_room_is_covered_where_any_of_its_sensors_speaks() -> None:
    series = {
        **readings([0.0, 0.25, 0.5], 20.0, sensor="a"),
        **readings([0.5, 0.75, 1.0], 20.0, sensor="b"),
    }
    assert np.all(block(series).rows[TEMP_COVER, :60] == 1.0)


# ---- fills


def a_fill(start_h: float, stop_h: float, temp_c: float = 15.0, rh: float = 0.4) -> Fill:
    return Fill("loft", at_h(start_h), at_h(stop_h), temp_c, rh, "the stove was out")


def test_a_fill_lays_its_climate_where_no_sensor_speaks_and_nowhere_else() -> None:
    series = readings([0.0, 0.1, 3.0, 3.1], 20.0, 0.5)
    merged = block(series, fills=[a_fill(0.0, 3.1)])
    assert np.all(merged.rows[TEMP_COVER, :186] == 1.0)
    assert np.all(merged.rows[RH_COVER, :186] == 1.0)
    assert np.all(merged.rows[TEMP, 7:180] == 15.0)
    assert np.all(merged.rows[RH, 7:180] == 0.4)
    assert np.all(merged.rows[TEMP, :6] == 20.0)
    assert np.all(merged.rows[TEMP, 180:] == 20.0)
    assert merged.rows[ASSUMED].sum() == pytest.approx(174.0)


def test_a_fill_of_part_of_a_gap_leaves_the_rest_open() -> None:
    series = readings([0.0, 0.1, 3.0, 3.1], 20.0)
    merged = block(series, fills=[a_fill(1.0, 2.0)])
    found = gaps(
        merged.rows[TEMP_COVER],
        T0_MINUTE,
        start_ms=T0_MS,
        stop_ms=at_h(3.1),
        frontier_ms=merged.frontier_ms,
    )
    assert found == [(at_h(0.1), at_h(1.0)), (at_h(2.0), at_h(3.0))]


def test_a_fill_inside_minutes_joins_the_readings_to_the_millisecond() -> None:
    hours = [0.0, 0.105, 3.007, 3.1]
    merged = block(readings(hours, 20.0), fills=[a_fill(0.105, 3.007)])
    np.testing.assert_allclose(merged.rows[TEMP_COVER, :186], 1.0, rtol=0, atol=1e-12)
    assert merged.rows[ASSUMED].sum() * MINUTE_MS == pytest.approx(2.902 * HOUR_MS, abs=1.0)


def test_a_fill_can_be_all_that_is_known_of_a_room() -> None:
    merged = block({}, fills=[a_fill(0.0, 1.0)])
    assert merged.frontier_ms == at_h(1.0)
    assert np.all(merged.rows[TEMP_COVER, :60] == 1.0)
    assert np.all(merged.rows[TEMP, :61] == 15.0)


# ---- splices


def rows_of(track: ClimateTrack) -> Floats:
    return np.array([track.row(which) for which in range(7)])


DRAWN_SERIES = st.lists(
    st.tuples(st.integers(1, 2_400_000), st.floats(5, 30), st.floats(0.1, 0.95)),
    min_size=2,
    max_size=14,
)


def drawn(rows: list[tuple[int, float, float]], sensor: str, offset_ms: int) -> dict[Key, Series]:
    times = T0_MS + offset_ms + np.cumsum([row[0] for row in rows]).astype(np.int64)
    return {
        (sensor, Quantity.TEMPERATURE): (times, np.array([row[1] for row in rows])),
        (sensor, Quantity.HUMIDITY): (times, np.array([row[2] for row in rows])),
    }


def known_up_to(series: dict[Key, Series], stop_ms: int) -> dict[Key, Series]:
    cut = {key: times.searchsorted(stop_ms, "right") for key, (times, _) in series.items()}
    return {key: (series[key][0][:n], series[key][1][:n]) for key, n in cut.items()}


@given(
    first=DRAWN_SERIES,
    second=DRAWN_SERIES,
    offset_ms=st.integers(0, 3_000_000),
    cuts=st.lists(st.floats(0.0, 1.0), min_size=1, max_size=5),
    fill=st.none() | st.tuples(st.floats(0.0, 4.0), st.floats(0.01, 3.0)),
)
def test_batches_spliced_one_after_another_equal_the_record_in_one_piece(
    first: list[tuple[int, float, float]],
    second: list[tuple[int, float, float]],
    offset_ms: int,
    cuts: list[float],
    fill: tuple[float, float] | None,
) -> None:
    series = {**drawn(first, "a", 0), **drawn(second, "b", offset_ms)}
    fills = [] if fill is None else [a_fill(fill[0], fill[0] + fill[1])]
    whole = merge(series, first_minute=T0_MINUTE, longest_gap_s=GAP_S, fills=fills)
    end = max(int(times[-1]) for times, _ in series.values())
    track = ClimateTrack(T0_MINUTE)
    dirty_ms = T0_MS
    for stop_ms in [*sorted(T0_MS + round(cut * (end - T0_MS)) for cut in cuts), end]:
        here = known_up_to(series, stop_ms)
        if track.size == 0:
            dirty_ms = T0_MS
        first_minute = dirty_ms // MINUTE_MS
        track.splice(merge(here, first_minute=first_minute, longest_gap_s=GAP_S, fills=fills))
        # the next readings change each sensor's record from its last one on
        dirty_ms = min((int(times[-1]) for times, _ in here.values() if times.size), default=T0_MS)
    assert np.array_equal(rows_of(track), whole.rows, equal_nan=True)


@given(
    first=DRAWN_SERIES,
    second=DRAWN_SERIES,
    offset_ms=st.integers(0, 3_000_000),
    starts=st.lists(st.floats(0.0, 1.0), min_size=1, max_size=6),
    fill=st.none() | st.tuples(st.floats(0.0, 4.0), st.floats(0.01, 3.0)),
)
def test_any_tail_spliced_in_any_order_leaves_the_same_record(
    first: list[tuple[int, float, float]],
    second: list[tuple[int, float, float]],
    offset_ms: int,
    starts: list[float],
    fill: tuple[float, float] | None,
) -> None:
    series = {**drawn(first, "a", 0), **drawn(second, "b", offset_ms)}
    fills = [] if fill is None else [a_fill(fill[0], fill[0] + fill[1])]
    whole = merge(series, first_minute=T0_MINUTE, longest_gap_s=GAP_S, fills=fills)
    track = track_of(whole)
    for start in starts:
        minute = T0_MINUTE + int(start * (whole.rows.shape[1] - 1))
        needed = {}
        for key, (times, values) in series.items():
            keep = max(int(times.searchsorted((minute - 1) * MINUTE_MS, "right")) - 1, 0)
            needed[key] = (times[keep:], values[keep:])
        track.splice(merge(needed, first_minute=minute, longest_gap_s=GAP_S, fills=fills))
        assert np.array_equal(rows_of(track), whole.rows, equal_nan=True)


def test_a_block_that_does_not_join_the_track_is_refused() -> None:
    track = track_of(block(readings(every(10, 1), 20.0)))
    with pytest.raises(ValueError, match="does not join"):
        track.splice(block(readings([5.0, 5.1], 20.0), first_minute=T0_MINUTE + 300))
    with pytest.raises(ValueError, match="does not join"):
        track.splice(block(readings([0.0, 0.1], 20.0), first_minute=T0_MINUTE - 1))


def test_a_track_grows_past_the_room_it_started_with() -> None:
    series = readings(every(30, 24 * 4), np.linspace(10.0, 20.0, 193))
    half = {key: (times[:97], values[:97]) for key, (times, values) in series.items()}
    track = track_of(block(half), block(series, first_minute=T0_MINUTE + 48 * 60))
    assert np.array_equal(rows_of(track), block(series).rows, equal_nan=True)


# ---- gaps


def test_gaps_are_cut_to_the_span_that_was_asked_for() -> None:
    series = readings([0.0, 0.25, 2.25, 2.5], 20.0)
    assert open_gaps(series, at_h(1.0), at_h(2.0)) == [(at_h(1.0), at_h(2.0))]
    assert open_gaps(series, at_h(0.1), at_h(0.2)) == []
    assert open_gaps(series, at_h(2.25), at_h(2.5)) == []


def test_time_before_the_record_is_a_gap() -> None:
    series = readings([0.5, 0.75, 1.0], 20.0)
    assert open_gaps(series, T0_MS - HOUR_MS, at_h(1.0)) == [(T0_MS - HOUR_MS, at_h(0.5))]


def test_the_silence_since_the_newest_reading_is_left_to_who_knows_now() -> None:
    assert open_gaps(readings([0.0, 0.25], 20.0), T0_MS, at_h(9.0)) == []


def test_nothing_is_said_of_a_room_that_was_never_heard() -> None:
    assert open_gaps({}, T0_MS, at_h(9.0)) == []


def test_a_span_that_ends_before_the_record_is_one_gap_up_to_its_end() -> None:
    series = readings([5.0, 5.25], 20.0)
    merged = block(series, first_minute=T0_MINUTE + 300)
    found = gaps(
        merged.rows[TEMP_COVER],
        T0_MINUTE + 300,
        start_ms=T0_MS,
        stop_ms=at_h(2.0),
        frontier_ms=merged.frontier_ms,
    )
    assert found == [(T0_MS, at_h(2.0))]


# ---- the climate at an instant


def test_the_climate_at_an_instant_names_what_is_measured_and_only_that() -> None:
    track = track_of(block(readings(every(10, 2), 20.0, surface_c=18.0)))
    here = track.at(at_h(1.0))
    assert here is not None
    assert (here.temp_c, here.rh_frac, here.surface_c) == (20.0, None, 18.0)
    assert track.row(SURFACE_COVER)[60] == 1.0
    assert track.row(SURFACE)[60] == 18.0


def test_the_climate_is_not_known_in_a_gap_or_outside_the_record() -> None:
    track = track_of(block(readings([0.0, 0.25, 2.25, 2.5], 20.0)))
    assert track.at(at_h(1.0)) is None
    assert track.at(T0_MS - 1) is None
    assert track.at(at_h(3.0)) is None


def test_the_last_known_climate_says_how_old_it_is() -> None:
    series = readings([0.0, 0.255, 30.0, 30.2], [10.0, 20.0, 25.0, 26.0], [0.3, 0.4, 0.5, 0.6])
    track = track_of(block(series))
    held = track.last_known(at_h(28.0))
    assert held is not None
    assert held.at_ms == at_h(0.255)
    assert held.temp_c == pytest.approx(20.0)
    newest = track.last_known(at_h(99.0))
    assert newest is not None
    assert newest.at_ms == at_h(30.2)
    assert newest.temp_c == pytest.approx(26.0)
    assert newest.rh_frac == pytest.approx(0.6)


def test_before_the_first_reading_no_climate_was_known() -> None:
    track = track_of(block(readings([1.0, 1.25], 20.0)))
    assert track.last_known(at_h(0.5)) is None
    assert ClimateTrack(T0_MINUTE).last_known(at_h(0.5)) is None


def test_coverage_is_the_share_of_time_that_readings_bridge() -> None:
    track = track_of(block(readings([0.0, 0.5, 2.0, 2.5], 20.0)))
    assert track.coverage_pct(T0_MS, at_h(2.5)) == pytest.approx(40.0)
    assert track.coverage_pct(at_h(0.5), at_h(2.0)) == 0.0
    assert track.coverage_pct(at_h(2.5), at_h(5.0)) == 0.0


def test_what_was_measured_minutes_ago_stays_beside_a_newer_reading() -> None:
    minutes = np.arange(61, dtype=np.int64) * MINUTE_MS

    def series(until: int) -> tuple[np.ndarray, np.ndarray]:
        return minutes[: until + 1], np.full(until + 1, 0.5)

    block = merge(
        {
            ("typed", Quantity.TEMPERATURE): series(60),
            ("air", Quantity.HUMIDITY): series(55),
            ("air", Quantity.SURFACE_TEMPERATURE): series(54),
        },
        first_minute=0,
        longest_gap_s=900.0,
    )
    track = ClimateTrack(0)
    assert track.fresh_at(60 * MINUTE_MS, within_ms=600_000.0) is None
    track.splice(block)
    newest = track.last_known(60 * MINUTE_MS)
    assert newest is not None
    assert (newest.rh_frac, newest.surface_c) == (None, None)
    fresh = track.fresh_at(60 * MINUTE_MS, within_ms=600_000.0)
    assert fresh is not None
    assert (fresh.temp_c, fresh.rh_frac, fresh.surface_c) == (0.5, 0.5, 0.5)
    stale = track.fresh_at(60 * MINUTE_MS, within_ms=240_000.0)
    assert stale is not None
    assert (stale.rh_frac, stale.surface_c) == (None, None)
    inside = track.fresh_at(30 * MINUTE_MS, within_ms=600_000.0)
    assert inside is not None
    assert (inside.rh_frac, inside.surface_c) == (0.5, 0.5)
