"""How a stack of equal or unequal coats loses what it holds: finite volumes and their eigenvectors.

With the volatile volume fraction c at height x over the wood, 0 to the stack's thickness a,

    dc/dt = D d2c/dx2,    dc/dx = 0 at x = 0,    -D dc/dx = k c at x = a.

What is still to come is the integral of c over x, a thickness. Each coat is cut into equal cells of
thickness h. In y = sqrt(h) c the balance of the cells is dy/dt = -D S y with S symmetric and
tridiagonal, whose eigenvectors solve it exactly in time: only a new coat changes S. S depends on
the thicknesses and on k/D alone, so it is solved once for all stacks of such coats, at any pace.

References
----------
J. Crank, The Mathematics of Diffusion, 2nd ed. (1975), chapter 4: plane sheet, equations 4.18
(constant surface) and 4.53 (surface evaporation), which one coat converges to. H. S. Carslaw and
J. C. Jaeger, Conduction of Heat in Solids, 2nd ed. (1959), appendix IV: the decay rates of one coat
are D (beta/a)^2 with beta tan(beta) = k a/D. The finite volumes and the order of coats are ours.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from curewatch.science.arrays import FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Modes:
    """
    How one grid of cells loses what it holds: independent shapes, each at a pace of its own.

    Attributes
    ----------
    cell_um : ndarray
        Thickness of each cell [um], from the wood to the air, shape (cells,).
    decay_per_um2 : ndarray
        Decay rate of each shape over D [1/um2], slowest first, all above 0, shape (cells,).
    shape : ndarray
        Orthonormal shapes of sqrt(cell_um) times the fraction [-], one a column.
    outlet : ndarray
        Flux through the surface over D for a unit of each shape [um^-3/2], shape (cells,).
    """

    cell_um: FloatArray
    decay_per_um2: FloatArray
    shape: FloatArray
    outlet: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Fading:
    """
    What is still to come after one coat as a sum of exponentials.

    Attributes
    ----------
    laid_at_h : float
        Effective clock when the coat was laid [h].
    decay_per_h : ndarray
        Decay rates [1/h], slowest first.
    weight_um : ndarray
        Share of each in what the stack holds at `laid_at_h` [um]; single ones can be negative.
    """

    laid_at_h: float
    decay_per_h: FloatArray
    weight_um: FloatArray

    def remaining_um(self, now_h: FloatArray) -> FloatArray:
        """Micrometres still to come at instants not before `laid_at_h`, unchecked."""
        since_h = np.asarray(now_h) - self.laid_at_h
        return np.asarray(np.exp(-since_h[..., None] * self.decay_per_h) @ self.weight_um)


@lru_cache(maxsize=32)
def coat_modes(coat_um: tuple[float, ...], cells_per_coat: int, transfer_per_um: float) -> Modes:
    """
    Solve the eigenproblem of one number of coats.

    Between neighbours the conductance over D is 2/(h_i + h_i+1); at the surface half a cell and the
    transfer lie in series, 1/(h/2 + D/k). Rates come from the shapes' own losses (a Rayleigh
    quotient): a sum of squares, so that rounding can make no rate negative.
    """
    cell = np.repeat(np.asarray(coat_um) / cells_per_coat, cells_per_coat)
    between = 2.0 / (cell[:-1] + cell[1:])
    surface = 1.0 / (0.5 * cell[-1] + 1.0 / transfer_per_um)
    root = np.sqrt(cell)
    system = np.diag((np.append(between, surface) + np.insert(between, 0, 0.0)) / cell)
    system -= np.diag(between / (root[:-1] * root[1:]), -1)  # eigh reads the lower half only
    shape = np.linalg.eigh(system).eigenvectors
    fraction = shape / root[:, None]
    decay = between @ np.diff(fraction, axis=0) ** 2 + surface * fraction[-1] ** 2
    modes = Modes(cell, decay, shape, surface * fraction[-1])
    for array in (cell, decay, shape, modes.outlet):
        array.setflags(write=False)  # shared by every stack of these coats
    return modes
