"""Whether a fresh coat in solvent would blush in this air, and how well that can be known.

One coat is followed by `science.blush`. The daemon asks every minute, so answers are kept by cell:
the humidity is taken at the cell's damp end, the piece at its cold end, and of the cell's two air
temperatures the worse one counts for each figure. At one relative humidity warmer air holds more
water and drives solvents off faster, so neither end is the safe one. So no margin is told larger
and no water less than it is; the film's temperature, which the water's own heat raises, is told to
half a kelvin.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from curewatch.science.blush import SprayedCoat, blush, sprayed_convection_w_m2k
from curewatch.shop.finish import DryingLaw
from curewatch.shop.thinners import Thinner, thinner_for, thinner_named

if TYPE_CHECKING:
    from collections.abc import Iterable

    from curewatch.science.blush import Blush
    from curewatch.shop.climate import Floats
    from curewatch.shop.finish import Finish
    from curewatch.shop.spray_terms import Conditions
    from curewatch.shop.words import Words

DRIEST_RH_FRAC = 0.001  # what the physics answers for
COLDEST_C, HOTTEST_C = -40.0, 80.0  # what the physics answers for
THINNEST_UM, THICKEST_UM = 10.0, 500.0  # the same for a wet coat
CELL_K, CELL_RH_FRAC = 0.25, 0.005  # climates in one such cell share an answer
CELLS_KEPT = 4096
_KEPT: dict[tuple[str, float, Conditions], FreshFilm] = {}
"""Answers by blend, wet film and cell; emptied when full, for a day visits few of them."""
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
    if usual is None or here.temp_c is None or not _can_follow(here):
        return None
    wet_um, name = _wet_um(finish), (thinner or usual).blend.name
    if exact:
        return _follow(name, wet_um, here, temps_c=(here.temp_c,))
    cell = _cell(here)
    if (name, wet_um, cell) not in _KEPT:
        _keep(name, wet_um, [cell])
    return _KEPT[name, wet_um, cell]


def prepare(
    finish: Finish, places: Iterable[Conditions], *, thinner: Thinner | None = None
) -> None:
    """Follow a fresh coat in many places at once, so that `fresh_film` finds its answers kept."""
    usual = usual_thinner(finish)
    if usual is None:
        return
    wet_um, name = _wet_um(finish), (thinner or usual).blend.name
    cells = dict.fromkeys(_cell(here) for here in places if _can_follow(here))
    _keep(name, wet_um, [cell for cell in cells if (name, wet_um, cell) not in _KEPT])


def _can_follow(here: Conditions) -> bool:
    return here.temp_c is not None and here.rh_frac is not None and here.rh_frac >= DRIEST_RH_FRAC


def _wet_um(finish: Finish) -> float:
    return min(max(finish.drying.wet_film_um.value, THINNEST_UM), THICKEST_UM)


def _cell(here: Conditions) -> Conditions:
    """Return the cell of a climate: cold end of the temperatures, damp end of the humidity."""
    assert here.temp_c is not None  # noqa: S101 - the caller has looked
    assert here.rh_frac is not None  # noqa: S101 - the caller has looked
    return replace(
        here,
        temp_c=max(math.floor(here.temp_c / CELL_K) * CELL_K, COLDEST_C),
        rh_frac=min(math.ceil(here.rh_frac / CELL_RH_FRAC) * CELL_RH_FRAC, 1.0),
        surface_c=None if here.surface_c is None else math.floor(here.surface_c / CELL_K) * CELL_K,
        liquid_c=None,
    )


def _keep(name: str, wet_um: float, cells: list[Conditions]) -> None:
    """Follow a coat in these cells, those of one piece and air movement in one go."""
    if len(_KEPT) + len(cells) > CELLS_KEPT:
        _KEPT.clear()
    alike: dict[Conditions, list[Conditions]] = {}
    for cell in cells:
        alike.setdefault(replace(cell, temp_c=None, rh_frac=None), []).append(cell)
    for group in alike.values():
        ways = [_ways(cell, (_warm(cell), _warm(cell) + CELL_K)) for cell in group]
        found = _blush(name, wet_um, group[0], np.concatenate(ways))
        for cell, margins in zip(group, _parts(found, len(group)), strict=True):
            known = cell.surface_c is not None
            _KEPT[name, wet_um, cell] = _worst(margins, 2, name, known_surface=known)


def _warm(cell: Conditions) -> float:
    assert cell.temp_c is not None  # noqa: S101 - a cell has a temperature
    return cell.temp_c


def _follow(name: str, wet_um: float, here: Conditions, *, temps_c: tuple[float, ...]) -> FreshFilm:
    """Follow the coat at each of the air temperatures, and beside the first by the biases."""
    found = _blush(name, wet_um, here, _ways(here, temps_c))
    (figures,) = _parts(found, 1)
    return _worst(figures, len(temps_c), name, known_surface=here.surface_c is not None)


def _ways(here: Conditions, temps_c: tuple[float, ...]) -> Floats:
    """Return the climates to follow, shape (n, 2): the temperatures, then a bias to each side."""
    assert here.rh_frac is not None  # noqa: S101 - the caller has looked
    first, rh = temps_c[0], here.rh_frac
    ways = [(temp, rh) for temp in temps_c]
    ways += [(first + sign * here.bias.temp_k, rh) for sign in (-1.0, 1.0)]
    ways += [(first, rh + sign * here.bias.rh_frac) for sign in (-1.0, 1.0)]
    inside = np.clip(np.array(ways), (COLDEST_C, DRIEST_RH_FRAC), (HOTTEST_C, 1.0))
    return np.asarray(inside, dtype=np.float64)


def _blush(name: str, wet_um: float, here: Conditions, ways: Floats) -> Blush:
    temp, surface = ways[:, 0], here.surface_c
    return blush(
        temp,
        ways[:, 1],
        blend=thinner_named(name).blend,
        coat=SprayedCoat(
            wet_um=wet_um,
            surface_c=None if surface is None else min(max(surface, COLDEST_C), HOTTEST_C),
        ),
        convection_w_m2k=sprayed_convection_w_m2k(here.air_speed_m_s, temp, p_pa=here.pressure_pa),
        p_pa=here.pressure_pa,
    )


def _parts(found: Blush, count: int) -> list[Floats]:
    """Return the figures of each of `count` places, shape (5, climates)."""
    rows = np.stack(
        [
            found.lowest_film_c,
            found.margin_wood_k,
            found.margin_edge_k,
            found.condensed_wood_g_m2,
            found.condensed_edge_g_m2,
        ]
    )
    return np.split(rows, count, axis=1)


def _worst(figures: Floats, count: int, name: str, *, known_surface: bool) -> FreshFilm:
    """Take each figure at the worst of the first `count` climates; the rest give the error."""
    by_temp, by_rh = np.ptp(figures[1, count:].reshape(2, 2), axis=1) / 2.0
    by_piece = SURFACE_BIAS_K if known_surface else PIECE_DOUBT_K  # the film follows its piece
    low, high = figures[:, :count].min(axis=1), figures[:, :count].max(axis=1)
    return FreshFilm(
        lowest_film_c=float(low[0]),
        margin_wood_k=float(low[1]),
        margin_edge_k=float(low[2]),
        condensed_wood_g_m2=float(high[3]),
        condensed_edge_g_m2=float(high[4]),
        thinner=name,
        error_k=math.sqrt(by_temp**2 + by_rh**2 + by_piece**2 + MODEL_ERROR_K**2),
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
