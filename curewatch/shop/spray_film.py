"""Limits of the spray check on the wet film itself: its warmth, its water, its blush.

A waterborne film cools itself while it dries and lies on a piece that may be colder still; the
colder of the two must stay above the film-forming temperature (ISO 2115 tells how that is
measured). Waterborne finishes do not blush: theirs is the haze of water trapped by the next coat,
so how fast the water leaves is judged too. Solvent films are judged by the dew point of their air.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from curewatch.science import evaporation
from curewatch.shop.blush_check import (
    BLUSH_SPARE_K,
    COLDEST_C,
    HOTTEST_C,
    blush_reason,
    piece_doubt_k,
)
from curewatch.shop.finish import DryingLaw
from curewatch.shop.memo import Together
from curewatch.shop.reading import Standing
from curewatch.shop.spray_terms import TIGHT_TEMP_K, Limit, Verdict, graded, said, warmer

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from curewatch.shop.blush_check import FreshFilm
    from curewatch.shop.finish import Finish
    from curewatch.shop.spray_terms import Conditions
    from curewatch.shop.words import Words

FILM_ERROR_K = 0.7  # wet-film model against psychrometric tables, science.evaporation
FILMS_KEPT = 4096
FASTEST_M_S = 20.0  # what the physics answers for
SLOW_PCT, STOPPED_PCT = 50.0, 10.0
"""Water that leaves at half the sheet's pace warns, at a tenth of it stops (our own figures)."""
SLOW_SOURCE = (
    "our own figures, no source: at half the pace of the sheet's room the sheet's wait traps water "
    "under the next coat, at a tenth of it the coat stays wet for the day"
)
CLEARS_BLUSH = {Verdict.FIT: "", Verdict.UNKNOWN: "measure temperature and humidity"}


@dataclass(frozen=True, slots=True)
class WetFilm:
    """A fresh waterborne film in an air.

    Attributes
    ----------
    temp_c, error_k: what it cools itself to [degC], and how well that is known [K].
    pace_pct, pace_error_pct: how fast its water leaves, the sheet's room being 100 [%].
    """

    temp_c: float
    error_k: float
    pace_pct: float
    pace_error_pct: float


def wet_film(finish: Finish, here: Conditions) -> WetFilm | None:
    """Return what a freshly sprayed waterborne film does; None for others and where not known."""
    return _KEPT.of(_air_of(here)) if _has_film(finish, here) else None


def prepare_wet_films(finish: Finish, places: Iterable[Conditions]) -> None:
    """Solve for the films of many places at once."""
    _KEPT.prepare(_air_of(here) for here in places if _has_film(finish, here))


def _has_film(finish: Finish, here: Conditions) -> bool:
    waterborne = finish.drying.law is DryingLaw.WATER or finish.limits.film_forming_c is not None
    return waterborne and here.temp_c is not None and here.rh_frac is not None


def _air_of(here: Conditions) -> Conditions:
    return replace(here, surface_c=None, liquid_c=None)


def _wet_films(airs: Sequence[Conditions]) -> Iterator[WetFilm]:
    """Solve for films as measured, and to both sides of each thing that is not known."""
    by = evaporation.AIR_SPEED_FACTOR
    found = [(air.temp_c, air.rh_frac, air.bias.temp_k, air.bias.rh_frac) for air in airs]
    temp, rh, off_k, off_rh = np.array(found, dtype=np.float64).T[:, :, np.newaxis]
    speed = np.array([[air.air_speed_m_s] for air in airs])
    film = evaporation.wet_film(
        np.clip(
            off_k * np.array([0.0, -1.0, 1.0, 0.0, 0.0, 0.0, 0.0]) + temp, COLDEST_C, HOTTEST_C
        ),
        np.clip(off_rh * np.array([0.0, 0.0, 0.0, -1.0, 1.0, 0.0, 0.0]) + rh, 0.0, 1.0),
        air_speed_m_s=np.minimum(
            np.array([1.0, 1.0, 1.0, 1.0, 1.0, 1.0 / by, by]) * speed,
            np.maximum(FASTEST_M_S, speed),
        ),
        p_pa=np.array([[air.pressure_pa] for air in airs]),
    )
    for air, temps, rates in zip(airs, film.temp_c, film.rate_g_m2_h, strict=True):
        by_temp, by_rh = np.diff(temps)[[1, 3]] / 2.0
        pace = 100.0 * rates / _usual_rate(air.air_speed_m_s, air.pressure_pa)
        yield WetFilm(
            temp_c=float(temps[0]),
            error_k=float(np.sqrt(FILM_ERROR_K**2 + by_temp**2 + by_rh**2)),
            pace_pct=float(pace[0]),
            pace_error_pct=float(np.sqrt(np.sum((np.diff(pace)[[1, 3, 5]] / 2.0) ** 2))),
        )


@lru_cache(maxsize=64)
def _usual_rate(air_speed_m_s: float, p_pa: float) -> float:
    """Return how fast water leaves in the room that the sheet's times are for [g/(m2 h)]."""
    law = evaporation.WaterDrying(air_speed_m_s=air_speed_m_s, p_pa=p_pa)
    return float(evaporation.reference_rate_g_m2_h(law))


_KEPT = Together(_wet_films, most=FILMS_KEPT)


def film_limits(
    finish: Finish, here: Conditions, film: WetFilm | None, *, words: Words
) -> list[Limit]:
    """Judge a waterborne film; nothing for the others."""
    found = []
    if finish.limits.film_forming_c is not None:
        found.append(_film_forming(finish, here, film, words=words))
    if finish.drying.law is DryingLaw.WATER:
        found.append(_water_leaving(film))
    return found


def _film_forming(finish: Finish, here: Conditions, film: WetFilm | None, *, words: Words) -> Limit:
    figure = finish.limits.film_forming_c
    assert figure is not None  # noqa: S101 - the caller has looked
    value, error = (None, FILM_ERROR_K) if film is None else (film.temp_c, film.error_k)
    how = "the wet film cools itself to"
    if value is not None and here.surface_c is not None and here.surface_c < value:
        value, error, how = here.surface_c, piece_doubt_k(here), "the wet film lies on a piece at"
    margin = None if value is None else value - figure.value
    spare = max(TIGHT_TEMP_K, error)
    return Limit(
        "film-forming",
        "degC",
        value,
        figure.value,
        margin,
        error,
        graded(margin, spare),
        f"{how} {said(value, words)}, at least {words.temp(figure.value)} asked for it to form",
        warmer("room", margin, 1.0, spare=spare, words=words),
        figure.standing,
        figure.source,
    )


def _water_leaving(film: WetFilm | None) -> Limit:
    """Judge how fast the water leaves, beside the room the sheet's times are for."""
    value = None if film is None else film.pace_pct
    error = 0.0 if film is None else film.pace_error_pct
    margin = None if value is None else value - STOPPED_PCT
    verdict = graded(margin, SLOW_PCT - STOPPED_PCT)
    shown = "at a pace not known" if value is None else f"at {value:.0f} % of the usual pace"
    return Limit(
        "water-leaving",
        "%",
        value,
        STOPPED_PCT,
        margin,
        error,
        verdict,
        f"water leaves the film {shown}: under {SLOW_PCT:.0f} % the next coat may trap it as haze, "
        f"stop at {STOPPED_PCT:.0f} %",
        "" if verdict is Verdict.FIT else "drier or warmer air, moved more, and a longer wait",
        Standing.FROM_MEMORY,
        SLOW_SOURCE,
    )


def blush_limit(film: FreshFilm | None, words: Words) -> Limit:
    """Judge the fresh film over wood by the 3 K rule; edges only warn, by the water on them."""
    margin = None if film is None else film.margin_wood_k
    error = 0.0 if film is None else film.error_k
    verdict = graded(margin, max(BLUSH_SPARE_K, error))
    if film is not None and film.wet_edges and verdict is Verdict.FIT:
        verdict = Verdict.TIGHT
    return Limit(
        "blush",
        "K",
        margin,
        0.0,
        margin,
        error,
        verdict,
        blush_reason(film, words),
        CLEARS_BLUSH.get(
            verdict, "drier air, a warmer piece or, if the sheet allows, slower thinner"
        ),
        Standing.COMMON_PRACTICE,
        "common practice: the 3 K rule, which ISO 8502-4 gives as guidance, applied to the film",
    )
