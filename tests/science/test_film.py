"""Sink-back: what must hold for any stack, the figures of the default one, and what is refused."""

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from curewatch.errors import BadInput
from curewatch.science.film import (
    CELLS_PER_COAT,
    FURTHEST_H,
    SINK_TOLERANCE_UM,
    WATERBORNE_COAT_UM,
    WATERBORNE_DIFFUSIVITY_UM2_H,
    WATERBORNE_SOURCE,
    WATERBORNE_STANDING,
    WATERBORNE_TRANSFER_UM_H,
    WATERBORNE_VOLATILE_FRAC,
    Stack,
    remaining_um,
)
from curewatch.science.kinetics import CureLaw, rate

WATERBORNE = {
    "coat_um": WATERBORNE_COAT_UM,
    "volatile_frac": WATERBORNE_VOLATILE_FRAC,
    "diffusivity_um2_h": WATERBORNE_DIFFUSIVITY_UM2_H,
    "transfer_um_h": WATERBORNE_TRANSFER_UM_H,
}
LAID_UM = WATERBORNE_COAT_UM * WATERBORNE_VOLATILE_FRAC


@st.composite
def some_films(draw: Callable, most_coats: int = 7) -> dict[str, object]:
    """Coats of any sort, with the gaps between them."""
    gaps = draw(st.lists(st.floats(0.0, 100.0), max_size=most_coats - 1))
    count = len(gaps) + 1
    return {
        "coat_clock_h": np.cumsum([draw(st.floats(-50.0, 50.0)), *gaps]),
        "coat_um": [draw(st.floats(5.0, 150.0)) for _ in range(count)],
        "volatile_frac": [draw(st.floats(0.001, 0.5)) for _ in range(count)],
        "diffusivity_um2_h": draw(st.floats(0.1, 1e4)),
        "transfer_um_h": draw(st.floats(0.01, 1e3)),
    }


def a_day(count: int, coats_a_day: int, hours_between: float = 1.2) -> list[float]:
    """Clock readings of so many coats a day, the first at midnight."""
    return [24.0 * (i // coats_a_day) + hours_between * (i % coats_a_day) for i in range(count)]


def days_to_tolerance(clock_h: list[float], **changed: float) -> float:
    """Days after the last coat until the default tolerance is met."""
    when_h = Stack.laid(clock_h, **(WATERBORNE | changed)).when_below_um()
    assert when_h is not None
    return (when_h - clock_h[-1]) / 24.0


# What holds for any stack


@given(any_film=some_films(), after_h=st.floats(0.0, 1000.0))
def test_what_was_held_has_either_left_or_is_still_there(
    any_film: dict[str, object], after_h: float
) -> None:
    stack = Stack.laid(**any_film)
    held = stack.remaining_um(stack.laid_at_h)
    now_h = stack.laid_at_h + after_h
    total = stack.remaining_um(now_h) + stack.given_off_um(now_h)
    assert total == pytest.approx(float(held), rel=1e-9)


@given(any_film=some_films())
def test_a_new_coat_adds_just_what_it_was_laid_with(any_film: dict[str, object]) -> None:
    clock = any_film["coat_clock_h"]
    assume(np.all(np.diff(clock) > 0.0))
    whole = remaining_um(now_h=clock[-1], **any_film)
    below = {key: any_film[key] for key in ("diffusivity_um2_h", "transfer_um_h")}
    before = (
        remaining_um(
            clock[:-1],
            clock[-1],
            coat_um=any_film["coat_um"][:-1],
            volatile_frac=any_film["volatile_frac"][:-1],
            **below,
        )
        if clock.size > 1
        else 0.0
    )
    fresh = any_film["coat_um"][-1] * any_film["volatile_frac"][-1]
    assert whole == pytest.approx(float(before) + fresh, rel=1e-9)


@given(any_film=some_films(), hours=st.lists(st.floats(0.0, 500.0), min_size=2, max_size=5))
def test_waiting_never_leaves_more(any_film: dict[str, object], hours: list[float]) -> None:
    stack = Stack.laid(**any_film)
    left = stack.remaining_um(stack.laid_at_h + np.sort(hours))
    assert np.all(np.diff(left) <= 1e-9)
    assert np.all(stack.flux_um_h(stack.laid_at_h + np.sort(hours)) >= -1e-9)


@given(
    any_film=some_films(),
    which=st.integers(0, 5),
    longer_h=st.floats(0.0, 100.0),
    after_h=st.floats(0.0, 200.0),
)
def test_a_longer_wait_before_any_coat_never_leaves_more(
    any_film: dict[str, object], which: int, longer_h: float, after_h: float
) -> None:
    clock = any_film["coat_clock_h"]
    waited = clock + longer_h * (np.arange(clock.size) > which)
    hasty = remaining_um(now_h=clock[-1] + after_h, **any_film)
    patient = remaining_um(now_h=waited[-1] + after_h, **(any_film | {"coat_clock_h": waited}))
    assert patient <= hasty * (1.0 + 1e-9) + 1e-12


@given(
    any_film=some_films(),
    one_c=st.floats(5.0, 40.0),
    other_c=st.floats(5.0, 40.0),
    after_h=st.floats(0.0, 200.0),
)
def test_a_warmer_room_never_leaves_more(
    any_film: dict[str, object], one_c: float, other_c: float, after_h: float
) -> None:
    wall_h = any_film["coat_clock_h"] - any_film["coat_clock_h"][0]
    left = []
    for temp_c in sorted((one_c, other_c)):
        pace = float(rate(temp_c, 0.5, CureLaw(55.0)))
        now_h = pace * (wall_h[-1] + after_h)
        left.append(remaining_um(now_h=now_h, **(any_film | {"coat_clock_h": pace * wall_h})))
    cold, warm = left
    assert warm <= cold * (1.0 + 1e-9) + 1e-12


@given(any_film=some_films(), pace=st.floats(0.3, 3.0), after_h=st.floats(0.0, 200.0))
def test_a_pace_on_both_coefficients_is_a_pace_on_the_hours(
    any_film: dict[str, object], pace: float, after_h: float
) -> None:
    clock = any_film["coat_clock_h"] - any_film["coat_clock_h"][0]
    now_h = clock[-1] + after_h
    slowed = any_film | {
        "coat_clock_h": clock,
        "diffusivity_um2_h": any_film["diffusivity_um2_h"] / pace,
        "transfer_um_h": any_film["transfer_um_h"] / pace,
    }
    hours = any_film | {"coat_clock_h": clock / pace}
    assert remaining_um(now_h=now_h, **slowed) == pytest.approx(
        float(remaining_um(now_h=now_h / pace, **hours)), rel=1e-8, abs=1e-12
    )


@given(
    any_film=some_films(most_coats=5), first_h=st.floats(0.0, 100.0), then_h=st.floats(0.0, 100.0)
)
def test_a_wait_is_the_same_in_one_piece_or_in_two(
    any_film: dict[str, object], first_h: float, then_h: float
) -> None:
    stack = Stack.laid(**any_film)
    halfway_h = stack.laid_at_h + first_h
    profile = stack.profile(halfway_h)
    # The second piece starts from the cells of the first, each laid as a coat of its own.
    second = Stack.laid(
        np.full(profile.cell_um.size, halfway_h),
        coat_um=profile.cell_um,
        volatile_frac=np.clip(profile.volatile_frac, 0.0, 0.5),
        diffusivity_um2_h=any_film["diffusivity_um2_h"],
        transfer_um_h=any_film["transfer_um_h"],
        cells_per_coat=1,
    )
    now_h = halfway_h + then_h
    held = float(stack.remaining_um(stack.laid_at_h))
    assert second.remaining_um(now_h) == pytest.approx(
        float(stack.remaining_um(now_h)), rel=1e-9, abs=1e-12 * held
    )


@given(any_film=some_films(), after_h=st.floats(0.0, 200.0))
def test_the_profile_adds_up_to_what_is_still_to_come(
    any_film: dict[str, object], after_h: float
) -> None:
    stack = Stack.laid(**any_film)
    now_h = stack.laid_at_h + after_h
    profile = stack.profile(now_h)
    assert profile.cell_um @ profile.volatile_frac == pytest.approx(
        float(stack.remaining_um(now_h)), rel=1e-9, abs=1e-12
    )
    assert np.all(profile.volatile_frac >= -1e-12)
    assert np.all(profile.volatile_frac <= max(any_film["volatile_frac"]) + 1e-12)


@given(any_film=some_films(), after_h=st.floats(0.01, 200.0))
def test_the_flux_is_the_slope_of_what_is_still_to_come(
    any_film: dict[str, object], after_h: float
) -> None:
    stack = Stack.laid(**any_film)
    now_h = stack.laid_at_h + after_h
    decay = stack.fading().decay_per_h
    weight = stack.fading().weight_um
    slope = -np.sum(decay * weight * np.exp(-decay * (now_h - stack.laid_at_h)))
    largest = float(stack.flux_um_h(stack.laid_at_h))
    assert stack.flux_um_h(now_h) == pytest.approx(-slope, rel=1e-6, abs=1e-9 * largest)


@given(diffusivity=st.floats(0.1, 1e4), transfer=st.floats(0.01, 1e3))
def test_a_fresh_coat_loses_through_half_a_cell_and_the_surface_in_a_row(
    diffusivity: float, transfer: float
) -> None:
    changed = {"diffusivity_um2_h": diffusivity, "transfer_um_h": transfer}
    stack = Stack.laid(0.0, **(WATERBORNE | changed))
    half_cell_um = 0.5 * WATERBORNE_COAT_UM / CELLS_PER_COAT
    expected = WATERBORNE_VOLATILE_FRAC / (half_cell_um / diffusivity + 1.0 / transfer)
    assert stack.flux_um_h(0.0) == pytest.approx(expected, rel=1e-9)


@given(any_film=some_films(), hours=st.lists(st.floats(0.0, 1e5), min_size=1, max_size=20))
def test_no_stack_ever_holds_less_than_nothing(
    any_film: dict[str, object], hours: list[float]
) -> None:
    stack = Stack.laid(**any_film)
    assert np.all(stack.remaining_um(stack.laid_at_h + np.asarray(hours)) >= 0.0)


@given(any_film=some_films(), tolerance=st.floats(1e-3, 50.0))
def test_at_the_told_hour_the_tolerance_is_met_and_just_before_it_is_not(
    any_film: dict[str, object], tolerance: float
) -> None:
    stack = Stack.laid(**any_film)
    when_h = stack.when_below_um(tolerance)
    if when_h is None:
        assert stack.remaining_um(stack.laid_at_h + FURTHEST_H) > tolerance
        return
    assert stack.remaining_um(when_h) <= tolerance * (1.0 + 1e-9)
    if when_h > stack.laid_at_h + 2e-6:
        assert stack.remaining_um(when_h - 2e-6) > tolerance


# Instants before, between and after the coats


def test_each_coat_is_there_from_its_instant_on() -> None:
    clock = [0.0, 24.0, 48.0]
    left = remaining_um(clock, [-1.0, 0.0, 23.9999999, 24.0, 47.9999999, 48.0], **WATERBORNE)
    assert left[0] == 0.0
    assert left[1] == pytest.approx(LAID_UM, rel=1e-12)
    assert left[3] - left[2] == pytest.approx(LAID_UM, rel=1e-6)
    assert left[5] - left[4] == pytest.approx(LAID_UM, rel=1e-6)


def test_between_coats_the_answer_is_that_of_the_coats_that_are_there() -> None:
    clock = a_day(6, 3)
    for count in range(1, 6):
        between = 0.5 * (clock[count - 1] + clock[count])
        lower = Stack.laid(clock[:count], **WATERBORNE)
        assert remaining_um(clock, between, **WATERBORNE) == lower.remaining_um(between)


def test_instants_may_come_in_any_order_and_shape() -> None:
    clock = a_day(5, 2)
    now = np.array([[90.0, -3.0, 25.0], [1.0, 49.0, 24.0]])
    left = remaining_um(clock, now, **WATERBORNE)
    assert left.shape == now.shape
    for instant, value in zip(now.flat, left.flat, strict=True):
        assert remaining_um(clock, float(instant), **WATERBORNE) == pytest.approx(
            float(value), rel=1e-12
        )
    assert remaining_um(clock, [], **WATERBORNE).shape == (0,)


def test_coats_of_one_instant_are_one_thick_coat() -> None:
    together = Stack.laid([5.0, 5.0, 5.0], **WATERBORNE)
    thick = Stack.laid(5.0, **(WATERBORNE | {"coat_um": 75.0}), cells_per_coat=3 * CELLS_PER_COAT)
    now = 5.0 + np.array([0.0, 1.0, 10.0, 100.0])
    np.testing.assert_allclose(together.remaining_um(now), thick.remaining_um(now), rtol=1e-9)


def test_a_list_of_equal_coats_is_the_same_as_one_value_for_all() -> None:
    clock = [0.0, 10.0]
    listed = WATERBORNE | {"coat_um": [25.0, 25.0], "volatile_frac": [0.08, 0.08]}
    assert remaining_um(clock, 30.0, **listed) == remaining_um(clock, 30.0, **WATERBORNE)


def test_each_coat_brings_its_own_thickness_and_fraction() -> None:
    own = WATERBORNE | {"coat_um": [40.0, 20.0], "volatile_frac": [0.0, 0.1]}
    assert remaining_um([0.0, 1.0], [0.5, 1.0], **own) == pytest.approx([0.0, 2.0])


def test_a_fresh_coat_feeds_the_dry_ones_below() -> None:
    stack = Stack.laid([0.0, 500.0], **WATERBORNE)
    fresh, soon = stack.profile(500.0), stack.profile(501.0)
    np.testing.assert_array_equal(fresh.coat, [1] * CELLS_PER_COAT + [2] * CELLS_PER_COAT)
    np.testing.assert_allclose(fresh.cell_um, WATERBORNE_COAT_UM / CELLS_PER_COAT)
    np.testing.assert_allclose(fresh.volatile_frac[fresh.coat == 1], 0.0, atol=1e-12)
    np.testing.assert_allclose(fresh.volatile_frac[fresh.coat == 2], WATERBORNE_VOLATILE_FRAC)
    assert np.all(soon.volatile_frac[soon.coat == 1] > 0.001)


def test_what_is_kept_between_calls_cannot_be_spoilt() -> None:
    stack = Stack.laid([0.0, 24.0], **WATERBORNE)
    with pytest.raises(ValueError, match="read-only"):
        stack.profile(30.0).cell_um[0] = 1.0


# The default stack: its figures are a rule of thumb, so these are reproductions and no evidence.
# The trade's rule (common practice, no source): buff one full day a coat after the last.


def test_the_default_stack_says_that_nothing_measured_stands_behind_it() -> None:
    assert WATERBORNE_STANDING == "common-practice"
    assert "no source" in WATERBORNE_SOURCE


def test_eight_coats_three_a_day_come_out_at_one_full_day_a_coat() -> None:
    clock = a_day(8, 3)
    left = remaining_um(clock, clock[-1] + 8 * 24.0, **WATERBORNE)
    assert left == pytest.approx(SINK_TOLERANCE_UM, abs=0.05)
    assert days_to_tolerance(clock) == pytest.approx(7.8, abs=0.05)


def test_eight_coats_one_a_day_are_done_in_half_that() -> None:
    clock = a_day(8, 1)
    assert days_to_tolerance(clock) == pytest.approx(4.1, abs=0.05)
    assert remaining_um(clock, clock[-1] + 8 * 24.0, **WATERBORNE) == pytest.approx(0.18, abs=0.005)


def test_half_or_twice_the_diffusivity_moves_the_day_to_17_or_4() -> None:
    half = days_to_tolerance(a_day(8, 3), diffusivity_um2_h=100.0)
    twice = days_to_tolerance(a_day(8, 3), diffusivity_um2_h=400.0)
    assert (half, twice) == pytest.approx((16.7, 4.0), abs=0.05)


def test_two_coats_are_done_far_earlier_than_the_rule_and_twelve_later() -> None:
    assert days_to_tolerance(a_day(2, 3)) < 1.0
    assert days_to_tolerance(a_day(12, 3)) > 12.0


@pytest.mark.parametrize(("coats_a_day", "still_um"), [(3, 4.37), (5, 8.02), (10, 10.64)])
def test_ten_coats_levelled_after_twelve_hours_still_fall_4_to_11_um(
    coats_a_day: int, still_um: float
) -> None:
    clock = a_day(10, coats_a_day)
    stack = Stack.laid(clock, **WATERBORNE)
    lost = stack.lost_if_buffed_um(clock[-1] + 12.0)
    assert 4.0 < lost < 11.0
    assert lost == pytest.approx(still_um, abs=0.005)


@pytest.mark.parametrize(("count", "coats_a_day"), [(1, 1), (2, 3), (8, 3), (14, 3), (14, 14)])
def test_eight_cells_a_coat_are_enough(count: int, coats_a_day: int) -> None:
    clock = a_day(count, coats_a_day)
    coarse = Stack.laid(clock, **WATERBORNE)
    fine = Stack.laid(clock, **WATERBORNE, cells_per_coat=6 * CELLS_PER_COAT)
    now = clock[-1] + np.concatenate(([0.0], np.geomspace(0.01, 40 * 24.0, 60)))
    held = fine.remaining_um(now[0])
    off = np.abs(coarse.remaining_um(now) - fine.remaining_um(now))
    assert np.max(off) <= 1.5e-3 * held
    wait_h = fine.when_below_um() - clock[-1]
    assert coarse.when_below_um() - clock[-1] == pytest.approx(wait_h, rel=3e-3)


# The hour of the tolerance


def test_a_stack_under_its_tolerance_from_the_start_is_told_the_hour_of_its_last_coat() -> None:
    assert Stack.laid([3.0], **WATERBORNE).when_below_um(LAID_UM * 1.01) == 3.0


def test_a_stack_that_takes_more_than_ten_years_has_no_hour() -> None:
    sealed = WATERBORNE | {"transfer_um_h": 1e-6}
    assert Stack.laid(0.0, **sealed).when_below_um() is None


# A sealed surface, and bad input


def test_a_nearly_sealed_surface_keeps_its_books_too() -> None:
    sealed = WATERBORNE | {"transfer_um_h": 1e-9}
    stack = Stack.laid(np.zeros(14), **sealed)
    hours = 1e6
    # All of it leaves at k c, and c hardly changes.
    leaving = 1e-9 * WATERBORNE_VOLATILE_FRAC * hours
    assert stack.given_off_um(hours) == pytest.approx(leaving, rel=1e-4)


@pytest.mark.parametrize(
    ("changed", "named"),
    [
        ({"coat_clock_h": []}, "coat_clock_h has shape"),
        ({"coat_clock_h": [[0.0, 1.0]]}, "coat_clock_h has shape"),
        ({"coat_clock_h": np.arange(41.0)}, "1 to 40"),
        ({"coat_clock_h": [0.0, float("nan")]}, "coat_clock_h at index 1 is nan"),
        ({"coat_clock_h": [0.0, 5.0, 4.0]}, "coat_clock_h at index 2 is before the coat below"),
        ({"now_h": float("inf")}, "now_h is inf"),
        ({"coat_um": 0.0}, "coat_um is 0"),
        ({"coat_um": [25.0, 25.0]}, "for 3 coats"),
        ({"volatile_frac": 8.0}, "volatile_frac is 8"),
        ({"volatile_frac": [0.1, -0.1, 0.1]}, "volatile_frac at index 1"),
        ({"diffusivity_um2_h": 0.0}, "diffusivity_um2_h is 0"),
        ({"diffusivity_um2_h": [200.0, 100.0, 50.0]}, "one number for the whole stack"),
        ({"transfer_um_h": -17.0}, "transfer_um_h is -17"),
    ],
)
def test_a_film_that_cannot_be_is_refused(changed: dict[str, object], named: str) -> None:
    whole = {"coat_clock_h": [0.0, 1.0, 2.0], "now_h": 5.0} | WATERBORNE
    with pytest.raises(BadInput, match=named):
        remaining_um(**(whole | changed))


@pytest.mark.parametrize("cells", [0, 2.5, 801])
def test_cells_that_cannot_be_cut_are_refused(cells: float) -> None:
    with pytest.raises(BadInput, match="cells_per_coat"):
        Stack.laid([0.0, 1.0], **WATERBORNE, cells_per_coat=cells)


@pytest.mark.parametrize("question", ["remaining_um", "flux_um_h", "given_off_um", "profile"])
def test_a_stack_does_not_speak_of_before_its_last_coat(question: str) -> None:
    stack = Stack.laid([0.0, 24.0], **WATERBORNE)
    with pytest.raises(BadInput, match="before the last coat, laid at 24 h"):
        getattr(stack, question)(23.0)


def test_a_tolerance_of_nothing_is_refused() -> None:
    with pytest.raises(BadInput, match="tolerance_um is 0"):
        Stack.laid(0.0, **WATERBORNE).when_below_um(0.0)
