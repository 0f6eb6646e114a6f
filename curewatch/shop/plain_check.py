"""A spray check as plain data: its limits, its fresh coat."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.shop.standings import check_standings

if TYPE_CHECKING:
    from curewatch.shop.blush_check import FreshFilm
    from curewatch.shop.plain import Plain
    from curewatch.shop.spray_terms import Limit, SprayCheck


def check_plain(check: SprayCheck) -> Plain:
    """Return a spray check."""
    worst = [limit for limit in check.limits if limit.verdict is check.verdict]
    telling = [] if check.binding is None else worst
    return {
        "finish": check.finish,
        "verdict": str(check.verdict),
        "words": check.verdict.words,
        "sentence": check.sentence,
        "binding": None if check.binding is None else limit_plain(check.binding),
        "reasons": [limit.reason for limit in telling],
        "what_would_clear_it": list(dict.fromkeys(x.clears for x in telling if x.clears)),
        "limits": [limit_plain(limit) for limit in check.limits],
        "dew_point_c": check.dew_point_c,
        "wet_film_c": check.wet_film_c,
        "blush": None if check.blush is None else film_plain(check.blush),
        "notes": list(check.notes),
        "standing": check_standings(check),
    }


def film_plain(film: FreshFilm) -> Plain:
    """Return what a fresh coat does."""
    return {
        "lowest_film_c": film.lowest_film_c,
        "margin_wood_k": film.margin_wood_k,
        "margin_edge_k": film.margin_edge_k,
        "condensed_wood_g_m2": film.condensed_wood_g_m2,
        "condensed_edge_g_m2": film.condensed_edge_g_m2,
        "thinner": film.thinner,
    }


def limit_plain(limit: Limit) -> Plain:
    """Return one limit of a spray check."""
    return {
        "limit": limit.name,
        "unit": limit.unit,
        "value": limit.value,
        "allowed": limit.allowed,
        "margin": limit.margin,
        "error": limit.error,
        "verdict": str(limit.verdict),
        "reason": limit.reason,
        "standing": str(limit.standing),
    }
