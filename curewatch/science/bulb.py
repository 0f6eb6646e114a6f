"""The wet-bulb equation, unchecked: from a humidity ratio to the bulb that stands in that air."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from curewatch.science.arrays import FloatArray
from curewatch.science.saturation import (
    ice_pressure_pa,
    ice_slope_per_k,
    water_pressure_pa,
    water_slope_per_k,
)

WATER_TO_AIR_MASS = 0.621945
"""Molar mass of water over that of dry air (ASHRAE Handbook - Fundamentals 2017, ch. 1, eq. 20)."""


@dataclass(frozen=True, slots=True)
class _BulbHeats:
    """Heats [kJ/kg, kJ/(kg K)] in the wet-bulb equation of one kind of bulb."""

    latent: float
    latent_slope: float
    bulb: float
    pressure_pa: Callable[[FloatArray], FloatArray]
    slope_per_k: Callable[[FloatArray], FloatArray]


# ASHRAE Handbook - Fundamentals 2017, chapter 1, equations 33 and 35.
_LIQUID = _BulbHeats(2501.0, -2.326, 4.186, water_pressure_pa, water_slope_per_k)
_ICED = _BulbHeats(2830.0, -0.24, 2.1, ice_pressure_pa, ice_slope_per_k)

_WET_BULB_STEPS = 12
"""Newton on a convex function from its right side: 9 steps reach 1e-9 K from 80 degC (measured)."""


def bulb_of_ratio(temp_c: FloatArray, ratio: FloatArray, p_pa: FloatArray) -> FloatArray:
    """Wet bulb [degC] of air at `temp_c` [degC], `ratio` [kg/kg] and `p_pa` [Pa], all checked."""
    temp, ratio, pressure = np.broadcast_arrays(temp_c, ratio, p_pa)
    liquid = np.asarray(ratio >= _bulb_ratio(np.zeros_like(temp), temp, pressure, _LIQUID)[0])
    iced = ~liquid
    bulb = np.empty(temp.shape)
    bulb[liquid] = _bulb_root(
        temp[liquid], temp[liquid], ratio[liquid], pressure[liquid], heats=_LIQUID
    )
    start = np.minimum(temp[iced] + 1.0, 0.0)
    bulb[iced] = _bulb_root(start, temp[iced], ratio[iced], pressure[iced], heats=_ICED)
    return bulb


def _bulb_root(
    start_c: FloatArray,
    temp_c: FloatArray,
    ratio: FloatArray,
    p_pa: FloatArray,
    *,
    heats: _BulbHeats,
) -> FloatArray:
    """Bulb temperature at which the adiabatic-saturation equation gives `ratio`."""
    bulb = start_c
    for _ in range(_WET_BULB_STEPS):
        value, slope = _bulb_ratio(bulb, temp_c, p_pa, heats)
        bulb = bulb - (value - ratio) / slope
    return bulb


def _bulb_ratio(
    bulb_c: FloatArray, temp_c: FloatArray, p_pa: FloatArray, heats: _BulbHeats
) -> tuple[FloatArray, FloatArray]:
    """Humidity ratio of air at `temp_c` whose bulb sits at `bulb_c`, and its slope in `bulb_c`."""
    saturated_pa = heats.pressure_pa(bulb_c)
    dry_pa = p_pa - saturated_pa
    saturated = WATER_TO_AIR_MASS * saturated_pa / dry_pa
    saturated_slope = saturated * heats.slope_per_k(bulb_c) * p_pa / dry_pa
    latent = heats.latent + heats.latent_slope * bulb_c
    below = heats.latent + 1.86 * temp_c - heats.bulb * bulb_c
    ratio = (latent * saturated - 1.006 * (temp_c - bulb_c)) / below
    above_slope = latent * saturated_slope + heats.latent_slope * saturated + 1.006
    return ratio, (above_slope + heats.bulb * ratio) / below
