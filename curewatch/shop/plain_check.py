"""A spray check as plain data: its limits, its fresh coat, and a room's with its hours ahead."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.shop.instants import instant
from curewatch.shop.standings import check_standings, outlook_standings

if TYPE_CHECKING:
    from curewatch.shop.blush_check import FreshFilm
    from curewatch.shop.plain import Plain
    from curewatch.shop.spray_ahead import SprayAhead
    from curewatch.shop.spray_answer import SprayAnswer
    from curewatch.shop.spray_terms import Limit, SprayCheck


NO_HOURS = "values typed in have no hours to come: this moment alone was judged"
NO_AIR = "the room's air is not known, so nothing can be said of the hours to come"


def spray_plain(answer: SprayAnswer) -> Plain:
    """Return a room's answer as its state tells it: the verdict with the hours a coat needs.

    `limits`, `blush` and the rest are of this moment.
    """
    told = {**check_plain(answer.now), **answer_head(answer)}
    own = check_standings(answer.now)
    if answer.ahead_decides and answer.binding is not None:
        own |= outlook_standings(answer.binding)
    return {
        **told,
        "what_would_clear_it": [*_eased(answer.decisive)],
        "ahead": None if answer.ahead is None else span_plain(answer.ahead),
        "standing": own,
    }


def answer_head(answer: SprayAnswer) -> Plain:
    """Return what decides an answer, and what this moment alone would say."""
    binding, now = answer.binding, answer.now
    return {
        "verdict": str(answer.verdict),
        "words": answer.verdict.words,
        "sentence": answer.sentence,
        "now": {"verdict": str(now.verdict), "words": now.verdict.words, "sentence": now.sentence},
        "binding": None if binding is None else limit_plain(binding),
        "reasons": [limit.reason for limit in _telling(answer.decisive)],
        "ahead_note": _not_ahead(answer),
    }


def _not_ahead(answer: SprayAnswer) -> str | None:
    if answer.ahead is not None:
        return None
    return NO_HOURS if answer.now_ms is None else NO_AIR


def span_plain(ahead: SprayAhead) -> Plain:
    """Return what is said of the hours until the last coat has flashed, and when it was judged."""
    turns = ahead.turns
    return {
        "judged_at": instant(ahead.judged_ms),
        "until": instant(ahead.until_ms),
        "cut": ahead.cut,
        "verdict": str(ahead.verdict),
        "words": ahead.verdict.words,
        "turns": {
            "early": instant(turns.early),
            "likely": instant(turns.likely),
            "late": instant(turns.late),
        },
        "limit": ahead.limit,
        "planned": ahead.planned,
    }


def _telling(check: SprayCheck) -> list[Limit]:
    """Return the limits that say the verdict, where one binds."""
    if check.binding is None:
        return []
    return [limit for limit in check.limits if limit.verdict is check.verdict]


def _eased(check: SprayCheck) -> list[str]:
    return list(dict.fromkeys(limit.clears for limit in _telling(check) if limit.clears))


def check_plain(check: SprayCheck) -> Plain:
    """Return a spray check."""
    return {
        "finish": check.finish,
        "verdict": str(check.verdict),
        "words": check.verdict.words,
        "sentence": check.sentence,
        "binding": None if check.binding is None else limit_plain(check.binding),
        "reasons": [limit.reason for limit in _telling(check)],
        "what_would_clear_it": [*_eased(check)],
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
