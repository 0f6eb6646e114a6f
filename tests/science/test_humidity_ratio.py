"""Humidity ratio, specific volume and pressure at altitude, on tables and on a real record."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import psychrolib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.errors import BadInput
from curewatch.science.humid_air import (
    humidity_ratio_kg_kg,
    pressure_at_altitude_pa,
    saturation_pressure_pa,
    specific_volume_m3_kg,
)
from tests.validation_page import furthest, furthest_pct

psychrolib.SetUnitSystem(psychrolib.SI)

DATA = Path(__file__).parents[1] / "data"


def test_saturation_humidity_ratios_meet_the_handbook_table(
    reference: Callable, agreement: Callable
) -> None:
    rows = [
        row
        for row in reference("psychrometric_points")
        if row["quantity"] == "saturation humidity ratio"
    ]
    assert len(rows) >= 5
    for row in rows:
        temp = float(row["inputs"].split("=")[1].split(" ")[0])
        phase = "ice" if temp < 0.0 else "water"
        over_water = float(saturation_pressure_pa(temp, phase) / saturation_pressure_pa(temp))
        # The table is for real gas: no enhancement factor leaves us 0.4 to 0.6 % low.
        tolerance = float(row["tolerance"].split(" ")[1])
        ours = humidity_ratio_kg_kg(temp, over_water)
        assert ours == pytest.approx(float(row["expected"]), rel=max(tolerance, 6e-3)), row
        allowed = f"{100.0 * max(tolerance, 6e-3):g} %"
        agreement(
            check=f"humidity ratio of saturated air, to {allowed}",
            source="ASHRAE Handbook - Fundamentals 2017, chapter 1, table 2 (real gas)",
            tolerance=allowed,
            measured=furthest_pct(ours, float(row["expected"])),
            unit="%",
            n=1,
        )


def test_humidity_ratios_are_those_of_an_ideal_gas_library(
    reference: Callable, column: Callable
) -> None:
    rows = [row for row in reference("psychrometric_grid") if float(row["t_C"]) > 0.0]
    ours = humidity_ratio_kg_kg(
        column(rows, "t_C"), column(rows, "rh_pct") / 100.0, p_pa=column(rows, "p_Pa")
    )
    # Same equations, so to the grid's last digit (5e-8), beside 3e-5 of rounded constants.
    np.testing.assert_allclose(ours, column(rows, "W_kgkg_psychrolib"), rtol=3e-5, atol=6e-8)


def test_real_gas_humidity_ratios_are_higher_by_the_enhancement_factor(
    reference: Callable, column: Callable, agreement: Callable
) -> None:
    rows = [row for row in reference("psychrometric_grid") if float(row["t_C"]) >= 5.0]
    ours = humidity_ratio_kg_kg(
        column(rows, "t_C"), column(rows, "rh_pct") / 100.0, p_pa=column(rows, "p_Pa")
    )
    short = 1.0 - ours / column(rows, "W_kgkg_coolprop")
    # Always low, never by more than 0.6 %; 1e-4: the grid's last digit at its driest point.
    assert np.all(short > 0.003 - 1e-4)
    assert np.all(short < 0.006)
    agreement(
        check="humidity ratio below the real gas (no enhancement factor), 5 to 45 degC",
        source="CoolProp 8.0.0, computed once",
        tolerance="0.29 to 0.6 %",
        measured=100.0 * short[np.argmax(np.abs(short - 0.00445))],
        unit="%",
        n=short.size,
    )


def test_two_weeks_of_office_air_have_the_humidity_ratio_its_authors_computed(
    agreement: Callable,
) -> None:
    # L. M. Candanedo and V. Feldheim, Energy and Buildings 112, 28-39 (2016); see tests/data.
    record = np.genfromtxt(
        DATA / "office-climate-2015-02.csv", delimiter=",", skip_header=1, usecols=(1, 2, 3)
    )
    ours = humidity_ratio_kg_kg(record[:, 0], record[:, 1] / 100.0)
    assert record.shape == (20560, 3)
    # The authors name neither equation nor pressure: 3e-4 is the handbook equation's own error.
    np.testing.assert_allclose(ours, record[:, 2], rtol=3e-4)
    agreement(
        check="humidity ratio along a real record, an office in February 2015",
        source="L. M. Candanedo and V. Feldheim, Energy and Buildings 112, 28-39 (2016)",
        tolerance="0.03 %",
        measured=furthest_pct(ours, record[:, 2]),
        unit="%",
        n=ours.size,
    )


def test_specific_volumes_are_those_of_a_library(agreement: Callable) -> None:
    rng = np.random.default_rng(3)
    temp, rh = rng.uniform(1.0, 45.0, 100), rng.uniform(0.05, 1.0, 100)
    ours = specific_volume_m3_kg(temp, rh, p_pa=95000.0)
    theirs = [
        psychrolib.GetMoistAirVolume(t, psychrolib.GetHumRatioFromRelHum(t, r, 95000.0), 95000.0)
        for t, r in zip(temp, rh, strict=True)
    ]
    # Same equation; its printed factor 1.607858 and gas constant are rounded at 1e-6.
    np.testing.assert_allclose(ours, theirs, rtol=1e-5)
    agreement(
        check="specific volume, 1 to 45 degC at 95 kPa",
        source="PsychroLib, run beside it",
        tolerance="0.001 %",
        measured=furthest_pct(ours, theirs),
        unit="%",
        n=len(theirs),
    )


def test_pressure_at_altitude_meets_the_standard_atmosphere(
    reference: Callable, agreement: Callable
) -> None:
    rows = [
        row
        for row in reference("psychrometric_points")
        if row["quantity"] == "standard atmosphere pressure"
    ]
    assert len(rows) == 6
    for row in rows:
        altitude = float(row["inputs"].split(" ")[1])
        assert pressure_at_altitude_pa(altitude) == pytest.approx(float(row["expected"]), abs=1.0)
        agreement(
            check="air pressure, -500 to 10000 m",
            source="standard atmosphere, ASHRAE Handbook - Fundamentals 2017, chapter 1, table 1",
            tolerance="1 Pa",
            measured=furthest(pressure_at_altitude_pa(altitude), float(row["expected"])),
            unit="Pa",
            n=1,
        )


@given(one=st.floats(-1000.0, 11000.0), other=st.floats(-1000.0, 11000.0))
def test_pressure_falls_with_altitude(one: float, other: float) -> None:
    low, high = sorted((one, other))
    assert pressure_at_altitude_pa(low) >= pressure_at_altitude_pa(high)


def test_altitude_raises_the_humidity_ratio_by_a_fifth_at_84_kilopascal() -> None:
    thin, standard = humidity_ratio_kg_kg(20.0, 0.5, p_pa=84000.0), humidity_ratio_kg_kg(20.0, 0.5)
    assert thin / standard == pytest.approx(1.21, abs=0.005)  # computed with PsychroLib


@pytest.mark.parametrize("function", [humidity_ratio_kg_kg, specific_volume_m3_kg])
def test_a_pressure_below_the_vapours_own_is_refused(function: Callable) -> None:
    with pytest.raises(BadInput, match="p_pa at index 1 is not above"):
        function([20.0, 70.0], 0.9, p_pa=20000.0)


@pytest.mark.parametrize("p_pa", [0.0, -101325.0, float("nan")])
def test_a_pressure_that_cannot_be_is_refused(p_pa: float) -> None:
    with pytest.raises(BadInput, match="p_pa"):
        humidity_ratio_kg_kg(20.0, 0.5, p_pa=p_pa)


def test_an_altitude_out_of_range_is_refused() -> None:
    with pytest.raises(BadInput, match="altitude_m"):
        pressure_at_altitude_pa(12000.0)
