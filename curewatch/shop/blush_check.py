"""Whether a fresh coat in solvent would blush in this air, and how well that can be known.

One coat is followed by `science.blush`. The daemon asks every minute, so answers are read off a
table (`shop.blush_table`) by cell: the humidity is taken at the cell's damp end, the piece at its
cold end, and of the cell's two air temperatures the worse one counts for each figure. At one
relative humidity warmer air holds more water and drives solvents off faster, so neither end is the
safe one. So no margin is told larger and no water less than it is; the film's temperature, which
the water's own heat raises, is told to half a kelvin.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from curewatch.shop.blush_table import (
    COLDEST_C,
    DRIEST_RH_FRAC,
    HOTTEST_C,
    BlushTable,
    Cell,
    Sprayed,
    figures,
)
from curewatch.shop.finish import DryingLaw
from curewatch.shop.thinners import Thinner, thinner_for

if TYPE_CHECKING:
    from collections.abc import Iterable

    from curewatch.shop.climate import Floats
    from curewatch.shop.finish import Finish
    from curewatch.shop.spray_terms import Conditions
    from curewatch.shop.words import Words

__all__ = [
    "BLUSH_SPARE_K",
    "COLDEST_C",
    "HOTTEST_C",
    "MODEL_ERROR_K",
    "PIECE_DOUBT_K",
    "SURFACE_BIAS_K",
    "THICKEST_UM",
    "THINNEST_UM",
    "FreshFilm",
    "blush_reason",
    "fresh_film",
    "piece_doubt_k",
    "prepare",
    "usual_thinner",
]

TABLE = BlushTable()
THINNEST_UM, THICKEST_UM = 10.0, 500.0  # the same for a wet coat
# A third of the convection or half the coat moves the margin by 0.5 K each, another resin by
# 0.2 K (measured, science.blush): root of the sum of squares.
MODEL_ERROR_K = 0.73
BLUSH_SPARE_K = 3.0  # the 3 K rule, applied to the film (common practice; ISO 8502-4 guidance)
EDGE_WATER_G_M2 = 1.0  # edges chill most and wet first: they warn from this on (our own choice)
PIECE_DOUBT_K = 2.0  # how far an unmeasured piece may be from the air (our own, no source)
SURFACE_BIAS_K = 1.0  # a contact or infrared thermometer on wood [from memory]


@dataclass(frozen=True, slots=True)
class FreshFilm:
    """What a coat just sprayed does in its first ten minutes.

    Attributes
    ----------
    lowest_film_c: lowest temperature of the film over wood [degC].
    margin_wood_k, margin_edge_k: how far film over wood, and on edges, stays above the dew
        point [K].
    condensed_wood_g_m2, condensed_edge_g_m2: most water on each at one time [g/m2].
    thinner: name of the blend it was thinned with.
    error_k: standard error of `margin_wood_k` [K]: sensors, piece and model.
    """

    lowest_film_c: float
    margin_wood_k: float
    margin_edge_k: float
    condensed_wood_g_m2: float
    condensed_edge_g_m2: float
    thinner: str
    error_k: float

    @property
    def wet_edges(self) -> bool:
        """Whether edges take up enough water to be warned of."""
        return self.condensed_edge_g_m2 > EDGE_WATER_G_M2


def usual_thinner(finish: Finish) -> Thinner | None:
    """Return what a finish is taken to be thinned with; None where it does not dry by solvent."""
    if finish.drying.law is not DryingLaw.SOLVENT:
        return None
    return thinner_for(finish.drying.solvent)


def fresh_film(
    finish: Finish, here: Conditions, *, thinner: Thinner | None = None, exact: bool = False
) -> FreshFilm | None:
    """Return what a fresh coat would do, None where it does not blush or cannot be told.

    Parameters
    ----------
    finish : Finish
        What is sprayed; only one that dries by solvent blushes.
    here : Conditions
        What is known of the place; a piece without a temperature is as warm as the air.
    thinner : Thinner, optional
        What it is thinned with; the finish's usual one if None.
    exact : bool
        Follow the coat in just this climate, instead of taking the kept answer of its cell.
    """
    usual = usual_thinner(finish)
    if usual is None or not _can_follow(here):
        return None
    what = _sprayed(finish, here, thinner or usual)
    if exact:
        return _in_just(what, here)
    cell = _cell(what, here)
    found = TABLE.of([cell.patch])[cell.patch]
    return _told(what, cell.ends(found), cell.doubt_k(found, here.bias), here)


def prepare(
    finish: Finish, places: Iterable[Conditions], *, thinner: Thinner | None = None
) -> None:
    """Follow a fresh coat in many places at once, so that `fresh_film` finds its answers kept."""
    usual = usual_thinner(finish)
    if usual is not None:
        used = thinner or usual
        there = [here for here in places if _can_follow(here)]
        TABLE.of(_cell(_sprayed(finish, here, used), here).patch for here in there)


def _can_follow(here: Conditions) -> bool:
    return here.temp_c is not None and here.rh_frac is not None and here.rh_frac >= DRIEST_RH_FRAC


def _sprayed(finish: Finish, here: Conditions, thinner: Thinner) -> Sprayed:
    wet_um = min(max(finish.drying.wet_film_um.value, THINNEST_UM), THICKEST_UM)
    return Sprayed(thinner.blend.name, wet_um, here.air_speed_m_s, here.pressure_pa)


def _cell(what: Sprayed, here: Conditions) -> Cell:
    assert here.temp_c is not None  # noqa: S101 - the caller has looked
    assert here.rh_frac is not None  # noqa: S101 - the caller has looked
    return Cell.of(what, here.temp_c, here.rh_frac, here.surface_c)


def _in_just(what: Sprayed, here: Conditions) -> FreshFilm:
    """Follow the coat in this climate, and by a bias to each side for the error."""
    assert here.temp_c is not None  # noqa: S101 - the caller has looked
    assert here.rh_frac is not None  # noqa: S101 - the caller has looked
    off = np.array([[0.0, -1.0, 1.0, 0.0, 0.0], [0.0, 0.0, 0.0, -1.0, 1.0]])
    temp = np.clip(here.temp_c + off[0] * here.bias.temp_k, COLDEST_C, HOTTEST_C)
    rh = np.clip(here.rh_frac + off[1] * here.bias.rh_frac, DRIEST_RH_FRAC, 1.0)
    piece = None
    if here.surface_c is not None:
        piece = np.full(temp.shape, min(max(here.surface_c, COLDEST_C), HOTTEST_C))
    found = figures(what, temp, rh, piece)
    by_temp, by_rh = np.ptp(found[1, 1:].reshape(2, 2), axis=1) / 2.0
    return _told(what, found[:, :1], math.hypot(by_temp, by_rh), here)


def piece_doubt_k(here: Conditions) -> float:
    """Return how well a piece's temperature is known [K].

    Measured, it is as good as a thermometer seated on wood, or as its own sensor where that is
    known to be worse; unmeasured it is somewhere about the air's.
    """
    if here.surface_c is None:
        return PIECE_DOUBT_K
    return max(SURFACE_BIAS_K, here.bias.surface_k)


def _told(what: Sprayed, found: Floats, doubt_k: float, here: Conditions) -> FreshFilm:
    """Take each figure at its worst; `doubt_k` is what the air's sensors make of the margin [K]."""
    by_piece = piece_doubt_k(here)  # the film follows it
    low, high = found.min(axis=1), found.max(axis=1)
    return FreshFilm(
        lowest_film_c=float(low[0]),
        margin_wood_k=float(low[1]),
        margin_edge_k=float(low[2]),
        condensed_wood_g_m2=float(high[3]),
        condensed_edge_g_m2=float(high[4]),
        thinner=what.thinner,
        error_k=math.hypot(doubt_k, by_piece, MODEL_ERROR_K),
    )


def blush_reason(film: FreshFilm | None, words: Words) -> str:
    """Say what the fresh coat does."""
    if film is None:
        return "how far a fresh coat chills is not known: it takes temperature and humidity"
    away = words.kelvin(abs(film.margin_wood_k))
    side = "below" if film.margin_wood_k < 0.0 else "above"
    reason = (
        f"a fresh coat chills itself to {words.temp(film.lowest_film_c)}, {away} {side} the dew "
        f"point; {words.kelvin(BLUSH_SPARE_K)} above is wanted"
    )
    if film.wet_edges:
        reason += f", and edges take up {film.condensed_edge_g_m2:.1f} g/m² of water"
    return reason
