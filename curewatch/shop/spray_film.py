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
    SURFACE_BIAS_K,
    blush_reason,
)
from curewatch.shop.finish import DryingLaw
from curewatch.shop.reading import Standing
from curewatch.shop.spray_terms import TIGHT_TEMP_K, Limit, Verdict, graded, said, warmer

if TYPE_CHECKING:
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
    waterborne = finish.drying.law is DryingLaw.WATER or finish.limits.film_forming_c is not None
    if not waterborne or here.temp_c is None or here.rh_frac is None:
        return None
    return _wet_film(replace(here, surface_c=None, liquid_c=None))


@lru_cache(maxsize=FILMS_KEPT)
def _wet_film(here: Conditions) -> WetFilm:
    """Solve for the film as measured, and to both sides of each thing that is not known."""
    assert here.temp_c is not None  # noqa: S101 - the caller has looked
    assert here.rh_frac is not None  # noqa: S101 - the caller has looked
    off_k, off_rh, by = here.bias.temp_k, here.bias.rh_frac, evaporation.AIR_SPEED_FACTOR
    film = evaporation.wet_film(
        np.clip(
            np.array([0.0, -off_k, off_k, 0.0, 0.0, 0.0, 0.0]) + here.temp_c, COLDEST_C, HOTTEST_C
        ),
        np.clip(np.array([0.0, 0.0, 0.0, -off_rh, off_rh, 0.0, 0.0]) + here.rh_frac, 0.0, 1.0),
        air_speed_m_s=np.minimum(
            np.array([1.0, 1.0, 1.0, 1.0, 1.0, 1.0 / by, by]) * here.air_speed_m_s,
            max(FASTEST_M_S, here.air_speed_m_s),
        ),
        p_pa=here.pressure_pa,
    )
    by_temp, by_rh = np.diff(film.temp_c)[[1, 3]] / 2.0
    law = evaporation.WaterDrying(air_speed_m_s=here.air_speed_m_s, p_pa=here.pressure_pa)
    pace = 100.0 * film.rate_g_m2_h / evaporation.reference_rate_g_m2_h(law)
    return WetFilm(
        temp_c=float(film.temp_c[0]),
        error_k=float(np.sqrt(FILM_ERROR_K**2 + by_temp**2 + by_rh**2)),
        pace_pct=float(pace[0]),
        pace_error_pct=float(np.sqrt(np.sum((np.diff(pace)[[1, 3, 5]] / 2.0) ** 2))),
    )


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
        value, error, how = here.surface_c, SURFACE_BIAS_K, "the wet film lies on a piece at"
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
