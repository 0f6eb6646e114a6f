"""The thermodynamic wet bulb against two psychrometric libraries and worked examples."""

from collections.abc import Callable

import numpy as np
import psychrolib
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from curewatch.errors import BadInput
from curewatch.science.humid_air import (
    dew_point_c,
    frost_point_c,
    humidity_ratio_kg_kg,
    saturation_pressure_pa,
    specific_volume_m3_kg,
    wet_bulb_c,
)
from tests.validation_page import furthest, furthest_pct

psychrolib.SetUnitSystem(psychrolib.SI)


@pytest.mark.parametrize("library", ["tw_C_psychrolib", "tw_C_coolprop_humidair"])
def test_wet_bulbs_above_one_degree_meet_two_libraries(
    reference: Callable, column: Callable, agreement: Callable, library: str
) -> None:
    rows = [
        row
        for row in reference("psychrometric_grid")
        if float(row["t_C"]) >= 0.0 and float(row[library]) > 1.0
    ]
    ours = wet_bulb_c(
        column(rows, "t_C"), column(rows, "rh_pct") / 100.0, p_pa=column(rows, "p_Pa")
    )
    assert len(rows) > 80
    # 0.03 K: PsychroLib and CoolProp differ by up to 0.026 K on 210 points.
    np.testing.assert_allclose(ours, column(rows, library), rtol=0.0, atol=0.03)
    named = {"tw_C_psychrolib": "PsychroLib 2.5.0", "tw_C_coolprop_humidair": "CoolProp 8.0.0"}
    agreement(
        check=f"wet bulb above 1 degC, at 101.3 and 84 kPa, by {named[library]}",
        source=f"{named[library]}, computed once",
        tolerance="0.03 K",
        measured=furthest(ours, column(rows, library)),
        unit="K",
        n=len(rows),
    )


def test_iced_bulbs_below_minus_one_meet_psychrolib(agreement: Callable) -> None:
    rng = np.random.default_rng(7)
    temp, rh_ice = rng.uniform(-10.0, 10.0, 200), rng.uniform(0.05, 0.95, 200)
    # The library takes humidity over ice below freezing; a sensor's humidity is over water.
    over_ice = saturation_pressure_pa(np.minimum(temp, 0.0), "ice")
    rh = np.where(temp < 0.0, rh_ice * over_ice / saturation_pressure_pa(temp), rh_ice)
    ours = wet_bulb_c(temp, rh)
    iced = ours < -1.0
    assert np.sum(iced) > 80
    for bulb, t, r in zip(ours[iced], temp[iced], rh_ice[iced], strict=True):
        assert psychrolib.GetTWetBulbFromRelHum(t, r, 101325.0) == pytest.approx(bulb, abs=0.03)
        agreement(
            check="wet bulb below -1 degC, iced",
            source="PsychroLib, run beside it",
            tolerance="0.03 K",
            measured=furthest(psychrolib.GetTWetBulbFromRelHum(t, r, 101325.0), bulb),
            unit="K",
            n=1,
        )


@pytest.mark.parametrize(("lowest_c", "highest_c"), [(-20.0, -1.0), (0.5, 35.0)])
def test_the_bulb_behind_a_humidity_ratio_is_the_librarys_to_a_thousandth(
    lowest_c: float, highest_c: float, agreement: Callable
) -> None:
    rng = np.random.default_rng(11)
    for bulb in rng.uniform(lowest_c, highest_c, 200):
        temp = bulb + rng.uniform(0.0, 4.0 if bulb < 0.0 else 15.0)
        ratio = psychrolib.GetHumRatioFromTWetBulb(temp, bulb, 90000.0)
        vapour = 90000.0 * ratio / (0.621945 + ratio)
        rh = vapour / float(saturation_pressure_pa(temp))
        if ratio > 1e-6 and rh <= 1.0:  # no air is drier, nor damper, than that
            # The same two equations there and here.
            assert wet_bulb_c(temp, rh, p_pa=90000.0) == pytest.approx(bulb, abs=1e-3)
            agreement(
                check="wet bulb behind a humidity ratio, -20 to 35 degC at 90 kPa",
                source="PsychroLib, run beside it, same two equations",
                tolerance="0.001 K",
                measured=furthest(wet_bulb_c(temp, rh, p_pa=90000.0), bulb),
                unit="K",
                n=1,
            )


def test_near_freezing_a_liquid_bulb_is_taken_where_one_can_stand() -> None:
    # 84 kPa, 10 degC, 10 %: PsychroLib 2.5.0 gives +0.516 (liquid), CoolProp 8.0.0 -0.145 (iced).
    assert wet_bulb_c(10.0, 0.10, p_pa=84000.0) == pytest.approx(0.516, abs=0.03)


@pytest.mark.parametrize(
    ("temp_c", "rh_frac", "p_pa", "bulb_c", "tolerance_k"),
    [
        (7.0, 0.61, 100000.0, 3.92667, 4e-3),  # PsychroLib test suite, rel 1e-3
        (
            (80.0 - 32.0) / 1.8,
            0.30,
            101325.0,
            15.606,
            0.05,
        ),  # PsychroLib; an online answer says 22.7
    ],
)
def test_worked_wet_bulbs_come_out(
    temp_c: float, rh_frac: float, p_pa: float, bulb_c: float, tolerance_k: float
) -> None:
    assert wet_bulb_c(temp_c, rh_frac, p_pa=p_pa) == pytest.approx(bulb_c, abs=tolerance_k)


@pytest.mark.parametrize(
    ("temp_c", "bulb_c", "p_pa", "ratio"),
    [
        (30.0, 25.0, 95461.0, 0.0192281274241096),  # PsychroLib test suite (spreadsheet)
        (-1.0, -5.0, 95461.0, 0.00120399819933844),  # the same, iced bulb
    ],
)
def test_the_humidity_behind_a_published_wet_bulb_is_found(
    temp_c: float, bulb_c: float, p_pa: float, ratio: float, agreement: Callable
) -> None:
    rh = brentq(lambda r: float(wet_bulb_c(temp_c, r, p_pa=p_pa)) - bulb_c, 0.01, 1.0, xtol=1e-12)
    assert humidity_ratio_kg_kg(temp_c, rh, p_pa=p_pa) == pytest.approx(ratio, rel=3e-4)
    agreement(
        check="humidity ratio behind a published wet bulb, 25 and -5 degC",
        source="PsychroLib test suite (spreadsheet)",
        tolerance="0.03 %",
        measured=furthest_pct(humidity_ratio_kg_kg(temp_c, rh, p_pa=p_pa), ratio),
        unit="%",
        n=1,
    )


def test_the_handbook_example_of_40_over_20_degrees_comes_out() -> None:
    # ASHRAE Handbook - Fundamentals 2017, chapter 1, example 1: read off a chart, so coarse.
    rh = brentq(lambda r: float(wet_bulb_c(40.0, r)) - 20.0, 0.01, 1.0, xtol=1e-12)
    assert rh == pytest.approx(0.14, abs=0.01)
    assert humidity_ratio_kg_kg(40.0, rh) == pytest.approx(0.0065, abs=1e-4)
    assert dew_point_c(40.0, rh) == pytest.approx(7.0, abs=0.5)
    assert specific_volume_m3_kg(40.0, rh) == pytest.approx(0.896, rel=0.01)


def test_altitude_lowers_the_wet_bulb() -> None:
    # Computed with PsychroLib: 0.45 K at 20 degC and 50 %, 0.76 K at 25 degC and 30 %.
    drop = wet_bulb_c([20.0, 25.0], [0.5, 0.3]) - wet_bulb_c([20.0, 25.0], [0.5, 0.3], p_pa=84000.0)
    np.testing.assert_allclose(drop, [0.45, 0.76], atol=0.03)


@given(temp_c=st.floats(0.01, 80.0), rh_frac=st.floats(0.0, 1.0))
def test_the_wet_bulb_lies_between_dew_or_frost_point_and_air(
    temp_c: float, rh_frac: float
) -> None:
    bulb = float(wet_bulb_c(temp_c, rh_frac))
    assert bulb <= temp_c + 1e-6
    if rh_frac >= 0.001:
        iced = bulb < 0.0
        lowest = float((frost_point_c if iced else dew_point_c)(temp_c, rh_frac))
        assert bulb >= lowest - 1e-6


@given(temp_c=st.floats(-40.0, 80.0), one=st.floats(0.0, 1.0), other=st.floats(0.0, 1.0))
def test_damper_air_has_the_higher_wet_bulb(temp_c: float, one: float, other: float) -> None:
    low, high = sorted((one, other))
    assert wet_bulb_c(temp_c, low) <= wet_bulb_c(temp_c, high) + 1e-6


@given(temp_c=st.floats(0.01, 80.0))
def test_saturated_air_above_freezing_is_at_its_wet_bulb(temp_c: float) -> None:
    assert wet_bulb_c(temp_c, 1.0) == pytest.approx(temp_c, abs=1e-6)


def test_frost_keeps_a_bulb_above_air_that_is_saturated_over_water() -> None:
    above = wet_bulb_c([-10.0, -2.0], 1.0) - np.array([-10.0, -2.0])
    assert np.all(above > 0.0)
    assert np.all(above < 1.0)


def test_a_pressure_at_which_water_boils_is_refused() -> None:
    with pytest.raises(BadInput, match="p_pa at index 1 is so low that water boils"):
        wet_bulb_c([20.0, 75.0], 0.5, p_pa=40000.0)
