"""Activation energy from a data sheet's times: by hand, by scipy, and from scattered times."""

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import linregress, t

from curewatch.errors import BadInput
from curewatch.science.activation import activation_energy, rounding_band
from tests.validation_page import furthest_rel

GAS_CONSTANT = 8.314462618


@pytest.mark.parametrize(
    ("temp_c", "hours", "expected_kj_mol"),
    [
        # By hand: 1/283.15 - 1/293.15 = 1.204735e-4; R ln 2 = 5.763147; 5.763147/1.204735e-4.
        ((10.0, 20.0), (8.0, 4.0), 47.8375),
        # By hand: 1/296.15 - 1/333.15 = 3.750206e-4; R ln 24 = 26.424039.
        ((23.0, 60.0), (24.0, 1.0), 70.4602),
        # By hand: 1/288.15 - 1/303.15 = 1.717176e-4; R ln(30/7) = 12.099947.
        ((15.0, 30.0), (30.0, 7.0), 70.4643),
    ],
)
def test_two_times_give_the_energy_worked_by_hand(
    temp_c: tuple[float, float],
    hours: tuple[float, float],
    expected_kj_mol: float,
    agreement: Callable,
) -> None:
    found = activation_energy(temp_c, hours)
    assert found.ea_kj_mol == pytest.approx(expected_kj_mol, rel=2e-5)
    agreement(
        check="activation energy from two times of a data sheet",
        source="worked by hand, six digits",
        tolerance="2e-5 relative",
        measured=furthest_rel(found.ea_kj_mol, expected_kj_mol),
        unit="relative",
        n=1,
    )
    assert (found.se_kj_mol, found.points) == (None, 2)
    turned = activation_energy(temp_c[::-1], hours[::-1])
    assert turned.ea_kj_mol == pytest.approx(found.ea_kj_mol, rel=1e-12)


def test_more_times_give_what_scipy_fits(agreement: Callable) -> None:
    temp_c, hours = [10.0, 15.0, 23.0, 35.0, 60.0], [30.0, 18.0, 9.0, 3.5, 0.9]
    line = linregress(1.0 / (np.array(temp_c) + 273.15), np.log(hours))
    found = activation_energy(temp_c, hours)
    assert found.ea_kj_mol == pytest.approx(line.slope * GAS_CONSTANT / 1000.0, rel=1e-10)
    assert found.se_kj_mol == pytest.approx(line.stderr * GAS_CONSTANT / 1000.0, rel=1e-9)
    assert found.points == 5
    agreement(
        check="activation energy from five times of a data sheet",
        source="linregress of scipy",
        tolerance="1e-10 relative",
        measured=furthest_rel(found.ea_kj_mol, line.slope * GAS_CONSTANT / 1000.0),
        unit="relative",
        n=1,
    )


@given(
    ea=st.floats(20.0, 120.0),
    temp_c=st.lists(st.floats(0.0, 60.0), min_size=3, max_size=8),
    at_21_h=st.floats(0.1, 500.0),
)
def test_exact_times_give_the_planted_energy(
    ea: float, temp_c: list[float], at_21_h: float
) -> None:
    temp_c = [*temp_c, 5.0, 25.0]
    hours = [
        at_21_h * math.exp(1000.0 * ea / GAS_CONSTANT * (1 / (c + 273.15) - 1 / 294.15))
        for c in temp_c
    ]
    found = activation_energy(temp_c, hours)
    assert found.ea_kj_mol == pytest.approx(ea, rel=1e-8)
    assert found.se_kj_mol == pytest.approx(0.0, abs=1e-6)


def test_the_standard_error_covers_the_planted_energy_as_often_as_it_says(
    agreement: Callable,
) -> None:
    rng = np.random.default_rng(20)
    temp_c = [10.0, 16.0, 23.0, 30.0, 40.0]
    reach = t.ppf(0.95, df=3)
    inside = 0
    for _ in range(1000):
        ln_h = 55_000.0 / GAS_CONSTANT * (1.0 / (np.array(temp_c) + 273.15) - 1.0 / 294.15)
        found = activation_energy(temp_c, np.exp(ln_h + rng.normal(0.0, 0.15, 5)).tolist())
        assert found.se_kj_mol is not None
        inside += abs(found.ea_kj_mol - 55.0) <= reach * found.se_kj_mol
    assert 0.87 < inside / 1000 < 0.93  # 0.90 by theory, three standard errors of the count
    agreement(
        check="activation energy inside its 90 % interval, scattered times",
        source="planted energy, 1000 synthetic data sheets",
        tolerance="87 to 93 %",
        measured=100.0 * inside / 1000,
        unit="%",
        n=1000,
    )


@pytest.mark.parametrize(
    ("temp_c", "hours", "named"),
    [
        ([20.0], [4.0], "two points or more"),
        ([20.0, 30.0], [4.0], "each a temperature and a time"),
        ([20.0, 20.5], [4.0, 3.0], "within 1 K"),
        ([20.0, 20.0, 20.0], [4.0, 3.0, 5.0], "within 1 K"),
        ([20.0, 30.0], [4.0, 8.0], "do not grow shorter"),
        ([20.0, 30.0], [4.0, 4.0], "do not grow shorter"),
        ([20.0, 300.0], [4.0, 1.0], "temp_c at index 1 is 300"),
        ([20.0, 30.0], [4.0, 0.0], "hours at index 1 is 0"),
    ],
)
def test_times_that_give_no_energy_are_refused(
    temp_c: list[float], hours: list[float], named: str
) -> None:
    with pytest.raises(BadInput, match=named):
        activation_energy(temp_c, hours)


@given(
    times=st.lists(st.floats(2.0, 500.0), min_size=2, max_size=5, unique=True),
    shares=st.lists(st.floats(-1.0, 1.0), min_size=5, max_size=5),
    half_h=st.floats(0.0, 0.9),
)
def test_no_times_within_their_rounding_leave_the_band(
    times: list[float], shares: list[float], half_h: float
) -> None:
    hours = np.array(sorted(times, reverse=True))
    temps = 10.0 + 5.0 * np.arange(hours.size)
    low, high = rounding_band(temps.tolist(), hours.tolist(), [half_h] * hours.size)
    moved = hours + half_h * np.array(shares[: hours.size])
    slope = linregress(1.0 / (temps + 273.15), np.log(moved)).slope
    slack = 1e-9 * max(abs(low), abs(high), 1.0)
    assert low - slack <= GAS_CONSTANT * slope / 1000.0 <= high + slack


def test_the_ends_of_a_rounding_band_are_reached() -> None:
    low, high = rounding_band((18.0, 25.0), (72.0, 40.0), (0.5, 0.5))
    assert low == pytest.approx(activation_energy((18.0, 25.0), (71.5, 40.5)).ea_kj_mol)
    assert high == pytest.approx(activation_energy((18.0, 25.0), (72.5, 39.5)).ea_kj_mol)


@pytest.mark.parametrize("half", [(0.5,), (0.5, 40.0), (-0.1, 0.5)])
def test_a_rounding_that_cannot_be_is_refused(half: tuple[float, ...]) -> None:
    with pytest.raises(BadInput, match="half_step_h must be one a time"):
        rounding_band((18.0, 25.0), (72.0, 40.0), half)
