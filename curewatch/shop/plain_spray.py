"""The whole answer of a spray check as plain data, with where each of its numbers comes from."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.shop.clocks import MS_PER_H
from curewatch.shop.instants import instant
from curewatch.shop.plain_check import answer_head, check_plain, span_plain
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


def answer_plain(answer: SprayAnswer, here: Conditions, *, typed: Collection[str] = ()) -> Plain:
    """Return the answer; `typed` names what was not measured but typed in."""
    plain: Plain = {
        **check_plain(answer.now),
        **answer_head(answer),
        "what_would_clear_it": [clear_plain(one) for one in answer.clears],
        "recoat": None if answer.recoat is None else recoat_plain(answer.recoat, answer.now_ms),
        "ahead": None if answer.ahead is None else ahead_plain(answer.ahead),
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
    """Return the hours until the last coat has flashed, each as it was judged."""
    return {
        **span_plain(ahead),
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
        if last == "value" and not (head == "binding" and answer.ahead_decides):  # foreseen
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
