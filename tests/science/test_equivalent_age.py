"""Equivalent age and mean kinetic temperature against standards' formulas and worked vectors."""

import re
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.errors import BadInput
from curewatch.science.kinetics import equivalent_age_h, mean_kinetic_temp_c
from tests.validation_page import furthest, furthest_rel

GAS_CONSTANT = 8.314462618
HISTORY = st.lists(
    st.tuples(st.floats(-20.0, 60.0), st.floats(0.1, 100.0)), min_size=1, max_size=20
)


def slope_k(text: str) -> float:
    """Activation energy over R [K] from 'Q=5000 K' or 'E=50 kJ/mol'."""
    name, value = re.search(r"(Q|E)=(\d+)", text).groups()  # type: ignore[union-attr]
    return float(value) if name == "Q" else float(value) * 1000.0 / GAS_CONSTANT


def test_step_profiles_come_out_to_the_last_digit(reference: Callable, agreement: Callable) -> None:
    rows = [row for row in reference("equivalent_age") if "step profile" in row["item"]]
    assert len(rows) == 8
    for row in rows:
        assert row["inputs"].startswith("2 h @15, 4 h @20, 4 h @25, 14 h @18 C")
        reference_c = float(re.search(r"Ts=(\d+)", row["inputs"])[1])  # type: ignore[index]
        age = equivalent_age_h(
            [15.0, 20.0, 25.0, 18.0],
            [2.0, 4.0, 4.0, 14.0],
            q_k=slope_k(row["inputs"].split("; ")[2]),
            reference_temp_c=reference_c,
        )
        assert age == pytest.approx(float(row["expected"]), rel=1e-9)
        agreement(
            check="equivalent age of a day of four temperatures",
            source="formula of ASTM C1074, computed",
            tolerance="1e-9 relative",
            measured=furthest_rel(age, float(row["expected"])),
            unit="relative",
            n=1,
        )


def test_the_worked_vector_of_the_concrete_code_comes_out(agreement: Callable) -> None:
    # EN 1992-1-1:2004 equation B.10: sum of exp(13.65 - 4000/(273 + T)) dt. Its kelvin is 273 and
    # its reference 4000/13.65 K, so it is ours with T shifted by -0.15.
    temp = np.array([19.0, 20.0, 20.0, 21.0, 22.0, 23.0]) - 0.15
    days = np.array([1.0, 2.0, 1.0, 1.0, 1.0, 2.0])
    age = equivalent_age_h(temp, days * 24.0, q_k=4000.0, reference_temp_c=4000.0 / 13.65 - 273.15)
    assert age / 24.0 == pytest.approx(8.37986781, rel=1e-8)
    agreement(
        check="equivalent age of eight days",
        source="EN 1992-1-1:2004, equation B.10, by a test of structuralcodes",
        tolerance="1e-8 relative",
        measured=furthest_rel(age / 24.0, 8.37986781),
        unit="relative",
        n=1,
    )


def test_age_factors_of_the_concrete_code_come_out(
    reference: Callable, agreement: Callable
) -> None:
    rows = [row for row in reference("equivalent_age") if row["item"].startswith("age factor EN")]
    assert len(rows) == 6
    for row in rows:
        temp = float(row["inputs"].removeprefix("T=").removesuffix(" C")) - 0.15
        factor = equivalent_age_h(temp, 1.0, q_k=4000.0, reference_temp_c=4000.0 / 13.65 - 273.15)
        # 0.998125 at 20 degC, not 1: the code's own rounding of its reference.
        assert factor == pytest.approx(float(row["expected"]), rel=1e-9, abs=6e-10)
        agreement(
            check="age factor of the concrete code",
            source="EN 1992-1-1:2004, equation B.10, by structuralcodes 0.7.2",
            tolerance="6e-10",
            measured=furthest(factor, float(row["expected"])),
            unit="",
            n=1,
        )


@pytest.mark.parametrize(("steps", "expected_h"), [(1, 12.0), (4, 12.564106503)])
def test_averaging_the_temperature_of_a_ramp_first_is_biased_low(
    steps: int, expected_h: float, agreement: Callable
) -> None:
    edges = np.linspace(10.0, 30.0, steps + 1)
    middles = (edges[:-1] + edges[1:]) / 2.0
    age = equivalent_age_h(middles, 12.0 / steps, q_k=5000.0)
    assert age == pytest.approx(expected_h, rel=1e-8)
    assert age < 12.602409306  # the exact integral
    agreement(
        check="equivalent age of a ramp taken in one step and in four",
        source="formula of ASTM C1074, computed",
        tolerance="1e-8 relative",
        measured=furthest_rel(age, expected_h),
        unit="relative",
        n=1,
    )


def test_mean_kinetic_temperatures_come_out(reference: Callable, agreement: Callable) -> None:
    # USP 1079.2 / 1160 with 83.144 kJ/mol over 8.3144e-3 kJ/(K mol) = 10000 K.
    rows = [
        row
        for row in reference("mean_kinetic_temperature")
        if row["item"] == "mean kinetic temperature"
    ]
    assert len(rows) == 4
    for row in rows:
        temps = [float(t) for t in re.search(r"\[(.*)\]", row["inputs"])[1].split(",")]  # type: ignore[index]
        assert mean_kinetic_temp_c(temps) == pytest.approx(float(row["expected"]), abs=1e-6)
        agreement(
            check="mean kinetic temperature",
            source="USP 1160 and 1079.2, formula with 83.144 kJ/mol, computed",
            tolerance="1e-6 K",
            measured=furthest(mean_kinetic_temp_c(temps), float(row["expected"])),
            unit="K",
            n=1,
        )


@pytest.mark.parametrize(
    ("temps", "hours", "expected_c"),
    [
        ([2.0, 8.0], 1.0, 5.536425),
        ([20.0, 35.0], [22.0, 2.0], 22.635284),
        ([4.0, 4.0, 4.0, 4.0, 16.0], 1.0, 8.108857),  # a public test asks for at least 8.0
    ],
)
def test_weighted_histories_have_their_mean_kinetic_temperature(
    temps: list[float], hours: float | list[float], expected_c: float, agreement: Callable
) -> None:
    assert mean_kinetic_temp_c(temps, hours) == pytest.approx(expected_c, abs=1e-6)
    agreement(
        check="mean kinetic temperature, weighted by hours",
        source="USP 1160 and 1079.2, formula with 83.144 kJ/mol, computed",
        tolerance="1e-6 K",
        measured=furthest(mean_kinetic_temp_c(temps, hours), expected_c),
        unit="K",
        n=1,
    )


@given(history=HISTORY, q_k=st.floats(1000.0, 15000.0))
def test_a_constant_mean_kinetic_temperature_ages_as_the_history_does(
    history: list[tuple[float, float]], q_k: float
) -> None:
    temps, hours = (np.array(values) for values in zip(*history, strict=True))
    constant = mean_kinetic_temp_c(temps, hours, q_k=q_k)
    age = equivalent_age_h(temps, hours, q_k=q_k)
    assert equivalent_age_h(constant, float(np.sum(hours)), q_k=q_k) == pytest.approx(age, rel=1e-9)


@given(history=HISTORY)
def test_the_mean_kinetic_temperature_lies_between_mean_and_warmest(
    history: list[tuple[float, float]],
) -> None:
    temps, hours = (np.array(values) for values in zip(*history, strict=True))
    kinetic = mean_kinetic_temp_c(temps, hours)
    assert np.average(temps, weights=hours) - 1e-9 <= kinetic <= np.max(temps) + 1e-9


@given(history=HISTORY)
def test_equivalent_ages_add_up(history: list[tuple[float, float]]) -> None:
    temps, hours = (np.array(values) for values in zip(*history, strict=True))
    parts = [equivalent_age_h(t, h, q_k=5000.0) for t, h in history]
    assert equivalent_age_h(temps, hours, q_k=5000.0) == pytest.approx(sum(parts), rel=1e-12)


@pytest.mark.parametrize("function", [equivalent_age_h, mean_kinetic_temp_c])
@pytest.mark.parametrize(
    ("temps", "hours", "q_k", "named"),
    [
        ([], 1.0, 5000.0, "temp_c is empty"),
        ([500.0], 1.0, 5000.0, "temp_c"),
        ([20.0], 0.0, 5000.0, "hours"),
        ([20.0], 1.0, -5000.0, "q_k"),
        ([20.0, 21.0], [1.0, 2.0, 3.0], 5000.0, "do not fit"),
    ],
)
def test_a_history_that_cannot_be_is_refused(
    function: Callable, temps: list[float], hours: float | list[float], q_k: float, named: str
) -> None:
    with pytest.raises(BadInput, match=named):
        function(temps, hours, q_k=q_k)
