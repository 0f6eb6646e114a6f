"""Limits of the spray check on the wet film itself: its warmth, its water, its blush.

A waterborne film cools itself while it dries and lies on a piece that may be colder still; the
colder of the two must stay above the film-forming temperature (ISO 2115 tells how that is
measured). Waterborne finishes do not blush: theirs is the haze of water trapped by the next coat,
so how fast the water leaves is judged too. Solvent films are judged by the dew point of their air.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from curewatch.science import evaporation
from curewatch.shop.blush_check import BLUSH_SPARE_K, SURFACE_BIAS_K, blush_reason
from curewatch.shop.clocks import RateLaw
from curewatch.shop.finish import DryingLaw
from curewatch.shop.reading import Standing
from curewatch.shop.spray_terms import TIGHT_TEMP_K, Limit, Verdict, graded, said, warmer

if TYPE_CHECKING:
    from curewatch.shop.blush_check import FreshFilm
    from curewatch.shop.finish import Finish
    from curewatch.shop.spray_terms import Conditions
    from curewatch.shop.words import Words

FILM_ERROR_K = 0.7  # wet-film model against psychrometric tables, science.evaporation
SLOW_PCT, STOPPED_PCT = 50.0, 10.0
"""Water that leaves at half the sheet's pace warns, at a tenth of it stops (our own figures)."""
SLOW_SOURCE = (
    "our own figures, no source: at half the pace of the sheet's room the sheet's wait traps water "
    "under the next coat, at a tenth of it the coat stays wet for the day"
)
CLEARS_BLUSH = {Verdict.FIT: "", Verdict.UNKNOWN: "measure temperature and humidity"}


@dataclass(frozen=True, slots=True)
class WetFilm:
    """A fresh waterborne film: its temperature [degC] and how well that is known [K]."""

    temp_c: float
    error_k: float


def wet_film(here: Conditions) -> WetFilm | None:
    """Return what a freshly sprayed waterborne film cools itself to; None where that is unknown."""
    if here.temp_c is None or here.rh_frac is None:
        return None
    off_k, off_rh = here.bias.temp_k, here.bias.rh_frac
    temps = np.array([0.0, -off_k, off_k, 0.0, 0.0]) + here.temp_c
    humid = np.clip(np.array([0.0, 0.0, 0.0, -off_rh, off_rh]) + here.rh_frac, 0.0, 1.0)
    film = evaporation.wet_film(
        temps, humid, air_speed_m_s=here.air_speed_m_s, p_pa=here.pressure_pa
    ).temp_c
    by_temp, by_rh = (film[2] - film[1]) / 2.0, (film[4] - film[3]) / 2.0
    error = float(np.sqrt(FILM_ERROR_K**2 + by_temp**2 + by_rh**2))
    return WetFilm(float(film[0]), error)


def film_limits(
    finish: Finish, here: Conditions, film: WetFilm | None, *, words: Words
) -> list[Limit]:
    """Judge a waterborne film; nothing for the others."""
    found = []
    if finish.limits.film_forming_c is not None:
        found.append(_film_forming(finish, here, film, words=words))
    if finish.drying.law is DryingLaw.WATER:
        found.append(_water_leaving(here))
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


def _water_leaving(here: Conditions) -> Limit:
    """Judge how fast the water leaves, beside the room the sheet's times are for."""
    value = margin = None
    error = 0.0
    if here.temp_c is not None and here.rh_frac is not None:
        law = RateLaw(
            evaporation.WaterDrying(air_speed_m_s=here.air_speed_m_s, p_pa=here.pressure_pa)
        )
        temp, rh = np.array([here.temp_c]), np.array([here.rh_frac])
        value = 100.0 * float(law.rates(temp, rh)[0])
        doubt = law.spread(temp, rh, here.bias)
        error = 100.0 * float(np.sqrt(doubt.temp**2 + doubt.rh**2 + doubt.air**2)[0])
        margin = value - STOPPED_PCT
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
