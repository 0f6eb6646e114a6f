"""Effective hours: running sums against scipy's quadrature, closed forms and their own algebra."""

import math
from collections.abc import Callable

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy.integrate import quad

from curewatch.errors import BadInput
from curewatch.science.kinetics import CureLaw, rate, running_hours
from tests.validation_page import furthest_pct

FloatArray = npt.NDArray[np.float64]
GAS_CONSTANT = 8.314462618
CONCRETE = CureLaw(5000.0 * GAS_CONSTANT / 1000.0, reference_temp_c=20.0)


def plain_rate(temp_c: float, rh_frac: float, law: CureLaw) -> float:
    """Write the rate law out for one instant, as an independent hand would."""
    low = -math.inf if law.lower_limit_c is None else law.lower_limit_c
    high = math.inf if law.upper_limit_c is None else law.upper_limit_c
    held_k = min(max(temp_c, low), high) + 273.15
    credit = min(max(temp_c - (low - 1.0), 0.0), 1.0)
    reference_k = law.reference_temp_c + 273.15
    arrhenius = math.exp(-law.ea_kj_mol * 1e3 / GAS_CONSTANT * (1 / held_k - 1 / reference_k))
    dryness = (1.0 - min(rh_frac, 0.99)) / (1.0 - law.reference_rh_frac)
    return credit * arrhenius * dryness**law.humidity_exponent


def a_record(seed: int, mean_c: float, swing_k: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Make readings at uneven times [s] over two days, with a daily swing and noise."""
    rng = np.random.default_rng(seed)
    at_s = np.concatenate([[0.0], np.cumsum(rng.uniform(120.0, 1500.0, 400))])
    at_s = np.concatenate([at_s[at_s < 172800.0], [172800.0]])
    daily = np.sin(2.0 * np.pi * at_s / 86400.0)
    temp = mean_c + swing_k * daily + rng.normal(0.0, 0.3, at_s.size)
    rh = np.clip(0.55 - 0.2 * daily + rng.normal(0.0, 0.02, at_s.size), 0.0, 1.0)
    return at_s, temp, rh


def hours_on_the_grid(
    at_s: FloatArray, temp_c: FloatArray, rh_frac: FloatArray, law: CureLaw
) -> float:
    """Effective hours by the one-minute grid, readings joined by straight lines."""
    grid = np.arange(0.0, at_s[-1] + 1.0, 60.0)
    rates = rate(np.interp(grid, at_s, temp_c), np.interp(grid, at_s, rh_frac), law)
    return float(running_hours(rates, np.ones(grid.size - 1))[-1])


def hours_by_quadrature(
    at_s: FloatArray, temp_c: FloatArray, rh_frac: FloatArray, law: CureLaw
) -> float:
    """Integrate the same by scipy, piece by piece between readings and corners of the law."""
    total = 0.0
    corners = [law.lower_limit_c, law.upper_limit_c]
    if law.lower_limit_c is not None:
        corners.append(law.lower_limit_c - 1.0)
    for i in range(at_s.size - 1):
        start, stop = at_s[i], at_s[i + 1]
        slope = (temp_c[i + 1] - temp_c[i]) / (stop - start)
        crossings = [start + (c - temp_c[i]) / slope for c in corners if c is not None]
        inside = [t for t in crossings if start < t < stop]

        def at(t: float) -> float:
            return plain_rate(
                float(np.interp(t, at_s, temp_c)), float(np.interp(t, at_s, rh_frac)), law
            )

        total += quad(at, start, stop, points=inside or None, epsrel=1e-9)[0]
    return total / 3600.0


@pytest.mark.parametrize(
    ("name", "mean_c", "swing_k", "law"),
    [
        ("ordinary shop", 20.0, 4.0, CureLaw(55.0, humidity_exponent=0.3)),
        ("steep law", 18.0, 8.0, CureLaw(90.0)),
        ("across the floor", 15.0, 3.0, CureLaw(55.0, 0.3, lower_limit_c=15.0, upper_limit_c=32.0)),
        ("around the floor all day", 14.5, 0.4, CureLaw(55.0, 0.3, lower_limit_c=15.0)),
        ("across the ceiling", 31.0, 5.0, CureLaw(70.0, upper_limit_c=32.0)),
        ("moisture-cured", 20.0, 4.0, CureLaw(45.0, humidity_exponent=-1.0)),
    ],
)
@pytest.mark.parametrize("seed", [1, 2])
def test_hours_on_the_grid_are_within_a_thousandth_of_quadrature(
    name: str, mean_c: float, swing_k: float, law: CureLaw, seed: int, agreement: Callable
) -> None:
    record = a_record(seed, mean_c, swing_k)
    exact = hours_by_quadrature(*record, law)
    assert exact > 1.0, name
    ours = hours_on_the_grid(*record, law)
    assert ours == pytest.approx(exact, rel=1e-3), name
    agreement(
        check="effective hours of two days of uneven readings, on the one-minute grid",
        source="adaptive quadrature of scipy (QUADPACK)",
        tolerance="0.1 %",
        measured=furthest_pct(ours, exact),
        unit="%",
        n=1,
    )


@given(
    temp_c=st.floats(-40.0, 80.0),
    rh_frac=st.floats(0.0, 1.0),
    minutes=st.integers(1, 5000),
    ea=st.floats(0.0, 120.0),
)
def test_in_a_constant_climate_hours_are_rate_times_time(
    temp_c: float, rh_frac: float, minutes: int, ea: float
) -> None:
    law = CureLaw(ea, humidity_exponent=0.3)
    rates = np.full(minutes + 1, float(rate(temp_c, rh_frac, law)))
    hours = running_hours(rates, np.ones(minutes))
    assert hours[-1] == pytest.approx(plain_rate(temp_c, rh_frac, law) * minutes / 60.0, rel=1e-9)


def test_a_ramp_shows_which_way_each_shortcut_errs() -> None:
    # 10 to 30 degC in 12 h, Q = 5000 K, Ts = 20 degC: exact integral by the exponential integral
    # (tests/reference/equivalent_age.csv), 4 steps by trapezoid on the rate 12.6791 h, by
    # sample-and-hold 10.8674 h.
    minutes = rate(np.linspace(10.0, 30.0, 721), 0.5, CONCRETE)
    assert running_hours(minutes, np.ones(720))[-1] == pytest.approx(12.602409306, rel=1e-6)
    steps = rate(np.linspace(10.0, 30.0, 5), 0.5, CONCRETE)
    coarse = running_hours(steps, np.ones(4), step_s=3.0 * 3600.0)[-1]
    assert coarse == pytest.approx(12.6791, abs=5e-5)
    assert 3.0 * np.sum(steps[:-1]) == pytest.approx(10.8674, abs=5e-5)


@pytest.mark.parametrize(
    ("swing_k", "ea_over_r_k", "expected_h"),
    [
        (2.0, 5000.0, 24.071745947),
        (2.0, 10000.0, 24.306669964),
        (5.0, 10000.0, 25.941318837),
        (10.0, 10000.0, 32.123719114),
        (10.0, 50000.0 / GAS_CONSTANT, 26.696538965),
        (5.0, 50000.0 / GAS_CONSTANT, 24.665707122),
    ],
)
def test_a_day_of_sine_comes_out(swing_k: float, ea_over_r_k: float, expected_h: float) -> None:
    # tests/reference/equivalent_age.csv, by scipy's quadrature to 1e-8.
    law = CureLaw(ea_over_r_k * GAS_CONSTANT / 1000.0, reference_temp_c=20.0)
    temp = 20.0 + swing_k * np.sin(2.0 * np.pi * np.arange(1441) / 1440.0)
    hours = running_hours(rate(temp, 0.5, law), np.ones(1440))
    assert hours[-1] == pytest.approx(expected_h, rel=1e-8)


RATES = arrays(np.float64, st.integers(2, 60), elements=st.floats(0.0, 20.0))


@given(rates=RATES, data=st.data())
def test_hours_add_up_over_any_split(rates: FloatArray, data: st.DataObject) -> None:
    cells = rates.size - 1
    cover = data.draw(arrays(np.float64, cells, elements=st.floats(0.0, 1.0)))
    cut = data.draw(st.integers(0, cells))
    whole = running_hours(rates, cover)
    before, after = (
        running_hours(rates[: cut + 1], cover[:cut]),
        running_hours(rates[cut:], cover[cut:]),
    )
    assert whole[-1] == pytest.approx(before[-1] + after[-1], rel=1e-12, abs=1e-12)
    assert whole[cut] == pytest.approx(before[-1], rel=1e-12, abs=1e-12)


@given(rates=RATES, data=st.data())
def test_hours_never_run_backwards_and_start_at_nothing(
    rates: FloatArray, data: st.DataObject
) -> None:
    cover = data.draw(arrays(np.float64, rates.size - 1, elements=st.floats(0.0, 1.0)))
    hours = running_hours(rates, cover)
    assert hours.shape == rates.shape
    assert hours[0] == 0.0
    assert np.all(np.diff(hours) >= 0.0)


def test_each_cell_earns_its_cover_of_the_mean_of_its_ends() -> None:
    hours = running_hours(np.array([1.0, 2.0, 4.0]), np.array([1.0, 0.5]), step_s=3600.0)
    np.testing.assert_allclose(hours, [0.0, 1.5, 3.0])


def test_a_gap_earns_nothing_even_where_nothing_is_known() -> None:
    rates = np.array([1.0, 1.0, np.nan, 1.0, 1.0])
    hours = running_hours(rates, np.array([1.0, 0.0, 0.0, 1.0]), step_s=3600.0)
    np.testing.assert_allclose(hours, [0.0, 1.0, 1.0, 1.0, 2.0])


def test_a_single_instant_has_earned_nothing() -> None:
    np.testing.assert_array_equal(running_hours(np.array([3.0]), np.array([])), [0.0])


@pytest.mark.parametrize("bad", [np.nan, np.inf, -0.5])
def test_a_covered_cell_with_an_unknown_or_negative_end_is_refused(bad: float) -> None:
    with pytest.raises(BadInput, match="cover_frac_per_cell at index 1 says covered"):
        running_hours(np.array([1.0, 1.0, bad]), np.array([1.0, 0.2]))


@pytest.mark.parametrize(
    ("rates", "cover"),
    [(np.ones(3), np.ones(3)), (np.ones(0), np.ones(0)), (np.ones((2, 2)), np.ones(1))],
)
def test_instants_and_cells_that_do_not_belong_together_are_refused(
    rates: FloatArray, cover: FloatArray
) -> None:
    with pytest.raises(BadInput, match="n - 1 cells"):
        running_hours(rates, cover)


@pytest.mark.parametrize("cover", [-0.1, 1.1, float("nan")])
def test_a_cover_that_is_no_share_is_refused(cover: float) -> None:
    with pytest.raises(BadInput, match="cover_frac_per_cell at index 0"):
        running_hours(np.ones(2), np.array([cover]))


def test_a_step_that_is_no_time_is_refused() -> None:
    with pytest.raises(BadInput, match="step_s"):
        running_hours(np.ones(2), np.ones(1), step_s=0.0)
