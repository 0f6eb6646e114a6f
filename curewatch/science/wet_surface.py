"""A film with free water on it: how cold it gets and how fast it dries.

A wet surface cools below the room until the heat it draws from air and walls pays for what
evaporates.
"""

from dataclasses import dataclass

import numpy as np

from curewatch.science.arrays import (
    FloatArray,
    Numbers,
    checked_air,
    checked_positive,
    checked_shapes,
)
from curewatch.science.heat_transfer import (
    AIR_HEAT_J_KGK,
    AIR_SPEED_M_S,
    DRY_AIR_GAS_CONSTANT_J_KGK,
    checked_speed,
    convection_w_m2k,
    radiation_w_m2k,
)
from curewatch.science.humid_air import STANDARD_PRESSURE_PA
from curewatch.science.saturation import water_pressure_pa, water_slope_per_k

LEWIS_NUMBER = 0.87
"""Thermal over mass diffusivity of water vapour in air (0.845 to 0.87 in print; from memory).
With it a film without radiation lies within 0.8 K of the wet bulb up to 25 degC (checked)."""
WATER_GAS_CONSTANT_J_KGK = 461.52
"""Gas constant of water vapour [J/(kg K)]."""

_STEPS = 8
"""The lagged heat transfer leaves under 1e-6 K in a room, 3e-5 K in dry air at 80 degC."""
_FIRST_CHILL_K = 4.0
"""Chill [K] assumed for the first heat transfer."""
_DEEPEST_CHILL_K = 60.0
"""No film sits further below the room [K]: bone-dry air at 80 degC gives 50."""


@dataclass(frozen=True, slots=True, eq=False)
class WetFilm:
    """
    A film with free water on it.

    Attributes
    ----------
    temp_c : ndarray
        Temperature of the film [degC].
    rate_g_m2_h : ndarray
        Water leaving it [g/(m2 h)].
    """

    temp_c: FloatArray
    rate_g_m2_h: FloatArray


def wet_film(
    temp_c: Numbers,
    rh_frac: Numbers,
    *,
    air_speed_m_s: Numbers = AIR_SPEED_M_S["still"],
    p_pa: Numbers = STANDARD_PRESSURE_PA,
    radiation: bool = True,
) -> WetFilm:
    """
    Temperature and drying rate of a film with free water on it.

    Parameters
    ----------
    temp_c : float or array
        Air temperature [degC], -40 to 80; the walls are taken to be as warm.
    rh_frac : float or array
        Relative humidity over water [fraction], 0 to 1.
    air_speed_m_s : float or array
        Air speed along the piece [m/s], 0 to 20.
    p_pa : float or array
        Air pressure [Pa].
    radiation : bool
        Count the heat the walls radiate. Switched off, the film is a ventilated wet bulb.

    Returns
    -------
    WetFilm
        Film temperature [degC] and water lost [g/(m2 h)], broadcast shape.

    Raises
    ------
    BadInput
        An input is out of range.

    Notes
    -----
    (h_c + h_r)(T_air - T_f) = E h_fg, E = k_m M_w (p_sat(T_f) - p_v)/(R T_m),
    k_m = h_c/(rho cp) Le^(-2/3). Valid while liquid water covers the surface; a film that has
    skinned over dries slower. The piece's own heat is left out: the first minutes are warmer.
    Without radiation the film is within 0.8 K of the thermodynamic wet bulb up to 25 degC.
    Below 0 degC the water is taken as supercooled.

    References
    ----------
    T. H. Chilton and A. P. Colburn, Ind. Eng. Chem. 26, 1183-1187 (1934); F. P. Incropera et al.,
    Fundamentals of Heat and Mass Transfer, 6th ed. (2007), section 6.7. Places from memory.
    """
    temp, rh = checked_air(temp_c, rh_frac)
    speed = checked_speed(air_speed_m_s)
    pressure = checked_positive(p_pa, "p_pa", unit="Pa")
    checked_shapes(temp_c=temp, rh_frac=rh, air_speed_m_s=speed, p_pa=pressure)
    return wet_film_unchecked(temp, rh, speed, p_pa=pressure, radiation=radiation)


def wet_film_unchecked(
    temp_c: FloatArray,
    rh_frac: FloatArray,
    air_speed_m_s: FloatArray,
    *,
    p_pa: FloatArray,
    radiation: bool = True,
) -> WetFilm:
    """
    `wet_film` for arrays that have been checked before; NaN in gives NaN out.

    Notes
    -----
    Newton on the heat balance with the heat-transfer coefficients of the step before. The balance
    is convex in the film temperature and the start, the air's, is right of the root: the steps stay
    between root and start, and the bracket below only guards.
    """
    vapour_pa = rh_frac * water_pressure_pa(temp_c)
    # rho = p/(R_a T_m) cancels the T_m of the vapour density: E = h_c exchange (p_sat - p_v).
    exchange = (
        DRY_AIR_GAS_CONSTANT_J_KGK
        / (WATER_GAS_CONSTANT_J_KGK * AIR_HEAT_J_KGK)
        * LEWIS_NUMBER ** (-2.0 / 3.0)
        / p_pa
    )
    film = temp_c
    heat = convection_w_m2k(air_speed_m_s, temp_c, temp_c - _FIRST_CHILL_K, p_pa)
    for _ in range(_STEPS):
        heat_in = 1.0 + radiation_w_m2k(temp_c, film) / heat if radiation else 1.0
        saturated_pa = water_pressure_pa(film)
        latent = _latent_heat_j_kg(film)
        lost = exchange * (saturated_pa - vapour_pa)
        balance = lost * latent - heat_in * (temp_c - film)
        slope = exchange * saturated_pa * water_slope_per_k(film) * latent + heat_in
        film = np.clip(film - balance / slope, temp_c - _DEEPEST_CHILL_K, temp_c)
        heat = convection_w_m2k(air_speed_m_s, temp_c, film, p_pa)
    rate_kg_m2_s = heat * exchange * (water_pressure_pa(film) - vapour_pa)
    return WetFilm(temp_c=film, rate_g_m2_h=np.maximum(rate_kg_m2_s, 0.0) * 3.6e6)


def _latent_heat_j_kg(temp_c: FloatArray) -> FloatArray:
    """Heat of vaporisation of water [J/kg], a linear fit (within 0.1 % from 0 to 50 degC)."""
    return 2.501e6 - 2361.0 * temp_c
