"""Saturation pressure of water and ice, unchecked, with slopes: the inner loop of other modules."""

import numpy as np

from curewatch.science.arrays import ZERO_C_K, FloatArray

# R. W. Hyland and A. Wexler, ASHRAE Transactions 89(2A), 500-519 (1983); coefficients C1..C13 as
# printed in ASHRAE Handbook - Fundamentals 2017, chapter 1, equations 5 (ice) and 6 (water).
_ICE = (
    -5.6745359e3,
    6.3925247,
    -9.677843e-3,
    6.2215701e-7,
    2.0747825e-9,
    -9.484024e-13,
    4.1635019,
)
_WATER = (-5.8002206e3, 1.3914993, -4.8640239e-2, 4.1764768e-5, -1.4452093e-8, 6.5459673)


def water_pressure_pa(temp_c: FloatArray) -> FloatArray:
    """Saturation pressure [Pa] over liquid water at `temp_c` [degC]; nothing is checked."""
    c1, c2, c3, c4, c5, c6 = _WATER
    temp_k = temp_c + ZERO_C_K
    return np.exp(
        c1 / temp_k + c2 + temp_k * (c3 + temp_k * (c4 + temp_k * c5)) + c6 * np.log(temp_k)
    )


def water_slope_per_k(temp_c: FloatArray) -> FloatArray:
    """Return d ln p / dT [1/K] of `water_pressure_pa`."""
    c1, _, c3, c4, c5, c6 = _WATER
    temp_k = temp_c + ZERO_C_K
    return (c6 - c1 / temp_k) / temp_k + c3 + temp_k * (2.0 * c4 + temp_k * 3.0 * c5)


def ice_pressure_pa(temp_c: FloatArray) -> FloatArray:
    """Saturation pressure [Pa] over ice at `temp_c` [degC]; nothing is checked."""
    c1, c2, c3, c4, c5, c6, c7 = _ICE
    temp_k = temp_c + ZERO_C_K
    polynomial = temp_k * (c3 + temp_k * (c4 + temp_k * (c5 + temp_k * c6)))
    return np.exp(c1 / temp_k + c2 + polynomial + c7 * np.log(temp_k))


def ice_slope_per_k(temp_c: FloatArray) -> FloatArray:
    """Return d ln p / dT [1/K] of `ice_pressure_pa`."""
    c1, _, c3, c4, c5, c6, c7 = _ICE
    temp_k = temp_c + ZERO_C_K
    polynomial = c3 + temp_k * (2.0 * c4 + temp_k * (3.0 * c5 + temp_k * 4.0 * c6))
    return (c7 - c1 / temp_k) / temp_k + polynomial
