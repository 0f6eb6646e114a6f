"""Why is it slower than last summer: what a day in a room was worth, month by month.

A day on the wall is the same all the year, what it earns is not. Thickness, lot and formula have
their part as well, so the months never take all the blame.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from curewatch.shop.finish import ClockName
from curewatch.shop.hourly import HOUR_MS
from curewatch.shop.what_if import Range, plausible

if TYPE_CHECKING:
    from collections.abc import Sequence

    from curewatch.shop.climate import Floats
    from curewatch.shop.finish import Finish
    from curewatch.shop.hourly import Hours
    from curewatch.shop.room import Room
    from curewatch.shop.words import Words

LEAST_KNOWN: Final = 0.5
"""A month of which less was measured is not told (our own rule)."""
DAY_H: Final = 24.0
NOT_SEEN: Final = (
    (
        "how thick it was laid: twice the film takes far more than twice as long to give up what "
        "it holds"
    ),
    "the lot and the formula: makers change them",
    "a sensor that was moved, exchanged or aged",
    "air that moves more in summer, with the doors open",
)


@dataclass(frozen=True, slots=True)
class Month:
    """
    A month of a room.

    Attributes
    ----------
    name : str
        Year and month, such as '2026-01'.
    hours : int
        Hours of it that were looked at.
    coverage_pct : float
        How much of them was measured [%].
    temp_c, rh_frac : float or None
        Means of what was measured [degC], [fraction].
    day_h : Range or None
        Effective hours of cure that a day was worth [h]; None where too little was measured or
        the finish has no clock.
    """

    name: str
    hours: int
    coverage_pct: float
    temp_c: float | None
    rh_frac: float | None
    day_h: Range | None


@dataclass(frozen=True, slots=True)
class Seasons:
    """The months of a room, oldest first, and how many times as long a wait takes now."""

    room: str
    months: tuple[Month, ...]
    best: Month | None
    slower: Range | None
    sentence: str


def seasons(record: Hours, finish: Finish, room: Room, words: Words) -> Seasons:
    """
    Return what a day was worth month by month.

    Parameters
    ----------
    record : Hours
        The room's hours.
    finish : Finish
        Whose cure clock.
    room : Room
        How its air moves.
    words : Words
        The shop's wall clock.
    """
    laws = plausible(finish, ClockName.CURE, room)
    rates = [record.rates(law) for law in laws]
    labels = np.array(
        [
            f"{words.local((record.first_hour + n) * HOUR_MS):%Y-%m}"
            for n in range(record.temp_c.size)
        ]
    )
    names = list(dict.fromkeys(labels.tolist()))
    spans = [labels == name for name in names]
    months = tuple(_month(n, record, rates, s) for n, s in zip(names, spans, strict=True))
    told = [n for n, month in enumerate(months) if month.day_h is not None]
    if not laws:
        return Seasons(room.name, months, None, None, "No clock answers for this finish.")
    if not told or told[-1] != len(months) - 1:
        why = "Too little of the newest month was measured to say what a day is worth now."
        return Seasons(room.name, months, None, None, why)
    best = max(told[:-1], key=lambda n: _likely(months[n]), default=None)
    if best is None:
        why = "There is no earlier month to compare with: the record is too young."
        return Seasons(room.name, months, None, None, why)
    slower = _slower(rates, spans[best], spans[-1])
    said = _sentence(months[best], months[-1], slower)
    return Seasons(room.name, months, months[best], slower, said)


def _month(name: str, record: Hours, rates: Sequence[Floats], span: Floats) -> Month:
    temp, rh = record.temp_c[span], record.rh_frac[span]
    known = np.isfinite(rates[0][span]) if rates else np.isfinite(temp)
    share = float(known.mean())
    day = None
    if rates and share >= LEAST_KNOWN:
        day = Range.over([DAY_H * float(np.nanmean(rate[span])) for rate in rates])
    return Month(name, int(temp.size), 100.0 * share, _mean(temp), _mean(rh), day)


def _mean(values: Floats) -> float | None:
    known = values[np.isfinite(values)]
    return float(known.mean()) if known.size else None


def _likely(month: Month) -> float:
    assert month.day_h is not None  # noqa: S101 - only months that are told are asked
    return month.day_h.likely


def _slower(rates: Sequence[Floats], then: Floats, now: Floats) -> Range | None:
    """Return how many times as long a wait takes now, each plausible law on both sides."""
    pairs = [(float(np.nanmean(r[then])), float(np.nanmean(r[now]))) for r in rates]
    if any(new <= 0.0 for _, new in pairs):
        return None
    return Range.over([old / new for old, new in pairs])


def _sentence(best: Month, now: Month, slower: Range | None) -> str:
    if slower is None:
        return f"In {now.name} a day earned nothing here by one plausible law: no comparison."
    if slower.high <= 1.0:
        return f"A day in {now.name} is worth no less than one in {best.name}: the air is not why."
    return (
        f"The same hours take x{slower.low:.1f} to x{slower.high:.1f} as long in {now.name} as in "
        f"{best.name}, by this room's air alone."
    )
