"""How humid a room has been when it was as cold as it will be: for a room whose heating is off.

Air that cools keeps its vapour until it is saturated, so a cold room would be at 100 %. A real one
seldom is: walls and wood take vapour up, and colder air from outside brings less. How far the
humidity then rises differs from room to room, so it is taken from the room's own cold hours or not
at all.
"""

import numpy as np

from curewatch.science.arrays import FloatArray
from curewatch.science.outlook_past import DAY_H
from curewatch.science.saturation import water_pressure_pa

MEMORY_H = 90 * DAY_H
"""Hours that are looked back over [h]."""
COLDER_K = 4.0
"""Hours colder than asked by up to this count too [K]; warmer ones never do, they were drier. Our
own."""
ENOUGH_H = 24
"""So many hours as cold are needed to say anything: two or three nights [h]; our own."""
SELDOM = 0.9
"""Share of them that were no more humid: the cautious side for finishes that damp air slows."""


def dampest_seen(
    temp_cells: FloatArray, pressure_cells: FloatArray, temp_c: FloatArray
) -> FloatArray:
    """
    Relative humidity that a room has seldom surpassed when it was as cold.

    Parameters
    ----------
    temp_cells, pressure_cells : ndarray
        Temperature [degC] and vapour pressure [Pa] of each hour so far, oldest first, NaN where
        unknown, shape (n,).
    temp_c : ndarray
        Temperatures asked for [degC].

    Returns
    -------
    ndarray
        Relative humidity [fraction] in the shape of `temp_c`; 1 where the room was too seldom so
        cold to tell.
    """
    temp, pressure = temp_cells[-MEMORY_H:], pressure_cells[-MEMORY_H:]
    known = np.isfinite(temp) & np.isfinite(pressure)
    temp = temp[known]
    rh = pressure[known] / water_pressure_pa(temp)
    asked = np.floor(temp_c)
    found = np.ones(asked.shape)
    for degree in np.unique(asked):
        near = rh[(temp <= degree) & (temp >= degree - COLDER_K)]
        if near.size >= ENOUGH_H:
            found[asked == degree] = min(float(np.quantile(near, SELDOM)), 1.0)
    return found
