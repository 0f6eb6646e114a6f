"""Heat that moving air and warm walls bring to a hanging piece."""

from collections.abc import Mapping
from types import MappingProxyType

import numpy as np

from curewatch.science.arrays import (
    ZERO_C_K,
    FloatArray,
    Numbers,
    checked,
    checked_positive,
    checked_shapes,
    checked_temp,
)
from curewatch.science.humid_air import STANDARD_PRESSURE_PA

AIR_SPEED_M_S: Mapping[str, float] = MappingProxyType({"still": 0.15, "gentle": 0.5, "fan": 2.0})
"""What the words for air movement stand for [m/s] (our own choice; no source)."""
AIR_SPEED_RANGE_M_S = (0.0, 20.0)
"""Air speeds [m/s] that are believed; the flow along 0.45 m stays laminar up to 15 m/s."""
PLATE_LENGTH_M = 0.45
"""Height of an instrument body hung to dry [m] (common practice, no source)."""
EMISSIVITY = 0.9
"""Long-wave emissivity of a wet or lacquered surface (0.9 for most
paints in heat-transfer textbooks; from memory)."""
STEFAN_BOLTZMANN_W_M2K4 = 5.670374419e-8
"""Stefan-Boltzmann constant (CODATA 2018)."""
AIR_HEAT_J_KGK = 1007.0
"""Specific heat of air at 300 K (from memory; within 0.2 % of a reference equation of state)."""
AIR_PRANDTL = 0.71
"""Prandtl number of air (from memory; within 1 % of a reference equation, 0 to 40 degC)."""
DRY_AIR_GAS_CONSTANT_J_KGK = 287.05
"""Gas constant of dry air [J/(kg K)]."""
GRAVITY_M_S2 = 9.80665
"""Standard gravity."""

# Constant factors of the two correlations below.
_NATURAL = 0.387 / (1.0 + (0.492 / AIR_PRANDTL) ** (9.0 / 16.0)) ** (8.0 / 27.0)
_FORCED = 0.664 * float(np.cbrt(AIR_PRANDTL))


def heat_transfer_w_m2k(
    air_speed_m_s: Numbers,
    difference_k: Numbers,
    *,
    mean_temp_c: Numbers = 21.0,
    p_pa: Numbers = STANDARD_PRESSURE_PA,
) -> FloatArray:
    """
    Convective heat transfer between air and a hanging instrument body.

    Parameters
    ----------
    air_speed_m_s : float or array
        Air speed along the piece [m/s], 0 to 20.
    difference_k : float or array
        Air temperature less surface temperature [K], -120 to 120; only its size matters.
    mean_temp_c : float or array
        Mean of the two temperatures [degC], -40 to 80.
    p_pa : float or array
        Air pressure [Pa].

    Returns
    -------
    ndarray
        Heat-transfer coefficient [W/(m2 K)], broadcast shape.

    Raises
    ------
    BadInput
        An input is out of range.

    Notes
    -----
    Natural convection on a vertical plate 0.45 m high and laminar flow along it, blended by cubes.
    Correlations carry 20 to 25 %. Turbulence of room air, and the lightness of moist air at the
    film, are left out.

    References
    ----------
    S. W. Churchill and H. H. S. Chu, Int. J. Heat Mass Transfer 18, 1323-1329 (1975), equation 9;
    S. W. Churchill, AIChE Journal 23, 10-16 (1977) (blend by cubes); E. Pohlhausen, ZAMM 1,
    115-121 (1921) (Nu = 0.664 Re^1/2 Pr^1/3). Places and equation numbers from memory.
    """
    speed = checked_speed(air_speed_m_s)
    difference = checked(difference_k, "difference_k", allowed=(-120.0, 120.0), unit="K")
    mean = checked_temp(mean_temp_c, "mean_temp_c")
    pressure = checked_positive(p_pa, "p_pa", unit="Pa")
    checked_shapes(air_speed_m_s=speed, difference_k=difference, mean_temp_c=mean, p_pa=pressure)
    half = 0.5 * difference
    return convection_w_m2k(speed, mean + half, mean - half, pressure)


def checked_speed(air_speed_m_s: Numbers, name: str = "air_speed_m_s") -> FloatArray:
    """Air speed [m/s] as a float64 array, or BadInput."""
    return checked(air_speed_m_s, name, allowed=AIR_SPEED_RANGE_M_S, unit="m/s")


def convection_w_m2k(
    air_speed_m_s: FloatArray, air_c: FloatArray, surface_c: FloatArray, p_pa: FloatArray
) -> FloatArray:
    """
    `heat_transfer_w_m2k` unchecked.

    Notes
    -----
    Viscosity by Sutherland's law with the constants of the U.S. Standard Atmosphere 1976, equation
    51 (from memory; within 1 % of a reference equation of state), air properties at the mean of the
    two temperatures.
    """
    mean_k = 0.5 * (air_c + surface_c) + ZERO_C_K
    viscosity_pa_s = 1.458e-6 * mean_k * np.sqrt(mean_k) / (mean_k + 110.4)
    viscosity_m2_s = viscosity_pa_s * DRY_AIR_GAS_CONSTANT_J_KGK * mean_k / p_pa
    conductance = viscosity_pa_s * (AIR_HEAT_J_KGK / (AIR_PRANDTL * PLATE_LENGTH_M))
    buoyancy = np.abs(air_c - surface_c) / mean_k * (GRAVITY_M_S2 * PLATE_LENGTH_M**3 * AIR_PRANDTL)
    sixth_root = np.cbrt(np.sqrt(buoyancy) / viscosity_m2_s)
    root = 0.825 + _NATURAL * sixth_root
    natural = root * root
    forced = _FORCED * np.sqrt(air_speed_m_s * PLATE_LENGTH_M / viscosity_m2_s)
    blend: FloatArray = np.cbrt(natural * natural * natural + forced * forced * forced)
    return conductance * blend


def radiation_w_m2k(air_c: FloatArray, surface_c: FloatArray) -> FloatArray:
    """Heat [W/(m2 K)] that walls as warm as the air radiate to a surface, linearised."""
    mean_k = 0.5 * (air_c + surface_c) + ZERO_C_K
    return 4.0 * EMISSIVITY * STEFAN_BOLTZMANN_W_M2K4 * mean_k * mean_k * mean_k
