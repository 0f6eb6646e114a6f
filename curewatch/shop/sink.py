"""Sink-back of a piece: how far its film has still to fall, and when it lies still.

A film buffed while it still holds water and coalescent loses its gloss days later: they leave, and
the surface follows the grain down. What is still to come hangs on the cure clock at each coat and
now, and on nothing else (`science.film`).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from curewatch.science.film import FURTHEST_H, MOST_COATS, Stack
from curewatch.shop.finish import ClockName
from curewatch.shop.reading import Standing

if TYPE_CHECKING:
    from curewatch.science.film_modes import Fading
    from curewatch.shop.climate import Floats
    from curewatch.shop.finish import FilmFigures, Finish
    from curewatch.shop.milestones import PieceClocks
    from curewatch.shop.piece import Coat

KNOWN_HERE = (Standing.DATA_SHEET, Standing.LEARNT_HERE)
"""Standings of D and k that let the film decide beside the clock; with others it only advises."""
WEAKEST_FIRST = (
    Standing.FROM_MEMORY,
    Standing.COMMON_PRACTICE,
    Standing.PHYSICS,
    Standing.LEARNT_HERE,
    Standing.DATA_SHEET,
)
THINNEST_UM, THICKEST_UM = 0.01, 1e4  # dry coats that the film model takes
NO_FILM_MODEL = "No film model for this finish: its profile does not say what its film still holds."
GRAIN = "That is the mean of the face: over open grain and filled pores it falls further."


@dataclass(frozen=True, slots=True)
class Settling:
    """
    What a stack of coats holds from its last coat on.

    Attributes
    ----------
    fading : Fading
        What is still to come, by the cure clock since the first coat.
    last_h : float
        That clock when the last coat was laid [h].
    under_h : float
        Cure hours from the last coat to the tolerance [h]; ten years where it takes longer.
    """

    fading: Fading
    last_h: float
    under_h: float

    def remaining_um(self, since_last_h: float) -> float:
        """Return what is still to come so many cure hours after the last coat [um]."""
        at = np.asarray(self.last_h + max(since_last_h, 0.0))
        return float(self.fading.remaining_um(at))


@dataclass(frozen=True, slots=True)
class SinkBack:
    """
    Sink-back of a piece as it stands.

    Attributes
    ----------
    remaining_um : float
        Shrinkage still to come [um].
    tolerance_um : float
        What a polished surface bears of it [um].
    under_tolerance_h : float or None
        Cure hours from the last coat to the tolerance [h]; None beyond ten years.
    under_tolerance_at : int or None
        Instant by now at which the film came under it [ms], None if it has not.
    expected_at : int or None
        That instant ahead, as the room's outlook likely has it [ms].
    lost_if_buffed_now_um : float
        What a surface buffed now still falls [um].
    standing : Standing
        Of the weaker of the two rates it rests on.
    decides : bool
        Whether it decides beside the clock; else it is advice.
    sentence : str
        All that, in words.
    """

    remaining_um: float
    tolerance_um: float
    under_tolerance_h: float | None
    under_tolerance_at: int | None
    expected_at: int | None
    lost_if_buffed_now_um: float
    standing: Standing
    decides: bool
    sentence: str


def decides(film: FilmFigures) -> bool:
    """Return whether both rates of a film are known well enough to decide beside the clock."""
    return {film.diffusivity_um2_h.standing, film.transfer_um_h.standing} <= set(KNOWN_HERE)


def settling(
    finish: Finish, coats: tuple[Coat, ...], clock_h: Floats, pace: float = 1.0
) -> Settling | None:
    """
    Return what a piece's coats hold, worked out once for the same coats.

    Parameters
    ----------
    finish : Finish
        With or without film figures.
    coats : tuple of Coat
        In order; the dry film of each goes with its wet one.
    clock_h : ndarray
        Cure clock at each coat, from any beginning [h], shape (coats,).
    pace : float
        What D and k are divided by: above 1 the film goes slower than the profile says.

    Returns
    -------
    Settling or None
        None without film figures, or with more coats than the model takes.
    """
    if finish.film is None or not 1 <= len(coats) <= MOST_COATS:
        return None
    dry_um = dry_films_um(finish.film, finish.drying.wet_film_um.value, coats)
    return _settling(finish.film, rising_h(clock_h), dry_um, pace)


def dry_films_um(film: FilmFigures, usual_um: float, coats: tuple[Coat, ...]) -> tuple[float, ...]:
    """Return what stays of each coat [um]; `usual_um` is the wet film of the usual one [um]."""
    ratios = [1.0 if coat.wet_um is None else coat.wet_um / usual_um for coat in coats]
    dry_um = np.clip(np.array(ratios) * film.dry_um.value, THINNEST_UM, THICKEST_UM)
    return tuple(dry_um.tolist())


def rising_h(clock_h: Floats) -> tuple[float, ...]:
    """Return a clock at each coat from the first on, never falling: sums are rounded [h]."""
    return tuple(np.maximum.accumulate(clock_h - clock_h[0]).tolist())


def film_stack(
    film: FilmFigures, clock_h: tuple[float, ...], dry_um: tuple[float, ...], pace: float
) -> Stack:
    """Return the coats as laid one on another; the arguments are those of `settling`."""
    return Stack.laid(
        clock_h,
        coat_um=dry_um,
        volatile_frac=film.volatile_frac.value,
        diffusivity_um2_h=film.diffusivity_um2_h.value / pace,
        transfer_um_h=film.transfer_um_h.value / pace,
    )


@lru_cache(maxsize=2048)
def _settling(
    film: FilmFigures, clock_h: tuple[float, ...], dry_um: tuple[float, ...], pace: float
) -> Settling:
    stack = film_stack(film, clock_h, dry_um, pace)
    under_h = stack.when_below_um(film.sink_tolerance_um.value)
    last_h = clock_h[-1]
    return Settling(stack.fading(), last_h, FURTHEST_H if under_h is None else under_h - last_h)


def sink_back(clocks: PieceClocks) -> SinkBack | None:
    """Return a piece's sink-back as it stands; None where the finish has no film model."""
    film, stack, cure = clocks.finish.film, clocks.settling(), clocks.reading(ClockName.CURE)
    if film is None or stack is None or cure is None:
        return None
    since_h = cure.effective_hours
    remaining, never = stack.remaining_um(since_h), stack.under_h >= FURTHEST_H
    been = clocks.reached_at(ClockName.CURE, stack.under_h) if since_h >= stack.under_h else None
    ahead = clocks.ahead(ClockName.CURE) if been is None and not never else None
    expected = None if ahead is None else ahead.when(clocks.now_ms, stack.under_h - since_h).likely
    standings = {film.diffusivity_um2_h.standing, film.transfer_um_h.standing}
    weakest = min(standings, key=WEAKEST_FIRST.index)
    return SinkBack(
        remaining_um=remaining,
        tolerance_um=film.sink_tolerance_um.value,
        under_tolerance_h=None if never else stack.under_h,
        under_tolerance_at=been,
        expected_at=expected,
        lost_if_buffed_now_um=remaining,
        standing=weakest,
        decides=decides(film),
        sentence=_sentence(film, remaining, None if never else stack.under_h, weakest),
    )


def _sentence(
    film: FilmFigures, remaining_um: float, under_h: float | None, standing: Standing
) -> str:
    """Say what is still to come, what buffing now costs, and what that rests on."""
    tolerance_um = film.sink_tolerance_um.value
    rests = {
        Standing.FROM_MEMORY: "figures from memory, with no source",
        Standing.COMMON_PRACTICE: "common practice, no source",
        Standing.LEARNT_HERE: "figures learnt here",
        Standing.DATA_SHEET: "the data sheet's figures",
        Standing.PHYSICS: "physics",
    }[standing]
    by = f"by {rests}" + ("" if decides(film) else "; take it as advice")
    if remaining_um <= tolerance_um:
        return (
            f"The film has {remaining_um:.2f} um still to fall, within the {tolerance_um:g} um "
            f"that a polish bears ({by}). {GRAIN}"
        )
    when = (
        "not within ten years of the last coat"
        if under_h is None
        else f"{under_h:.0f} cure hours after the last coat"
    )
    return (
        f"If you buff now you will lose {remaining_um:.1f} um in time to come; a polish bears "
        f"{tolerance_um:g} um, which the film comes under {when} ({by}). {GRAIN}"
    )
