"""Dew and frost points against reference equations, two psychrometric libraries and tables."""

from collections.abc import Callable

import numpy as np
import psychrolib
import pytest
from CoolProp.HumidAirProp import HAPropsSI
from hypothesis import given
from hypothesis import strategies as st

from curewatch.errors import BadInput
from curewatch.science.humid_air import dew_point_c, frost_point_c, saturation_pressure_pa
from tests.validation_page import furthest

psychrolib.SetUnitSystem(psychrolib.SI)

TEMPS = st.floats(-40.0, 80.0)
DAMP = st.floats(0.001, 1.0)


@given(temp_c=TEMPS, rh_frac=DAMP)
def test_saturation_at_the_dew_point_gives_back_the_vapour_pressure(
    temp_c: float, rh_frac: float
) -> None:
    vapour = rh_frac * saturation_pressure_pa(temp_c)
    dew = dew_point_c(temp_c, rh_frac)
    # 1e-6 K, the stated accuracy, is at most 2e-7 of the pressure at -90 degC.
    assert saturation_pressure_pa(float(dew)) == pytest.approx(float(vapour), rel=2e-7)


@given(temp_c=TEMPS, rh_frac=DAMP)
def test_saturation_over_ice_at_the_frost_point_gives_back_the_vapour_pressure(
    temp_c: float, rh_frac: float
) -> None:
    vapour = rh_frac * saturation_pressure_pa(temp_c)
    frost = float(frost_point_c(temp_c, rh_frac))
    if vapour > saturation_pressure_pa(0.0, over="ice"):
        assert np.isnan(frost)
    else:
        assert saturation_pressure_pa(frost, over="ice") == pytest.approx(float(vapour), rel=2e-7)


@given(temp_c=TEMPS)
def test_saturated_air_is_at_its_dew_point(temp_c: float) -> None:
    assert dew_point_c(temp_c, 1.0) == pytest.approx(temp_c, abs=1e-6)


@given(temp_c=TEMPS, one=DAMP, other=DAMP)
def test_damper_air_has_the_higher_dew_point(temp_c: float, one: float, other: float) -> None:
    low, high = sorted((one, other))
    assert dew_point_c(temp_c, low) <= dew_point_c(temp_c, high) + 1e-9


def test_dew_points_meet_the_reference_grid_over_water(
    reference: Callable, column: Callable, agreement: Callable
) -> None:
    rows = reference("psychrometric_grid")
    ours = dew_point_c(column(rows, "t_C"), column(rows, "rh_pct") / 100.0)
    # 0.02 K: spread of IAPWS, Hyland-Wexler, PsychroLib and CoolProp (largest 0.0147 K).
    np.testing.assert_allclose(ours, column(rows, "td_C_iapws_water"), rtol=0.0, atol=0.02)
    agreement(
        check="dew point over water, -10 to 45 degC, 5 to 95 %, at 101.3 and 84 kPa",
        source="IAPWS SR1-86, computed",
        tolerance="0.02 K",
        measured=furthest(ours, column(rows, "td_C_iapws_water")),
        unit="K",
        n=len(rows),
    )


@pytest.mark.parametrize("library", ["td_C_psychrolib", "td_C_coolprop_humidair"])
def test_dew_and_frost_points_meet_two_libraries_by_their_convention(
    reference: Callable, column: Callable, agreement: Callable, library: str
) -> None:
    rows = [row for row in reference("psychrometric_grid") if float(row["t_C"]) >= 0.0]
    temp, rh = column(rows, "t_C"), column(rows, "rh_pct") / 100.0
    theirs = column(rows, library)
    # Both libraries answer with the frost point once the result is below freezing.
    ours = np.where(theirs < 0.0, frost_point_c(temp, rh), dew_point_c(temp, rh))
    assert np.sum(theirs < 0.0) > 10
    np.testing.assert_allclose(ours, theirs, rtol=0.0, atol=0.02)
    named = {"td_C_psychrolib": "PsychroLib 2.5.0", "td_C_coolprop_humidair": "CoolProp 8.0.0"}
    agreement(
        check=f"dew or frost point of air from 0 to 45 degC, 5 to 95 %, by {named[library]}",
        source=f"{named[library]}, computed once",
        tolerance="0.02 K",
        measured=furthest(ours, theirs),
        unit="K",
        n=len(rows),
    )


def test_dew_points_of_two_libraries_run_here_agree_within_two_hundredths(
    agreement: Callable,
) -> None:
    rng = np.random.default_rng(20260101)
    temp, rh = rng.uniform(5.0, 45.0, 150), rng.uniform(0.05, 1.0, 150)
    ours = dew_point_c(temp, rh)
    above = ours > 0.0
    assert np.sum(above) > 100
    deviations = []
    for dew, t, r in zip(ours[above], temp[above], rh[above], strict=True):
        assert psychrolib.GetTDewPointFromRelHum(t, r) == pytest.approx(dew, abs=0.02)
        moist = HAPropsSI("D", "T", t + 273.15, "P", 101325.0, "R", r)
        assert moist - 273.15 == pytest.approx(dew, abs=0.02)
        deviations += [
            abs(psychrolib.GetTDewPointFromRelHum(t, r) - dew),
            abs(moist - 273.15 - dew),
        ]
    agreement(
        check="dew point, 5 to 45 degC, 5 to 100 %, drawn at random",
        source="PsychroLib and CoolProp, run beside it",
        tolerance="0.02 K",
        measured=max(deviations),
        unit="K",
        n=len(deviations),
    )


@pytest.mark.parametrize(
    ("temp_c", "rh_pct", "dew_c", "tolerance_k"),
    [
        (25.0, 80.0, 21.3094, 0.02),  # PsychroLib documentation example
        (22.0, 70.0, 16.3, 0.05),  # a building-drying glossary, one decimal
        (22.0, 45.0, 9.5, 0.05),  # the same
        (20.0, 70.0, 14.4, 0.05),  # worked example of the 3 K rule in a coating guide, one decimal
        (10.0, 90.0, 8.4, 0.05),  # the same
        ((70.0 - 32.0) / 1.8, 65.0, (57.70 - 32.0) / 1.8, 0.02),  # recomputed with IAPWS equations
    ],
)
def test_worked_dew_points_come_out_to_their_last_digit(
    temp_c: float, rh_pct: float, dew_c: float, tolerance_k: float, agreement: Callable
) -> None:
    ours = dew_point_c(temp_c, rh_pct / 100.0)
    source = {
        0.02: "PsychroLib documentation; IAPWS equations, recomputed",
        0.05: "worked examples of a building-drying glossary and a coating guide, one decimal",
    }[tolerance_k]
    agreement(
        check=f"worked dew points, to {tolerance_k} K",
        source=source,
        tolerance=f"{tolerance_k} K",
        measured=round(furthest(ours, dew_c), 9),
        unit="K",
        n=1,
    )
    assert ours == pytest.approx(dew_c, abs=tolerance_k + 1e-9)


def test_the_three_kelvin_rule_trips_before_85_percent() -> None:
    # Computed with IAPWS equations: 3 K of spread is 82.9 % at 20 degC, 81.6 at 10, 84.0 at 30.
    spread = np.array([10.0, 20.0, 30.0]) - dew_point_c([10.0, 20.0, 30.0], [0.816, 0.829, 0.840])
    np.testing.assert_allclose(spread, 3.0, atol=0.02)
    assert 20.0 - dew_point_c(20.0, 0.85) == pytest.approx(2.60, abs=0.01)


def test_above_freezing_air_with_a_dew_point_below_it_keeps_dew_and_frost_apart() -> None:
    # Dew point over water by IAPWS and frost point by two libraries: 20 degC, 5 % and 10 degC, 5 %.
    dew, frost = dew_point_c([20.0, 10.0], 0.05), frost_point_c([20.0, 10.0], 0.05)
    np.testing.assert_allclose(dew, [-20.825, -28.020], atol=0.02)
    np.testing.assert_allclose(frost, [-18.697, -25.305], atol=0.02)


def test_no_frost_point_where_no_frost_can_form() -> None:
    assert np.isnan(frost_point_c(20.0, 0.5))
    assert not np.isnan(frost_point_c(20.0, 0.2))


@pytest.mark.parametrize("function", [dew_point_c, frost_point_c])
def test_air_drier_than_a_tenth_of_a_percent_is_refused(function: Callable) -> None:
    assert np.isfinite(dew_point_c(-40.0, 0.001))
    with pytest.raises(BadInput, match=r"rh_frac at index 1 is below 0\.001"):
        function([20.0, 20.0], [0.5, 0.0009])
