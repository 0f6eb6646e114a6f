"""The whole answer of a spray check as plain data, with where each of its numbers comes from."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.shop.clocks import MS_PER_H
from curewatch.shop.plain import instant
from curewatch.shop.plain_check import check_plain, limit_plain
from curewatch.shop.reading import Standing
from curewatch.shop.standings import MEASURED, numbers
from curewatch.shop.thinners import thinner_named

if TYPE_CHECKING:
    from collections.abc import Collection

    from curewatch.shop.plain import Plain
    from curewatch.shop.spray_ahead import SprayAhead
    from curewatch.shop.spray_answer import SprayAnswer
    from curewatch.shop.spray_clear import Clear
    from curewatch.shop.spray_recoat import Band, Recoat
    from curewatch.shop.spray_terms import Conditions, Limit

TYPED = "typed"
ASKED = {"temp_c": "air", "rh_pct": "humidity", "surface_c": "surface", "liquid_c": "liquid"}
NO_HOURS = "values typed in have no hours to come: this moment alone was judged"
NO_AIR = "the room's air is not known, so nothing can be said of the hours to come"


def answer_plain(answer: SprayAnswer, here: Conditions, *, typed: Collection[str] = ()) -> Plain:
    """Return the answer; `typed` names what was not measured but typed in."""
    now, binding = check_plain(answer.now), answer.binding
    sentence = answer_sentence(answer)
    plain: Plain = {
        **now,
        "verdict": str(answer.verdict),
        "words": answer.verdict.words,
        "sentence": sentence,
        "now": {"verdict": now["verdict"], "words": now["words"], "sentence": now["sentence"]},
        "binding": None if binding is None else limit_plain(binding),
        "reasons": [
            limit.reason
            for limit in answer.decisive.limits
            if binding is not None and limit.verdict is binding.verdict
        ],
        "what_would_clear_it": [clear_plain(one) for one in answer.clears],
        "recoat": None if answer.recoat is None else recoat_plain(answer.recoat, answer.now_ms),
        "ahead": None if answer.ahead is None else ahead_plain(answer.ahead),
        "ahead_note": _not_ahead(answer),
        **conditions_plain(here),
    }
    return {**plain, "standing": standing_plain(plain, answer, here, typed=typed)}


def conditions_plain(here: Conditions) -> Plain:
    """Return what is known of a place, and what its sensors may be off by."""
    return {
        "temp_c": here.temp_c,
        "rh_pct": None if here.rh_frac is None else here.rh_frac * 100.0,
        "surface_c": here.surface_c,
        "liquid_c": here.liquid_c,
        "temp_error_k": here.bias.temp_k,
        "rh_error_pct": here.bias.rh_frac * 100.0,
    }


def answer_sentence(answer: SprayAnswer) -> str:
    """Return the verdict with its reason, whether now decides or the hours ahead."""
    if not answer.ahead_decides or answer.binding is None:
        return answer.now.sentence
    return (
        f"{answer.verdict.words}: {answer.now.verdict.words} at this moment, but in the hours "
        f"{_coats(answer.job.coats)} it may come to this: {answer.binding.reason}"
    )


def _coats(coats: int) -> str:
    return "the coat needs" if coats == 1 else f"{coats} coats need"


def clear_plain(one: Clear) -> Plain:
    """Return a change that was tried."""
    return {
        "change": one.change,
        "by": one.by,
        "unit": one.unit,
        "gives": None if one.gives is None else str(one.gives),
        "words": one.words,
        "at": instant(one.at_ms),
    }


def recoat_plain(found: Recoat, now_ms: int | None) -> Plain:
    """Return when the next coat may follow, in hours from now, and as instants in a room."""
    return {
        **_band(found.one),
        "unit": "h",
        "at": _instants(found.one, now_ms),
        "sheet_h": found.sheet_h,
        "sheet_temp_c": found.sheet_temp_c,
        "sheet_rh_pct": found.sheet_rh_pct,
        "coats": found.coats,
        "last_coat": {**_band(found.last), "at": _instants(found.last, now_ms)},
    }


def _band(band: Band) -> Plain:
    return {"earliest": band.earliest, "likely": band.likely, "latest": band.latest}


def _instants(band: Band, now_ms: int | None) -> Plain | None:
    if now_ms is None:
        return None
    return {
        name: None if hours is None else instant(now_ms + round(hours * MS_PER_H))
        for name, hours in (
            ("earliest", band.earliest),
            ("likely", band.likely),
            ("latest", band.latest),
        )
    }


def ahead_plain(ahead: SprayAhead) -> Plain:
    """Return the hours until the last coat has flashed."""
    turns = ahead.turns
    return {
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
        "hours": [
            {
                "at": instant(hour.at_ms),
                "likely": str(hour.likely.verdict),
                "worst": str(hour.worst.verdict),
                "limit": None if hour.worst.binding is None else hour.worst.binding.name,
            }
            for hour in ahead.hours
        ],
    }


def _not_ahead(answer: SprayAnswer) -> str | None:
    if answer.ahead is not None:
        return None
    return NO_HOURS if answer.now_ms is None else NO_AIR


def standing_plain(
    plain: Plain, answer: SprayAnswer, here: Conditions, *, typed: Collection[str]
) -> Plain:
    """Return where each number comes from: by its place, and by a limit's name for the limit."""
    source = {
        name: TYPED if name in typed else None if value is None else MEASURED
        for name, value in conditions_plain(here).items()
        if name in ASKED
    }
    limits = {limit.name: limit for limit in answer.now.limits}
    found: Plain = {name: str(limit.standing) for name, limit in limits.items()}
    for place, _ in numbers(plain):
        found[place] = _standing(place, limits, source, answer=answer)
    found |= source
    found |= {"dew_point_c": str(Standing.PHYSICS), "wet_film_c": str(Standing.PHYSICS)}
    if answer.now.blush is not None:  # of the film; "blush" is that of the 3 K rule
        found["thinner"] = str(thinner_named(answer.now.blush.thinner).standing)
    return found


def _standing(
    place: str,
    limits: dict[str, Limit],
    source: dict[str, str | None],
    *,
    answer: SprayAnswer,
) -> str:
    """Return the standing of one number of the answer."""
    keys = place.split(".")
    head, last = keys[0], keys[-1]
    if head in ("limits", "binding"):
        limit = limits[keys[1]] if head == "limits" else answer.binding
        assert limit is not None  # noqa: S101 - the answer carries its numbers
        if last == "allowed":
            return str(limit.standing)
        if last == "value":
            return _of_value(limit.name, source)
        return str(Standing.FROM_MEMORY if last == "error" else Standing.PHYSICS)
    if head == "recoat" and answer.recoat is not None and last.startswith("sheet"):
        return str(answer.recoat.standing)
    if last in ("temp_error_k", "rh_error_pct"):
        return str(Standing.FROM_MEMORY)
    return TYPED if last == "coats" else str(Standing.PHYSICS)


def _of_value(limit: str, source: dict[str, str | None]) -> str:
    """Return whether a limit's value was measured, typed or worked out."""
    for name, what in ASKED.items():
        if limit in (f"{what}-low", f"{what}-high"):
            return source[name] or str(Standing.PHYSICS)
    return str(Standing.PHYSICS)
