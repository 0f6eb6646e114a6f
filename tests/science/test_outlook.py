"""An outlook from the end of a record: sane in every room, and obedient to plans."""

import math
from itertools import pairwise

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.errors import BadInput
from curewatch.science.outlook import LONGEST_H, Outlook
from curewatch.science.outlook_band import default_half_width
from curewatch.science.outlook_past import (
    FASTEST_OF_H,
    KNOTS_H,
    WEIGHT_RANGE,
    Past,
    first_weights,
    look_ahead,
)
from curewatch.science.outlook_plans import SPARE, Planned, spare_over_fastest

FloatArray = npt.NDArray[np.float64]
DAY = np.arange(24.0)
HORIZONS_H = np.array([0.0, 0.5, 1.0, 6.0, 24.0, 72.0, 168.0, 500.0, float(LONGEST_H)])


def of(rates: FloatArray, *planned: Planned, step_s: float = 3600.0) -> Outlook:
    outlook = Outlook.of(rates, step_s, planned=planned)
    assert outlook is not None
    return outlook


def diurnal(days: int) -> FloatArray:
    return np.tile(1.0 + 0.5 * np.sin(2.0 * np.pi * DAY / 24.0), days)


records = st.lists(
    st.one_of(st.just(math.nan), st.floats(0.0, 20.0)), min_size=1, max_size=400
).map(np.array)


@given(records, st.sampled_from([60.0, 600.0, 3600.0]))
def test_any_record_gives_an_ordered_rising_finite_outlook_or_none(
    rates: FloatArray, step_s: float
) -> None:
    outlook = Outlook.of(rates, step_s)
    if outlook is None:
        assert not np.any(np.isfinite(rates))
        return
    ahead = outlook.effective_hours(HORIZONS_H)
    for hours in (ahead.least, ahead.likely, ahead.most):
        assert np.all(np.isfinite(hours))
        assert hours[0] == 0.0
        assert np.all(np.diff(hours) >= 0.0)
    assert np.all(ahead.least <= ahead.likely + 1e-12)
    assert np.all(ahead.likely <= ahead.most + 1e-12)


rooms = st.lists(
    st.tuples(st.one_of(st.just(math.nan), st.just(0.0), st.floats(0.0, 5.0)), st.integers(1, 400)),
    min_size=1,
    max_size=8,
).map(lambda stretches: np.concatenate([np.full(hours, rate) for rate, hours in stretches]))
"""Rooms that stand still, fall silent and are warm again, in stretches of hours to weeks."""


@given(rooms)
def test_no_record_of_standstills_and_gaps_promises_more_than_its_fastest_hours(
    rates: FloatArray,
) -> None:
    outlook = Outlook.of(rates, 3600.0)
    if outlook is None:
        assert not np.any(np.isfinite(rates))
        return
    fastest = float(np.nanmax(rates))
    ahead = outlook.effective_hours(HORIZONS_H)
    for hours in (ahead.least, ahead.likely, ahead.most):
        assert np.all(np.isfinite(hours))
        assert np.all(np.diff(hours) >= 0.0)
    assert np.all(ahead.least <= ahead.likely)
    assert np.all(ahead.likely <= ahead.most)
    assert np.all(ahead.likely <= fastest * HORIZONS_H * (1.0 + 1e-9))
    assert np.all(ahead.most <= (1.0 + SPARE) * fastest * HORIZONS_H * (1.0 + 1e-9))


@given(rooms)
def test_no_record_teaches_weights_without_measure(rates: FloatArray) -> None:
    past = Past.of(rates)
    low, high = WEIGHT_RANGE
    for knot_h in KNOTS_H:
        look = look_ahead(past, knot_h)
        assert np.all((look.weights >= low) & (look.weights <= high))
        assert np.all(np.isfinite(look.likely))


@pytest.mark.parametrize("known_days", [5, 12, 30, 100])
@pytest.mark.parametrize("ago_h", [1, 2, 3, 6])
def test_one_night_at_nothing_does_not_run_away_with_the_outlook(
    known_days: int, ago_h: int
) -> None:
    rates = np.ones(24 * known_days)
    rates[-10 - ago_h : -ago_h] = 0.0
    ahead = of(rates).effective_hours(np.array([5.0, 24.0, 72.0]))
    assert np.all(ahead.likely <= [5.0, 24.0, 72.0])
    assert np.all(ahead.likely >= [4.0, 17.0, 54.0])
    assert np.all(ahead.most <= np.array([5.0, 24.0, 72.0]) * 1.6)
    assert Past.of(rates).fastest[-1] == 1.0


def test_what_a_night_at_nothing_teaches_is_little() -> None:
    """The weights themselves stay near the first ones; it is not the ceiling alone that saves."""
    rates = np.ones(24 * 30)
    rates[-13:-3] = 0.0
    for knot_h in KNOTS_H:
        learnt = look_ahead(Past.of(rates), knot_h).weights[-1]
        assert np.all(np.abs(learnt - first_weights(knot_h)) < 0.6)


@given(rooms, st.floats(0.5, 2.0))
def test_a_finish_that_is_twice_as_fast_earns_twice_as_much(
    rates: FloatArray, factor: float
) -> None:
    """Where nothing stands still: what is added before logarithms hardly counts there."""
    rates = 0.5 + rates
    one, other = Outlook.of(rates, 3600.0), Outlook.of(factor * rates, 3600.0)
    if one is None or other is None:
        assert one is other
        return
    for name in ("likely", "least", "most"):
        hours, scaled = (getattr(o.effective_hours(HORIZONS_H), name) for o in (one, other))
        assert np.allclose(scaled, factor * hours, rtol=0.03)


def test_a_room_silent_for_longer_than_its_fastest_hour_is_looked_for_is_as_it_was() -> None:
    silent = np.concatenate((np.full(24 * 30, 0.8), np.full(24 * 100, np.nan)))
    assert of(silent).effective_hours(24.0).likely == pytest.approx(0.8 * 24.0)


def test_the_fastest_hour_is_forgotten_after_its_days() -> None:
    rates = np.concatenate(([5.0], np.ones(FASTEST_OF_H)))
    assert Past.of(rates).fastest[-1] == 1.0
    assert Past.of(rates[:-1]).fastest[-1] == 5.0


def test_the_spare_over_the_fastest_hour_shrinks_with_what_is_known() -> None:
    days = (0, 3, 30, 90)
    spares = [spare_over_fastest(np.ones(24 * count)) for count in days]
    assert spares[:2] == [1.0 + SPARE, 1.0 + SPARE / 2.0]
    assert all(later < before for before, later in pairwise(spares))
    assert spares[-1] < 1.05
    assert spare_over_fastest(np.full(24, np.nan)) == 1.0 + SPARE


@given(records, st.floats(0.001, 50.0))
def test_when_is_the_inverse_of_effective_hours(rates: FloatArray, needed: float) -> None:
    outlook = Outlook.of(rates, 3600.0)
    if outlook is None:
        return
    when = outlook.when(needed)
    for at, name in ((when.early, "most"), (when.likely, "likely"), (when.late, "least")):
        if at is None:
            assert getattr(outlook.effective_hours(LONGEST_H), name) < needed
        else:
            assert np.isclose(getattr(outlook.effective_hours(at), name), needed, rtol=1e-6)
    if when.late is not None:
        assert when.early is not None
        assert when.likely is not None
        assert when.early <= when.likely + 1e-9 <= when.late + 2e-9


@pytest.mark.parametrize("hours", [1, 30, 24 * 60])
def test_a_constant_room_goes_on_as_it_is(hours: int) -> None:
    ahead = of(np.full(hours * 60, 0.8), step_s=60.0).effective_hours(HORIZONS_H)
    assert np.allclose(ahead.likely, 0.8 * HORIZONS_H, rtol=1e-9)


def test_a_constant_room_is_known_better_the_longer_it_was_watched() -> None:
    widths = []
    for days in (0.1, 5, 14, 30, 90):
        ahead = of(np.full(max(int(days * 24), 1), 1.0)).effective_hours(72.0)
        widths.append(float(np.log(ahead.most / ahead.least)))
    assert widths[0] == pytest.approx(2.0 * default_half_width(72.0), rel=1e-9)
    assert all(later < before for before, later in pairwise(widths))
    assert widths[-1] < 0.1


def test_five_minutes_of_a_new_room_are_enough_to_begin_with() -> None:
    assert float(of(np.full(5, 0.7), step_s=60.0).effective_hours(10.0).likely) == pytest.approx(
        7.0
    )


def test_the_diurnal_shape_is_kept() -> None:
    outlook = of(diurnal(14))
    edges = outlook.effective_hours(np.arange(49.0)).likely
    assert np.allclose(np.diff(edges), diurnal(2), rtol=0.02)


def test_a_part_of_an_hour_is_part_of_the_hour_before_the_end() -> None:
    """The hours that count end at now, whatever the clock on the wall says."""
    rates = np.concatenate((np.full(90, 5.0), np.full(60, 1.0)))
    ahead = of(rates, step_s=60.0).effective_hours(1.0)
    assert 1.0 <= ahead.likely < 1.4


def test_silence_at_the_end_is_bridged_by_what_was_known_before() -> None:
    silent = np.concatenate((diurnal(14), np.full(24, np.nan)))
    ahead = of(silent).effective_hours(24.0)
    assert ahead.likely == pytest.approx(24.0, rel=0.05)
    for hours in (200, 900):  # a week and a month without a word
        longer = np.concatenate((diurnal(14), np.full(hours, np.nan)))
        assert of(longer).effective_hours(24.0).likely == pytest.approx(24.0, rel=0.1)


def test_a_room_below_its_limit_for_a_month_earns_nothing_and_tells_no_date() -> None:
    outlook = of(np.zeros(24 * 30))
    assert outlook.effective_hours(LONGEST_H).most == 0.0
    assert outlook.when(1.0).early is None
    assert outlook.when(0.0).late == 0.0


def test_a_change_of_now_matters_less_far_ahead() -> None:
    warm = np.concatenate((np.full(24 * 30, 0.5), np.full(3, 1.0)))
    ahead = of(warm).effective_hours(np.array([1.0, 24.0, 336.0]))
    mean = ahead.likely / np.array([1.0, 24.0, 336.0])
    assert mean[0] > 0.9
    assert 0.5 < mean[2] < mean[1] < mean[0]


def test_nothing_known_is_no_outlook() -> None:
    assert Outlook.of(np.array([]), 60.0) is None
    assert Outlook.of(np.full(100, np.nan), 60.0) is None


def test_an_unknown_room_on_a_set_point_from_now_on_has_an_outlook_with_the_wide_band() -> None:
    outlook = of(np.full(10, np.nan), Planned(0.0, math.inf, (0.9,)))
    ahead = outlook.effective_hours(100.0)
    assert ahead.likely == pytest.approx(90.0)
    assert ahead.most / ahead.likely == pytest.approx(math.exp(default_half_width(100.0)), rel=1e-3)
    late_plan = (Planned(1.0, math.inf, (0.9,)),)
    assert Outlook.of(np.full(10, np.nan), 3600.0, planned=late_plan) is None


def test_a_set_point_is_obeyed_from_its_start_to_its_stop() -> None:
    outlook = of(np.full(24 * 30, 1.0), Planned(2.5, 10.25, (0.4,)))
    hours = outlook.effective_hours(np.array([2.5, 10.25, 20.25])).likely
    assert np.allclose(hours, [2.5, 2.5 + 7.75 * 0.4, 2.5 + 7.75 * 0.4 + 10.0], rtol=1e-9)


def test_a_plan_that_began_before_now_is_obeyed_for_the_rest() -> None:
    outlook = of(np.full(24 * 30, 1.0), Planned(-10.0, 10.0, (0.2, 0.6)))
    assert outlook.effective_hours(12.0).likely == pytest.approx(10.0 * 0.6 + 2.0)


def test_parts_of_a_stretch_are_laid_out_evenly() -> None:
    outlook = of(np.full(24, 1.0), Planned(1.0, 4.0, (0.1, 0.2, 0.3)))
    hours = outlook.effective_hours(np.array([1.0, 2.0, 3.0, 4.0])).likely
    assert np.allclose(np.diff(hours), [0.1, 0.2, 0.3], rtol=1e-9)


def test_the_later_of_two_plans_rules_where_they_overlap() -> None:
    outlook = of(np.full(24, 1.0), Planned(0.0, math.inf, (0.5,)), Planned(10.0, 20.0, (0.0,)))
    assert outlook.effective_hours(30.0).likely == pytest.approx(10.0)


def test_a_plan_changes_nothing_before_its_start() -> None:
    rates = diurnal(20)
    plain, planned = of(rates), of(rates, Planned(30.0, 50.0, (0.0,), free=True))
    at = np.arange(0.0, 30.5, 0.5)
    for name in ("least", "likely", "most"):
        one, other = (getattr(o.effective_hours(at), name) for o in (plain, planned))
        assert np.allclose(one, other, rtol=1e-9)


def test_a_room_left_to_itself_is_known_no_better_than_a_strange_one() -> None:
    rates = np.full(24 * 90, 1.0)
    kept = of(rates, Planned(5.0, 60.0, (0.5,))).effective_hours(50.0)
    free = of(rates, Planned(5.0, 60.0, (0.5,), free=True)).effective_hours(50.0)
    assert free.likely == kept.likely
    assert math.log(free.most / free.likely) >= default_half_width(50.0) - 0.01
    assert kept.most < free.most
    assert kept.least > free.least


def test_a_room_left_to_itself_has_the_ends_of_its_own_climate() -> None:
    rates = np.full(24 * 90, 1.0)
    plan = Planned(5.0, 25.0, (0.5, 0.4), free=True, low=(0.3, 0.1), high=(0.8, 0.4))
    plain, ahead = (
        o.effective_hours(np.array([5.0, 15.0, 25.0, 49.0])) for o in (of(rates), of(rates, plan))
    )
    for name, first, second in (("likely", 5.0, 4.0), ("least", 3.0, 1.0), ("most", 8.0, 4.0)):
        hours, before = getattr(ahead, name), getattr(plain, name)
        assert hours[0] == pytest.approx(float(before[0]))
        assert hours[1] - hours[0] == pytest.approx(first, rel=0.02)
        assert hours[2] - hours[1] == pytest.approx(second, rel=0.02)
        assert hours[3] - hours[2] == pytest.approx(24.0, rel=0.1)


def test_a_later_plan_without_ends_of_its_own_takes_the_band_of_the_room() -> None:
    rates = np.full(24 * 90, 1.0)
    free = Planned(0.0, 20.0, (0.5,), free=True, low=(0.0,), high=(1.0,))
    kept = Planned(0.0, 20.0, (0.6,))
    over, alone = (of(rates, *plans).effective_hours(20.0) for plans in ((free, kept), (kept,)))
    assert (over.least, over.likely, over.most) == (alone.least, alone.likely, alone.most)


@pytest.mark.parametrize(
    ("low", "high"),
    [((0.4,), ()), ((), (0.6,)), ((0.6,), (0.7,)), ((0.3,), (0.4,)), ((0.1, 0.2), (0.6, 0.6))],
)
def test_ends_that_do_not_enclose_the_rates_are_refused(
    low: tuple[float, ...], high: tuple[float, ...]
) -> None:
    with pytest.raises(BadInput, match="do not enclose its rates part by part"):
        Planned(0.0, 5.0, (0.5,), low=low, high=high)


@pytest.mark.parametrize(
    ("start_h", "stop_h", "rates", "said"),
    [
        (5.0, 5.0, (1.0,), "start before it stops"),
        (math.nan, 5.0, (1.0,), "start before it stops"),
        (0.0, math.nan, (1.0,), "start before it stops"),
        (0.0, 5.0, (), "at least one"),
        (0.0, math.inf, (1.0, 2.0), "exactly one"),
        (0.0, 5.0, (-1.0,), "rates at index 0 is -1"),
    ],
)
def test_a_plan_that_cannot_be_meant_is_refused(
    start_h: float, stop_h: float, rates: tuple[float, ...], said: str
) -> None:
    with pytest.raises(BadInput, match=said):
        Planned(start_h, stop_h, rates)


@pytest.mark.parametrize("step_s", [7.0 * 3600.0, 47.0, 8000.0])
def test_a_step_that_does_not_make_up_an_hour_is_refused(step_s: float) -> None:
    with pytest.raises(BadInput, match="a whole number makes an hour"):
        Outlook.of(np.ones(10), step_s)


def test_records_that_cannot_be_are_refused() -> None:
    with pytest.raises(BadInput, match="one row of values"):
        Outlook.of(np.ones((2, 2)), 3600.0)
    with pytest.raises(BadInput, match="rate_grid at index 1 is infinite"):
        Outlook.of([1.0, math.inf], 3600.0)
    with pytest.raises(BadInput, match="rate_grid at index 1 is negative"):
        Outlook.of([1.0, -0.1], 3600.0)
    with pytest.raises(BadInput, match="step_s is 0"):
        Outlook.of([1.0], 0.0)


@pytest.mark.parametrize("horizon_h", [-1.0, LONGEST_H + 1.0, math.nan])
def test_a_horizon_outside_is_refused(horizon_h: float) -> None:
    with pytest.raises(BadInput, match="horizons_h is"):
        of(np.ones(10)).effective_hours(horizon_h)
