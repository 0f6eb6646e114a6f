"""A spray check of a room as plain data, with how old the climate is that it rests on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from curewatch.shop.clocks import MS_PER_H
from curewatch.shop.plain import instant
from curewatch.shop.plain_spray import answer_plain
from curewatch.shop.words import span

if TYPE_CHECKING:
    from collections.abc import Collection

    from curewatch.shop.plain import Plain
    from curewatch.shop.spray_answer import SprayAnswer
    from curewatch.shop.spray_terms import Conditions
    from curewatch.shop.words import Words

HEARD_AGAIN = "a fresh reading (look to the room's sensors), or type --temp-c and --rh-pct"


@dataclass(frozen=True, slots=True)
class Place:
    """Where one wants to spray.

    Attributes
    ----------
    here: what is known there, typed values laid over measured ones.
    words: how things are said.
    typed: what was typed in.
    room: its name, None for typed values alone.
    at_ms: when the room's newest climate was so [ms], None where there is none.
    now_ms: the moment [ms]; None for typed values alone.
    fresh: whether that climate is young enough to decide anything.
    clock_note: what 'now' is, where it is not the wall clock's.
    unmeasured: why the room is not measured, where its sensors are in jars.
    """

    here: Conditions
    words: Words
    typed: Collection[str] = ()
    room: str | None = None
    at_ms: int | None = None
    now_ms: int | None = None
    fresh: bool = True
    clock_note: str = ""
    unmeasured: str = ""


def stale(place: Place) -> str:
    """Say that a room's climate is too old to decide anything, where nothing else decides."""
    here = place.here
    if place.room is None or place.fresh or place.now_ms is None:
        return ""
    if any(value is not None for value in (here.temp_c, here.rh_frac, here.surface_c)):
        return ""
    if place.unmeasured:
        return place.unmeasured
    if place.at_ms is None:
        return "no sensor of this room was ever heard"
    age = span((place.now_ms - place.at_ms) / MS_PER_H)
    when = place.words.at(place.at_ms, place.now_ms)
    return f"its newest climate is {age} old ({when}) and decides nothing"


def place_plain(answer: SprayAnswer, place: Place) -> Plain:
    """Return the answer at a place."""
    plain = answer_plain(answer, place.here, typed=place.typed)
    old = stale(place)
    if old:
        again: Plain = {
            "change": "measure",
            "by": None,
            "unit": "",
            "gives": None,
            "words": HEARD_AGAIN,
            "at": None,
        }
        sentence = f"{answer.verdict.words}: {old}"
        plain |= {"sentence": sentence, "reasons": [old], "what_would_clear_it": [again]}
    return {
        "room": place.room,
        "at": instant(place.at_ms),
        "fresh": place.fresh if place.room is not None else None,
        **plain,
    }
