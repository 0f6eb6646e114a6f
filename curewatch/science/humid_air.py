"""Humid air: saturation pressure, dew and frost point, wet bulb, humidity ratio.

Relative humidity is taken over liquid water at every temperature, as sensors report it
(World Meteorological Organization, WMO-No. 8, Guide to Instruments and Methods of Observation,
part I, chapter 4). Pressures are ideal-gas partial pressures: without the enhancement factor the
humidity ratio is 0.4 to 0.6 % below real-gas tables.
"""

import math
from typing import Literal

import numpy as np

from curewatch.errors import BadInput
from curewatch.science.arrays import (
    ZERO_C_K,
    FloatArray,
    Numbers,
    checked,
    checked_air,
    checked_positive,
    checked_shapes,
    refuse_where,
)
from curewatch.science.bulb import WATER_TO_AIR_MASS, bulb_of_ratio
from curewatch.science.saturation import (
    ice_pressure_pa,
    ice_slope_per_k,
    water_pressure_pa,
    water_slope_per_k,
)

STANDARD_PRESSURE_PA = 101325.0
"""Standard atmosphere [Pa] (ISO 2533:1975, table 1)."""
LEAST_RH_FOR_DEW_POINT_FRAC = 0.001
"""Below this relative humidity [fraction] a dew point means nothing (our own limit)."""
DRY_AIR_GAS_CONSTANT_J_KGK = 287.042
"""Gas constant of dry air [J/(kg K)] (ASHRAE Handbook - Fundamentals 2017, ch. 1, eq. 1)."""

_NEWTON_STEPS = 4
"""From the Magnus estimate, within 1 K, three Newton steps reach rounding (measured); one spare."""


def saturation_pressure_pa(temp_c: Numbers, over: Literal["water", "ice"] = "water") -> FloatArray:
    """
    Saturation vapour pressure.

    Parameters
    ----------
    temp_c : float or array
        Temperature [degC], -100 to 100 over water, -100 to 0.01 over ice.
    over : {"water", "ice"}
        Liquid water (supercooled below 0 degC) or ice.

    Returns
    -------
    ndarray
        Pressure [Pa], shape of `temp_c`.

    Raises
    ------
    BadInput
        Temperature out of range, or `over` is neither word.

    Notes
    -----
    Stated error 0.03 % from 0 to 200 degC (water) and -100 to 0 degC (ice). Over water below
    0 degC the equation is extrapolated: 0.011 % off IAPWS at -10 degC and 0.3 % off Murphy and
    Koop (2005) at -33 degC, where no dew point means much.

    References
    ----------
    R. W. Hyland and A. Wexler, ASHRAE Transactions 89(2A), 500-519 (1983), as printed in ASHRAE
    Handbook - Fundamentals 2017, chapter 1 "Psychrometrics", equations 5 (ice) and 6 (water).
    """
    match over:
        case "water":
            temp = checked(temp_c, "temp_c", allowed=(-100.0, 100.0), unit="degC over water")
            return water_pressure_pa(temp)
        case "ice":
            temp = checked(temp_c, "temp_c", allowed=(-100.0, 0.01), unit="degC over ice")
            return ice_pressure_pa(temp)
    raise BadInput(f"over is {over!r}; it must be 'water' or 'ice'.")


def vapour_pressure_pa(temp_c: Numbers, rh_frac: Numbers) -> FloatArray:
    """
    Partial pressure of the water vapour in air.

    Parameters
    ----------
    temp_c : float or array
        Air temperature [degC], -40 to 80.
    rh_frac : float or array
        Relative humidity over water [fraction], 0 to 1.

    Returns
    -------
    ndarray
        Vapour pressure [Pa], broadcast shape.

    Raises
    ------
    BadInput
        An input is out of range.

    References
    ----------
    WMO-No. 8, part I, chapter 4, annex 4.A (relative humidity over liquid water).
    """
    temp, rh = checked_air(temp_c, rh_frac)
    return rh * water_pressure_pa(temp)


def vapour_pressure_deficit_pa(temp_c: Numbers, rh_frac: Numbers) -> FloatArray:
    """
    How far the air's vapour pressure is below saturation over water.

    Parameters
    ----------
    temp_c : float or array
        Air temperature [degC], -40 to 80.
    rh_frac : float or array
        Relative humidity over water [fraction], 0 to 1.

    Returns
    -------
    ndarray
        Deficit [Pa], broadcast shape; 0 at saturation.

    Raises
    ------
    BadInput
        An input is out of range.
    """
    temp, rh = checked_air(temp_c, rh_frac)
    return (1.0 - rh) * water_pressure_pa(temp)


def dew_point_c(temp_c: Numbers, rh_frac: Numbers) -> FloatArray:
    """
    Temperature at which the air would be saturated over liquid water.

    Parameters
    ----------
    temp_c : float or array
        Air temperature [degC], -40 to 80.
    rh_frac : float or array
        Relative humidity over water [fraction], 0.001 to 1.

    Returns
    -------
    ndarray
        Dew point [degC], broadcast shape. Over water below 0 degC too: the frost point is another
        quantity, up to 3 K higher.

    Raises
    ------
    BadInput
        An input is out of range, or the humidity is below 0.1 %.

    Notes
    -----
    The exact inverse of `saturation_pressure_pa` (Newton on ln p, to 1e-6 K). Dew points above
    0 degC agree with IAPWS to 0.02 K.

    References
    ----------
    ASHRAE Handbook - Fundamentals 2017, chapter 1, equation 6, inverted.
    """
    log_pressure = _log_vapour_pressure(temp_c, rh_frac)
    dew = _magnus_inverse(log_pressure, 17.62, 243.12)
    for _ in range(_NEWTON_STEPS):
        dew = dew - (np.log(water_pressure_pa(dew)) - log_pressure) / water_slope_per_k(dew)
    return dew


def frost_point_c(temp_c: Numbers, rh_frac: Numbers) -> FloatArray:
    """
    Temperature at which the air would be saturated over ice.

    Parameters
    ----------
    temp_c : float or array
        Air temperature [degC], -40 to 80.
    rh_frac : float or array
        Relative humidity over water [fraction], 0.001 to 1.

    Returns
    -------
    ndarray
        Frost point [degC], broadcast shape; NaN where the vapour pressure is above that of ice at
        0 degC, so that no frost can form.

    Raises
    ------
    BadInput
        An input is out of range, or the humidity is below 0.1 %.

    References
    ----------
    ASHRAE Handbook - Fundamentals 2017, chapter 1, equation 5, inverted.
    """
    log_pressure = _log_vapour_pressure(temp_c, rh_frac)
    frost = _magnus_inverse(log_pressure, 22.46, 272.62)
    for _ in range(_NEWTON_STEPS):
        frost = frost - (np.log(ice_pressure_pa(frost)) - log_pressure) / ice_slope_per_k(frost)
    no_frost = log_pressure > np.log(ice_pressure_pa(np.asarray(0.0)))
    return np.where(no_frost, np.nan, frost)


def humidity_ratio_kg_kg(
    temp_c: Numbers, rh_frac: Numbers, *, p_pa: Numbers = STANDARD_PRESSURE_PA
) -> FloatArray:
    """
    Mass of water vapour to each kilogram of dry air.

    Parameters
    ----------
    temp_c : float or array
        Air temperature [degC], -40 to 80.
    rh_frac : float or array
        Relative humidity over water [fraction], 0 to 1.
    p_pa : float or array
        Air pressure [Pa].

    Returns
    -------
    ndarray
        Humidity ratio [kg/kg dry air], broadcast shape.

    Raises
    ------
    BadInput
        An input is out of range, or the vapour pressure reaches the air pressure.

    Notes
    -----
    Ideal gas: 0.36 to 0.57 % below real-gas tables.

    References
    ----------
    ASHRAE Handbook - Fundamentals 2017, chapter 1, equation 20.
    """
    vapour = vapour_pressure_pa(temp_c, rh_frac)
    pressure = checked_positive(p_pa, "p_pa", unit="Pa")
    checked_shapes(air=vapour, p_pa=pressure)
    refuse_where(
        np.asarray(vapour >= pressure),
        "p_pa",
        "is not above the water vapour's own pressure. Check the pressure and its unit (Pa).",
    )
    return WATER_TO_AIR_MASS * vapour / (pressure - vapour)


def specific_volume_m3_kg(
    temp_c: Numbers, rh_frac: Numbers, *, p_pa: Numbers = STANDARD_PRESSURE_PA
) -> FloatArray:
    """
    Volume of moist air that holds one kilogram of dry air.

    Parameters
    ----------
    temp_c : float or array
        Air temperature [degC], -40 to 80.
    rh_frac : float or array
        Relative humidity over water [fraction], 0 to 1.
    p_pa : float or array
        Air pressure [Pa].

    Returns
    -------
    ndarray
        Specific volume [m3/kg dry air], broadcast shape.

    Raises
    ------
    BadInput
        An input is out of range, or the vapour pressure reaches the air pressure.

    References
    ----------
    ASHRAE Handbook - Fundamentals 2017, chapter 1, equation 26.
    """
    ratio = humidity_ratio_kg_kg(temp_c, rh_frac, p_pa=p_pa)
    temp_k = np.asarray(temp_c, dtype=np.float64) + ZERO_C_K
    moist = 1.0 + ratio / WATER_TO_AIR_MASS
    return DRY_AIR_GAS_CONSTANT_J_KGK * temp_k * moist / np.asarray(p_pa, dtype=np.float64)


def wet_bulb_c(
    temp_c: Numbers, rh_frac: Numbers, *, p_pa: Numbers = STANDARD_PRESSURE_PA
) -> FloatArray:
    """
    Thermodynamic wet-bulb temperature (adiabatic saturation).

    Parameters
    ----------
    temp_c : float or array
        Air temperature [degC], -40 to 80.
    rh_frac : float or array
        Relative humidity over water [fraction], 0 to 1.
    p_pa : float or array
        Air pressure [Pa]; it must exceed the saturation pressure at `temp_c`.

    Returns
    -------
    ndarray
        Wet bulb [degC], broadcast shape.

    Raises
    ------
    BadInput
        An input is out of range, or water would boil at this pressure.

    Notes
    -----
    A liquid bulb is taken wherever one can stand at or above 0 degC; else the bulb is iced. Within
    1 K of freezing both can exist and published values differ by up to 0.7 K. In air below 0 degC
    that is saturated over water, an iced bulb sits slightly above the air.

    References
    ----------
    ASHRAE Handbook - Fundamentals 2017, chapter 1, equations 33 (liquid bulb) and 35 (iced bulb).
    """
    temp, rh = checked_air(temp_c, rh_frac)
    pressure = checked_positive(p_pa, "p_pa", unit="Pa")
    checked_shapes(temp_c=temp, rh_frac=rh, p_pa=pressure)
    # An iced bulb can stand above the air by less than 1 K: room for it in the start below.
    refuse_where(
        np.asarray(water_pressure_pa(temp + 1.0) >= pressure),
        "p_pa",
        "is so low that water boils at this temperature. Check the pressure and its unit (Pa).",
    )
    ratio = humidity_ratio_kg_kg(temp, rh, p_pa=pressure)
    return bulb_of_ratio(temp, ratio, pressure)


def pressure_at_altitude_pa(altitude_m: Numbers) -> FloatArray:
    """
    Air pressure of the standard atmosphere.

    Parameters
    ----------
    altitude_m : float or array
        Geopotential altitude [m], -1000 to 11000.

    Returns
    -------
    ndarray
        Pressure [Pa], shape of `altitude_m`.

    Raises
    ------
    BadInput
        Altitude out of range.

    Notes
    -----
    Weather moves the true pressure by 3 % either way; the wet bulb hardly notices.

    References
    ----------
    ISO 2533:1975; ICAO Doc 7488/3; rounded constants as in ASHRAE Handbook - Fundamentals 2017,
    chapter 1, equation 3.
    """
    altitude = checked(altitude_m, "altitude_m", allowed=(-1000.0, 11000.0), unit="m")
    pressure: FloatArray = STANDARD_PRESSURE_PA * (1.0 - 2.25577e-5 * altitude) ** 5.2559
    return pressure


def _log_vapour_pressure(temp_c: Numbers, rh_frac: Numbers) -> FloatArray:
    temp, rh = checked_air(temp_c, rh_frac)
    refuse_where(
        np.asarray(rh < LEAST_RH_FOR_DEW_POINT_FRAC),
        "rh_frac",
        "is below 0.001 (0.1 %); air that dry has no usable dew point. Check the humidity sensor.",
    )
    return np.log(rh * water_pressure_pa(temp))


def _magnus_inverse(log_pressure: FloatArray, slope: float, offset_c: float) -> FloatArray:
    """Return a first estimate of the dew or frost point (WMO-No. 8, part I, annex 4.B)."""
    excess = log_pressure - math.log(611.2)
    return offset_c * excess / (slope - excess)
