"""Sink-back: what a stack of coats still holds, and how far its surface has still to fall.

A fresh coat holds a little water and coalescent. They diffuse through the stack, none into the
wood, and leave at the surface; as they leave the film shrinks and follows the grain down. Warmth
and dry air speed diffusion and surface transfer alike, so with effective hours for time both are
constants, and the state depends on clock readings alone: at each coat, and now. `film_modes` has
the equations.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from curewatch.errors import BadInput
from curewatch.science.arrays import FloatArray, Numbers, as_numbers, checked, refuse_where
from curewatch.science.film_modes import Fading, Modes, coat_modes

WATERBORNE_COAT_UM = 25.0
"""Dry thickness of a waterborne coat [um]."""
WATERBORNE_VOLATILE_FRAC = 0.08
"""Volatile volume fraction that a waterborne coat is laid with once its water has flashed."""
WATERBORNE_DIFFUSIVITY_UM2_H = 200.0
"""Diffusivity of the volatiles in a waterborne film [um2/h] at the reference climate."""
WATERBORNE_TRANSFER_UM_H = 17.0
"""Surface transfer coefficient of a waterborne film [um/h] at the reference climate."""
SINK_TOLERANCE_UM = 0.5
"""Shrinkage still to come [um] that a polished surface bears: about a wavelength of light."""
WATERBORNE_STANDING = "common-practice"
"""Standing of the five figures above; `WATERBORNE_SOURCE` says what they rest on."""
WATERBORNE_SOURCE = (
    "common practice, no source: no measurement stands behind these figures. They were chosen so"
    " that eight coats come out at the trade's one full day a coat; half the diffusivity would"
    " make it twice as long. A weighed test board or the maker's figures should replace them."
)
"""What people read beside any number that rests on the five figures above."""

CELLS_PER_COAT = 8
"""Cells in a coat: what is still to come is right to 0.15 % of what the last coat found and added,
the hour of the tolerance to 0.3 % of the wait (measured against finer grids)."""
MOST_COATS = 40
"""Coats that a stack may have; the work grows with the cube of their number."""
MOST_CELLS = 1600
"""Cells that a stack may have."""
FURTHEST_H = 87_660.0
"""A crossing later than this many effective hours (ten years) is none."""
RESOLUTION_H = 1e-6
"""A crossing is told to this many hours."""
HOURS_RANGE = (-1e7, 1e7)
"""Readings of an effective clock [h] that are believed."""


def remaining_um(
    coat_clock_h: Numbers,
    now_h: Numbers,
    *,
    coat_um: Numbers,
    volatile_frac: Numbers,
    diffusivity_um2_h: float,
    transfer_um_h: float,
) -> FloatArray:
    """
    Shrinkage still to come of the coats that are there at each instant.

    Parameters
    ----------
    coat_clock_h : float or array
        Effective clock when each coat was laid [h], in the order of laying, shape (coats,).
    now_h : float or array
        Effective clock of the question [h]; any instants, in any order, between coats too.
    coat_um, volatile_frac : float or array
        Dry thickness [um] and volatile volume fraction [fraction, 0 to 0.5] that each coat is laid
        with, one for all or one each.
    diffusivity_um2_h, transfer_um_h : float
        D [um2/h] and k [um/h] at the clock's reference climate, above 0.

    Returns
    -------
    ndarray
        Micrometres still to come, shape of `now_h`. A coat is there from its instant on; before the
        first there is nothing to come.

    Raises
    ------
    BadInput
        A value is out of range, coats are out of order, or the numbers of values do not agree.

    Notes
    -----
    Valid for small fractions (the thickness of a stack is taken as its dry one), a D that does not
    depend on the fraction, and a film past its flash. More effective hours anywhere never leave
    more. The state after every coat is kept between calls, so a curve costs its exponentials.
    """
    coats = _checked_coats(
        coat_clock_h,
        coat_um,
        volatile_frac,
        diffusivity_um2_h=diffusivity_um2_h,
        transfer_um_h=transfer_um_h,
    )
    now = checked(now_h, "now_h", allowed=HOURS_RANGE, unit="h")
    instants = now.ravel()
    there = np.searchsorted(coats.clock_h, instants, side="right")
    remaining = np.zeros(instants.size)
    fadings = _fadings(coats)
    for count in np.unique(there[there > 0]):
        here = there == count
        remaining[here] = fadings[count - 1].remaining_um(instants[here])
    return remaining.reshape(now.shape)


@dataclass(frozen=True, slots=True, eq=False)
class Profile:
    """
    What every cell of a stack holds, from the wood to the air.

    Attributes
    ----------
    cell_um : ndarray
        Thickness of each cell [um], shape (cells,).
    volatile_frac : ndarray
        Volatile volume fraction in each cell [fraction], shape (cells,).
    coat : ndarray of int
        Number of the coat that each cell belongs to, 1 on the wood, shape (cells,).
    """

    cell_um: FloatArray
    volatile_frac: FloatArray
    coat: npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Stack:
    """
    What a stack of coats holds from its last coat on.

    Attributes
    ----------
    laid_at_h : float
        Effective clock when the last coat was laid [h].
    diffusivity_um2_h : float
        D at the clock's reference climate [um2/h].
    cells_per_coat : int
        How finely the coats are cut.
    modes : Modes
        The shapes that its grid of cells decays in.
    amplitude : ndarray
        How much of each shape it holds at `laid_at_h` [um^1/2], shape (cells,).
    """

    laid_at_h: float
    diffusivity_um2_h: float
    cells_per_coat: int
    modes: Modes
    amplitude: FloatArray

    @staticmethod
    def laid(
        coat_clock_h: Numbers,
        *,
        coat_um: Numbers,
        volatile_frac: Numbers,
        diffusivity_um2_h: float,
        transfer_um_h: float,
        cells_per_coat: int = CELLS_PER_COAT,
    ) -> "Stack":
        """
        Lay coats one on another; each is laid on what the ones below still hold.

        Parameters
        ----------
        coat_clock_h, coat_um, volatile_frac, diffusivity_um2_h, transfer_um_h
            As for `remaining_um`.
        cells_per_coat : int
            Whole cells in a coat, 1600 in a stack at most; more than the default serve checks of
            convergence.

        Returns
        -------
        Stack
            The stack as the last coat has been laid.

        Raises
        ------
        BadInput
            As for `remaining_um`.
        """
        coats = _checked_coats(
            coat_clock_h,
            coat_um,
            volatile_frac,
            diffusivity_um2_h=diffusivity_um2_h,
            transfer_um_h=transfer_um_h,
            cells_per_coat=cells_per_coat,
        )
        *_, last = _stacks(coats)
        return last

    def remaining_um(self, now_h: Numbers) -> FloatArray:
        """Micrometres still to come at `now_h` [h], not before the last coat; same shape."""
        return self.fading().remaining_um(self._checked_now(now_h))

    def lost_if_buffed_um(self, now_h: Numbers) -> FloatArray:
        """
        Micrometres that a surface levelled and buffed at `now_h` will still fall.

        Parameters
        ----------
        now_h : float or array
            Effective clock of the buffing [h], not before the last coat.

        Returns
        -------
        ndarray
            All that is still to come [um], shape of `now_h`.

        Raises
        ------
        BadInput
            An instant is before the last coat.

        Notes
        -----
        This is the mean over the face. Over open grain and filled pores the film is thicker and
        falls further, so the grain shows before the mean does. What buffing takes off is left out.
        """
        return self.remaining_um(now_h)

    def given_off_um(self, now_h: Numbers) -> FloatArray:
        """Micrometres that have left through the surface since the last coat; same shape."""
        since_h = self._checked_now(now_h) - self.laid_at_h
        share = self.modes.outlet * self.amplitude / self.modes.decay_per_um2
        return -np.expm1(-since_h[..., None] * self._decay_per_h()) @ share

    def flux_um_h(self, now_h: Numbers) -> FloatArray:
        """How fast the surface falls at `now_h` [um/h], not before the last coat; same shape."""
        outlet = self.diffusivity_um2_h * self.modes.outlet
        return self._amplitude_at(now_h) @ outlet

    def profile(self, now_h: float) -> Profile:
        """Volatile fraction in every cell at one instant `now_h` [h], not before the last coat."""
        held = self.modes.shape @ self._amplitude_at(float(now_h))
        cells = self.modes.cell_um
        return Profile(
            cell_um=cells,
            volatile_frac=held / np.sqrt(cells),
            coat=np.arange(cells.size) // self.cells_per_coat + 1,
        )

    def when_below_um(self, tolerance_um: float = SINK_TOLERANCE_UM) -> float | None:
        """
        Effective clock at which what is still to come has fallen to a tolerance.

        Parameters
        ----------
        tolerance_um : float
            Shrinkage that does no harm [um], 1e-9 to 1000.

        Returns
        -------
        float or None
            The clock [h] to a millionth of an hour, rounded up; the last coat's own where the stack
            never held more; None where it is more than ten years of effective time away.

        Raises
        ------
        BadInput
            The tolerance is out of range.
        """
        tolerance = float(checked(tolerance_um, "tolerance_um", allowed=(1e-9, 1e3), unit="um"))
        fading = self.fading()

        def above(since_h: float) -> bool:
            return bool(fading.remaining_um(np.asarray(self.laid_at_h + since_h)) > tolerance)

        early, late = 0.0, FURTHEST_H
        if not above(early):
            return self.laid_at_h
        if above(late):
            return None
        while late - early > RESOLUTION_H:
            middle = 0.5 * (early + late)
            early, late = (middle, late) if above(middle) else (early, middle)
        return self.laid_at_h + late

    def fading(self) -> Fading:
        """Return what is still to come as a sum of exponentials."""
        weight = (np.sqrt(self.modes.cell_um) @ self.modes.shape) * self.amplitude
        return Fading(self.laid_at_h, self._decay_per_h(), weight)

    def _decay_per_h(self) -> FloatArray:
        return self.diffusivity_um2_h * self.modes.decay_per_um2

    def _amplitude_at(self, now_h: Numbers) -> FloatArray:
        since_h = self._checked_now(now_h) - self.laid_at_h
        return np.asarray(np.exp(-since_h[..., None] * self._decay_per_h()) * self.amplitude)

    def _checked_now(self, now_h: Numbers) -> FloatArray:
        now = checked(now_h, "now_h", allowed=HOURS_RANGE, unit="h")
        refuse_where(
            now < self.laid_at_h,
            "now_h",
            f"is before the last coat, laid at {self.laid_at_h:g} h. Ask `remaining_um`, which"
            " knows the coats below.",
        )
        return now


@dataclass(frozen=True, slots=True)
class _Coats:
    """Checked coats, in a form that a cache can know again."""

    clock_h: tuple[float, ...]
    coat_um: tuple[float, ...]
    volatile_frac: tuple[float, ...]
    diffusivity_um2_h: float
    transfer_um_h: float
    cells_per_coat: int


def _checked_coats(
    coat_clock_h: Numbers,
    coat_um: Numbers,
    volatile_frac: Numbers,
    *,
    diffusivity_um2_h: float,
    transfer_um_h: float,
    cells_per_coat: int = CELLS_PER_COAT,
) -> _Coats:
    clock = np.atleast_1d(checked(coat_clock_h, "coat_clock_h", allowed=HOURS_RANGE, unit="h"))
    if clock.ndim != 1 or not 1 <= clock.size <= MOST_COATS:
        raise BadInput(
            f"coat_clock_h has shape {clock.shape}; give one reading a coat, 1 to {MOST_COATS}."
        )
    backwards = np.diff(clock, prepend=clock[0]) < 0.0
    refuse_where(backwards, "coat_clock_h", "is before the coat below. Give coats as they lie.")
    thickness = checked(coat_um, "coat_um", allowed=(0.01, 1e4), unit="um")
    fraction = checked(volatile_frac, "volatile_frac", allowed=(0.0, 0.5), unit="as a fraction")
    most = MOST_CELLS // clock.size
    cells = checked(cells_per_coat, "cells_per_coat", allowed=(1, most), unit="cells")
    refuse_where(cells % 1.0 != 0.0, "cells_per_coat", f"is {cells:g}; give a whole number.")
    return _Coats(
        clock_h=tuple(clock.tolist()),
        coat_um=_one_each(thickness, "coat_um", clock.size),
        volatile_frac=_one_each(fraction, "volatile_frac", clock.size),
        diffusivity_um2_h=_coefficient(diffusivity_um2_h, "diffusivity_um2_h", unit="um2/h"),
        transfer_um_h=_coefficient(transfer_um_h, "transfer_um_h", unit="um/h"),
        cells_per_coat=int(cells),
    )


def _coefficient(value: float, name: str, *, unit: str) -> float:
    number = as_numbers(value, name)
    if number.ndim:
        raise BadInput(f"{name} has shape {number.shape}; give one number for the whole stack.")
    return float(checked(number, name, allowed=(1e-9, 1e12), unit=unit))


def _one_each(values: FloatArray, name: str, count: int) -> tuple[float, ...]:
    """Return a value for each coat from one for all or one each."""
    if values.shape not in ((), (1,), (count,)):
        raise BadInput(
            f"{name} has shape {values.shape} for {count} coats; give one for all or one each."
        )
    return tuple(np.broadcast_to(values, (count,)).tolist())


@lru_cache(maxsize=128)
def _fadings(coats: _Coats) -> tuple[Fading, ...]:
    """Return what is still to come after each coat: small enough to keep for many pieces."""
    return tuple(stack.fading() for stack in _stacks(coats))


def _stacks(coats: _Coats) -> Iterator[Stack]:
    """Yield the stack as each coat has been laid."""
    # To twelve digits, so that a pace that divides both k and D finds the shapes it had before.
    transfer_per_um = float(f"{coats.transfer_um_h / coats.diffusivity_um2_h:.12g}")
    held = np.empty(0)
    for below, at_h in enumerate(coats.clock_h):
        fresh = np.full(coats.cells_per_coat, coats.volatile_frac[below])
        modes = coat_modes(coats.coat_um[: below + 1], coats.cells_per_coat, transfer_per_um)
        weighted = np.sqrt(modes.cell_um) * np.concatenate((held, fresh))
        stack = Stack(
            laid_at_h=at_h,
            diffusivity_um2_h=coats.diffusivity_um2_h,
            cells_per_coat=coats.cells_per_coat,
            modes=modes,
            amplitude=weighted @ modes.shape,
        )
        yield stack
        if below + 1 < len(coats.clock_h):
            held = stack.profile(coats.clock_h[below + 1]).volatile_frac
