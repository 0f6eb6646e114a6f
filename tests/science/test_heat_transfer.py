"""Heat transfer to a hanging body: air properties, both limits of the correlation, its anchors."""

from collections.abc import Callable

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given
from hypothesis import strategies as st

from curewatch.errors import BadInput
from curewatch.science.heat_transfer import (
    AIR_HEAT_J_KGK,
    AIR_PRANDTL,
    AIR_SPEED_M_S,
    PLATE_LENGTH_M,
    heat_transfer_w_m2k,
    radiation_w_m2k,
)
from tests.validation_page import furthest_pct


def air(name: str, temp_c: float, p_pa: float = 101325.0) -> float:
    """One property of dry air from a reference equation of state."""
    return float(PropsSI(name, "T", temp_c + 273.15, "P", p_pa, "Air"))


def textbook_w_m2k(speed_m_s: float, difference_k: float, mean_c: float, p_pa: float) -> float:
    """Write the same correlations out plainly, with the air properties of a library."""
    mean_k = mean_c + 273.15
    viscosity = air("V", mean_c, p_pa) / air("D", mean_c, p_pa)
    conductivity, heat = air("L", mean_c, p_pa), air("C", mean_c, p_pa)
    prandtl = heat * air("V", mean_c, p_pa) / conductivity
    diffusivity = conductivity / (air("D", mean_c, p_pa) * heat)
    length = 0.45
    rayleigh = 9.80665 * difference_k / mean_k * length**3 / (viscosity * diffusivity)
    # Churchill & Chu, Int. J. Heat Mass Transfer 18, 1323 (1975), equation 9.
    natural = (
        0.825 + 0.387 * rayleigh ** (1 / 6) / (1 + (0.492 / prandtl) ** (9 / 16)) ** (8 / 27)
    ) ** 2
    # Laminar flow along a plate: Nu = 0.664 Re^1/2 Pr^1/3.
    forced = 0.664 * (speed_m_s * length / viscosity) ** 0.5 * prandtl ** (1 / 3)
    return (natural**3 + forced**3) ** (1 / 3) * conductivity / length


@pytest.mark.parametrize("speed_m_s", [0.0, 0.15, 0.5, 2.0])
@pytest.mark.parametrize("mean_c", [0.0, 19.0, 40.0])
@pytest.mark.parametrize("p_pa", [101325.0, 84000.0])
def test_heat_transfer_is_the_textbook_correlation_with_library_air(
    speed_m_s: float, mean_c: float, p_pa: float, agreement: Callable
) -> None:
    ours = heat_transfer_w_m2k(speed_m_s, 4.0, mean_temp_c=mean_c, p_pa=p_pa)
    # 2 %: simplified air properties; the correlations themselves carry 20 %.
    theirs = textbook_w_m2k(speed_m_s, 4.0, mean_c, p_pa)
    assert ours == pytest.approx(theirs, rel=0.02)
    agreement(
        check="heat transfer to a hanging panel, 0 to 40 degC, 0 to 2 m/s, 101.3 and 84 kPa",
        source="Churchill and Chu (1975), equation 9, and laminar plate flow, air by CoolProp",
        tolerance="2 %",
        measured=furthest_pct(ours, theirs),
        unit="%",
        n=1,
    )


def test_natural_convection_is_about_two_and_a_half_watts() -> None:
    assert heat_transfer_w_m2k(0.0, 4.0) == pytest.approx(2.5, abs=0.3)


def test_still_air_brings_about_three_watts() -> None:
    assert heat_transfer_w_m2k(AIR_SPEED_M_S["still"], 4.0) == pytest.approx(3.0, abs=0.3)


def test_without_a_difference_in_still_air_conduction_is_left() -> None:
    # Nu = 0.825^2 of the correlation at no buoyancy.
    conductivity = air("L", 21.0)
    expected = 0.825**2 * conductivity / PLATE_LENGTH_M
    assert heat_transfer_w_m2k(0.0, 0.0) == pytest.approx(expected, rel=0.02)


def test_a_warmer_and_a_colder_surface_are_treated_alike() -> None:
    assert heat_transfer_w_m2k(0.15, 5.0) == pytest.approx(float(heat_transfer_w_m2k(0.15, -5.0)))


@given(one=st.floats(0.0, 20.0), other=st.floats(0.0, 20.0), difference_k=st.floats(0.0, 30.0))
def test_faster_air_brings_more_heat(one: float, other: float, difference_k: float) -> None:
    slow, fast = sorted((one, other))
    brought = heat_transfer_w_m2k([slow, fast], difference_k)
    assert brought[0] <= brought[1] * (1.0 + 1e-12)


def test_the_constants_for_air_are_those_of_a_reference_equation(agreement: Callable) -> None:
    for temp_c in (0.0, 20.0, 40.0):
        prandtl = air("C", temp_c) * air("V", temp_c) / air("L", temp_c)
        assert prandtl == pytest.approx(AIR_PRANDTL, rel=0.01)
        assert air("C", temp_c) == pytest.approx(AIR_HEAT_J_KGK, rel=0.002)
        agreement(
            check="Prandtl number of air, 0 to 40 degC",
            source="CoolProp, run beside it",
            tolerance="1 %",
            measured=furthest_pct(prandtl, AIR_PRANDTL),
            unit="%",
            n=1,
        )
        agreement(
            check="specific heat of air, 0 to 40 degC",
            source="CoolProp, run beside it",
            tolerance="0.2 %",
            measured=furthest_pct(air("C", temp_c), AIR_HEAT_J_KGK),
            unit="%",
            n=1,
        )


def test_radiation_matches_the_difference_of_fourth_powers() -> None:
    warm, cold = 294.15, 290.05
    exact = 0.9 * 5.670374419e-8 * (warm**4 - cold**4) / (warm - cold)
    ours = radiation_w_m2k(np.asarray(21.0), np.asarray(21.0 - 4.1))
    assert ours == pytest.approx(exact, rel=1e-4)


def test_the_words_for_air_stand_for_three_speeds() -> None:
    assert dict(AIR_SPEED_M_S) == {"still": 0.15, "gentle": 0.5, "fan": 2.0}


@pytest.mark.parametrize("speed_m_s", [-0.1, 20.1, float("nan")])
def test_an_air_speed_that_cannot_be_meant_is_refused(speed_m_s: float) -> None:
    with pytest.raises(BadInput, match="air_speed_m_s"):
        heat_transfer_w_m2k(speed_m_s, 4.0)
