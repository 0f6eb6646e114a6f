"""The spray check: is the air of a room fit to spray a finish in, and which limit binds.

Every limit is judged by itself, with the sensors' own error beside it; the verdict is the worst.
A single reading says nothing of the liquid's temperature, of the piece's, or of the hours to
come: what was not measured is named, never assumed.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.shop.blush_check import fresh_film, usual_thinner
from curewatch.shop.spray_air import humidity_limits, temperature_limits
from curewatch.shop.spray_dew import dew_error_k, dew_limits, dew_point_c, least_surface_c
from curewatch.shop.spray_film import blush_limit, film_limits, wet_film
from curewatch.shop.spray_terms import (
    LEAST_RH_FRAC,
    SEVERITY,
    TIGHT_TEMP_K,
    Conditions,
    Limit,
    SprayCheck,
    Verdict,
    aged,
    binding_of,
    worst,
)

if TYPE_CHECKING:
    from curewatch.shop.finish import Finish
    from curewatch.shop.thinners import Thinner
    from curewatch.shop.words import Words

__all__ = [
    "LEAST_RH_FRAC",
    "SEVERITY",
    "TIGHT_TEMP_K",
    "Conditions",
    "Limit",
    "SprayCheck",
    "Verdict",
    "aged",
    "dew_error_k",
    "dew_point_c",
    "spray_check",
    "verdict_without_blush",
]

ADVICE = (
    "curewatch advises; it is no gas detector, no booth permission. The label, the data sheet "
    "and the local code come first."
)


def spray_check(
    finish: Finish,
    here: Conditions,
    words: Words,
    *,
    thinner: Thinner | None = None,
    exact: bool = False,
) -> SprayCheck:
    """Judge whether the air is fit to spray `finish` in.

    Parameters
    ----------
    finish : Finish
        What is to be sprayed.
    here : Conditions
        What is known of the place.
    words : Words
        How things are said.
    thinner : Thinner, optional
        What a finish that dries by solvent is thinned with; its usual one if None.
    exact : bool
        Follow the fresh coat in just this climate, not in the kept cell that holds it.
    """
    film, dew = wet_film(finish, here), dew_point_c(here)
    limits = _without_blush(finish, here, words)
    chilled = None
    if usual_thinner(finish) is not None:
        chilled = fresh_film(finish, here, thinner=thinner, exact=exact)
        limits.append(blush_limit(chilled, words))
    verdict = worst(limit.verdict for limit in limits)
    return SprayCheck(
        finish=finish.name,
        verdict=verdict,
        binding=None if verdict is Verdict.FIT else binding_of(limits, verdict),
        limits=tuple(limits),
        dew_point_c=dew,
        wet_film_c=None if film is None or finish.limits.film_forming_c is None else film.temp_c,
        notes=(*_unused(finish, thinner), *_notes(finish, here, dew, words=words)),
        blush=chilled,
    )


def verdict_without_blush(finish: Finish, here: Conditions, words: Words) -> Verdict:
    """Return what all limits but blush say: the whole check says no better, and costs more."""
    return worst(limit.verdict for limit in _without_blush(finish, here, words))


def _without_blush(finish: Finish, here: Conditions, words: Words) -> list[Limit]:
    return [
        *temperature_limits(finish, here, words),
        *humidity_limits(finish, here),
        *dew_limits(finish, here, dew_point_c(here), words=words),
        *film_limits(finish, here, wet_film(finish, here), words=words),
    ]


def _unused(finish: Finish, thinner: Thinner | None) -> tuple[str, ...]:
    """Say so where a thinner was named that changes nothing."""
    if thinner is None or usual_thinner(finish) is not None:
        return ()
    return (f"the thinner changes nothing here: {finish.name} is not judged for blush",)


def _notes(finish: Finish, here: Conditions, dew: float | None, *, words: Words) -> tuple[str, ...]:
    notes = []
    if here.surface_c is None:
        least = None if dew is None else words.temp(least_surface_c(finish, dew))
        asked = "" if least is None else f": it must be at least {least}"
        notes.append(f"surface not measured{asked}")
    if here.liquid_c is None:
        notes.append("liquid not measured: bring it to the room's temperature first")
    notes.append(ADVICE)
    return tuple(notes)
