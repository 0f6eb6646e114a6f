"""How finely a drying coat is followed: its time steps, and the wood beneath cut into cells."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from curewatch.science.arrays import FloatArray

WOOD_CONDUCTIVITY_W_MK = 0.15
"""Of a middling hardwood across the grain [W/(m K)] (typical handbook value; from memory)."""
WOOD_DENSITY_KG_M3 = 550.0
"""Of a middling hardwood [kg/m3] (from memory)."""
WOOD_HEAT_J_KGK = 1500.0
"""Of wood at a room's moisture [J/(kg K)] (typical handbook value; from memory)."""
WOOD_DEPTH_M = 0.02
"""Depth to the middle of a body, where no heat flows [m] (our own choice). Ten minutes reach half
of it."""


@dataclass(frozen=True, slots=True)
class Grid:
    """
    How finely time and wood are cut.

    Attributes
    ----------
    duration_s : float
        How long the coat is followed [s].
    halvings : int
        The first step is the duration halved so many times.
    growth : float
        A step is doubled once it is below this share of the time passed.
    first_cell_m : float
        Thickness of the wood's first cell [m].
    cell_ratio : float
        Each next cell is so many times as thick, above 1.
    """

    duration_s: float = 600.0
    halvings: int = 15
    growth: float = 0.04
    first_cell_m: float = 1e-4
    cell_ratio: float = 1.3


USUAL_GRID = Grid()
"""282 steps and 16 cells: the lowest film is within 0.1 K of a far finer one (checked)."""


def step_lengths_s(grid: Grid) -> FloatArray:
    """Lengths of the time steps [s]: doubling with time, ending on the duration."""
    step = grid.duration_s / 2.0**grid.halvings
    tick, size, steps = 0, 1, []  # in units of the first step
    while tick < 2**grid.halvings:
        if tick % (2 * size) == 0 and 2 * size <= grid.growth * tick:
            size *= 2
        steps.append(size * step)
        tick += size
    return np.array(steps)


def wood_cells_m(grid: Grid) -> FloatArray:
    """Thicknesses of the wood's cells [m], the surface first; the last reaches `WOOD_DEPTH_M`."""
    count = int(
        np.ceil(
            np.log1p((grid.cell_ratio - 1.0) * WOOD_DEPTH_M / grid.first_cell_m)
            / np.log(grid.cell_ratio)
        )
    )
    cells = grid.first_cell_m * grid.cell_ratio ** np.arange(count)
    return np.asarray(cells * (WOOD_DEPTH_M / np.sum(cells)))


@lru_cache(maxsize=64)
def wood_step(grid: Grid, step_s: float) -> tuple[FloatArray, FloatArray, float]:
    """
    Wood after one implicit step: new = kept @ old + shared * film, and the surface's conductance.

    Returns
    -------
    tuple
        kept (cells, cells), shared (cells, 1), conductance [W/(m2 K)] from film to first cell.
    """
    cells = wood_cells_m(grid)
    surface = WOOD_CONDUCTIVITY_W_MK / (0.5 * cells[0])
    between = WOOD_CONDUCTIVITY_W_MK / (0.5 * (cells[1:] + cells[:-1]))
    stores = cells * (WOOD_DENSITY_KG_M3 * WOOD_HEAT_J_KGK / step_s)
    balance = np.diag(stores)
    balance[0, 0] += surface
    index = np.arange(cells.size - 1)
    balance[index, index] += between
    balance[index + 1, index + 1] += between
    balance[index, index + 1] -= between
    balance[index + 1, index] -= between
    inverse = np.linalg.inv(balance)
    return inverse * stores, inverse[:, :1] * surface, float(surface)
