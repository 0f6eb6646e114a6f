"""The coats of a piece as layers: how thick each was laid, and what it still holds.

For the drawing of the build; what follows from it is told by `sink` and by `build`.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from curewatch.science.film import MOST_COATS
from curewatch.shop.finish import ClockName
from curewatch.shop.sink import dry_films_um, film_stack, rising_h

if TYPE_CHECKING:
    from curewatch.science.film import Stack
    from curewatch.shop.finish import FilmFigures
    from curewatch.shop.milestones import PieceClocks


@dataclass(frozen=True, slots=True)
class Layer:
    """One coat: its film [um], the volume fraction that has still to leave, when it was laid [ms].

    `held_frac` is None where no film model tells it.
    """

    film_um: float
    held_frac: float | None
    laid_at: int


@dataclass(frozen=True, slots=True)
class FilmLayers:
    """
    The coats that are on, the first one lowest.

    Attributes
    ----------
    layers : tuple of Layer
        In order of laying.
    fall_um : float or None
        How far the surface has still to fall [um]; None where no film model tells it.
    dry : bool
        Whether the films are dry ones; else they are wet, as they left the gun.
    """

    layers: tuple[Layer, ...]
    fall_um: float | None
    dry: bool

    @property
    def known(self) -> bool:
        """Whether a film model tells what the coats still hold."""
        return self.fall_um is not None


def film_layers(clocks: PieceClocks, *, pace: float) -> FilmLayers:
    """
    Return a piece's coats as layers.

    Parameters
    ----------
    clocks : PieceClocks
        Of the piece at the moment.
    pace : float
        How much slower the film goes than its profile says, as outcomes tell it.
    """
    finish, coats = clocks.finish, clocks.coats
    usual_um = finish.drying.wet_film_um.value
    if finish.film is None:
        wet_um = [usual_um if coat.wet_um is None else coat.wet_um for coat in coats]
        bare = [Layer(um, None, coat.at_ms) for um, coat in zip(wet_um, coats, strict=True)]
        return FilmLayers(tuple(bare), None, dry=False)
    dry_um = dry_films_um(finish.film, usual_um, coats)
    held = _held(clocks, finish.film, dry_um, pace)
    layers = tuple(
        Layer(um, None if held is None else held[number], coat.at_ms)
        for number, (um, coat) in enumerate(zip(dry_um, coats, strict=True))
    )
    fall = None if held is None else float(np.dot(dry_um, held))
    return FilmLayers(layers, fall, dry=True)


def _held(
    clocks: PieceClocks, film: FilmFigures, dry_um: tuple[float, ...], pace: float
) -> list[float] | None:
    """Return the volume fraction that each coat still holds; None where no model tells it."""
    laid_ms = np.array([coat.at_ms for coat in clocks.coats], dtype=np.float64)
    along, cure = (
        clocks.hours(ClockName.CURE, laid_ms, int(laid_ms[0])),
        clocks.reading(ClockName.CURE),
    )
    if along is None or cure is None or len(dry_um) > MOST_COATS:
        return None
    stack = _stack(film, rising_h(along.value), dry_um, pace)
    profile = stack.profile(stack.laid_at_h + max(cure.effective_hours, 0.0))
    held_um = profile.cell_um * profile.volatile_frac
    whole_um = np.bincount(profile.coat, profile.cell_um)[1:]
    # a film at rest holds nothing, and rounding must not make it less
    return [max(float(share), 0.0) for share in np.bincount(profile.coat, held_um)[1:] / whole_um]


@lru_cache(maxsize=8)
def _stack(
    film: FilmFigures, clock_h: tuple[float, ...], dry_um: tuple[float, ...], pace: float
) -> Stack:
    """Return the coats as laid; kept for the few pieces that are looked at one after another."""
    return film_stack(film, clock_h, dry_um, pace)
