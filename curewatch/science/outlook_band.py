"""The band around a room's outlooks, from what its own outlooks have missed so far.

Ends are quantiles of past errors at the same horizon. While there are few of them they are mixed
with what the next shorter horizon lets expect, and at the shortest with a wide default.
`outlook_past` tells where the constants come from.
"""

from bisect import bisect_left, insort
from collections.abc import Sequence
from typing import TypeAlias

import numpy as np

from curewatch.science.arrays import FloatArray
from curewatch.science.outlook_past import DAY_H, ORIGIN_EVERY_H, AtHorizon

Band: TypeAlias = tuple[FloatArray, FloatArray]
Tails: TypeAlias = tuple[FloatArray, FloatArray, FloatArray]

BAND_MEMORY = 90 * DAY_H // ORIGIN_EVERY_H
"""So many origins, 90 days of them, count in the band."""
BAND_TAIL = 0.1
"""Share of past errors beyond either end of the band."""
TAIL_SPARE = 3.0
"""Few errors say little of their tails: of n independent ones the share is `BAND_TAIL` n / (n + 3).
A part of the usual finite-sample correction, which would leave wide bands far ahead."""
DEFAULT_HALF_WIDTH = 0.3
"""Half width of the band 6 h ahead in a room without history [ln of effective hours].

About the widest of the records looked at: own errors reach 0.10 to 0.17 in the outdoor air of Sand
Point, 0.18 to 0.28 in that of Greensboro and 0.06 in a heated office, by the rate law."""
DEFAULT_AT_H = 6
WIDTH_GROWTH = 0.3
"""A width that is not known yet is the next shorter horizon's times the ratio to this power."""
DEFAULT_COUNTS_AS = 2.0
"""The width from elsewhere weighs as much as so many independent outlooks of the room's own."""


def bands(looks: Sequence[AtHorizon]) -> list[Band]:
    """
    Lay the 80 % band around the outlooks from every origin.

    Parameters
    ----------
    looks : sequence of AtHorizon
        In ascending order of horizon.

    Returns
    -------
    list of (low, high)
        Ends in ln of effective hours, one pair for each horizon; low is never above 0 nor high
        below. What the room's own errors cannot tell yet comes from the next shorter horizon,
        and there from the default.
    """
    return _chained(looks, [_trailing_tails(look.errors, look.horizon_h) for look in looks])


def bands_now(looks: Sequence[AtHorizon]) -> list[Band]:
    """Return what `bands` says at the last origin, in arrays of one."""
    return _chained(looks, [_tails_now(look.errors, look.horizon_h) for look in looks])


def _chained(looks: Sequence[AtHorizon], tails: Sequence[Tails]) -> list[Band]:
    """Mix each horizon's own tails with what is expected of them."""
    low = high = np.zeros(1)
    before_h = 0
    found: list[Band] = []
    for look, (own_low, own_high, count) in zip(looks, tails, strict=True):
        if before_h < DEFAULT_AT_H:  # an hour's errors tell nothing of a day's: start from default
            half = default_half_width(look.horizon_h)
            low, high = np.array([-half]), np.array([half])
        else:
            growth = (look.horizon_h / before_h) ** WIDTH_GROWTH
            low, high = growth * low, growth * high
        own = count / (count + DEFAULT_COUNTS_AS)
        low = np.minimum(own * own_low + (1.0 - own) * low, 0.0)
        high = np.maximum(own * own_high + (1.0 - own) * high, 0.0)
        before_h = look.horizon_h
        found.append((low, high))
    return found


def default_half_width(horizon_h: float) -> float:
    """Half width of the band in a room without history [ln]."""
    return float(DEFAULT_HALF_WIDTH * (max(horizon_h, 1.0) / DEFAULT_AT_H) ** WIDTH_GROWTH)


def _trailing_tails(errors: FloatArray, horizon_h: int) -> Tails:
    """Return the tails of the errors known at each origin and how many independent ones."""
    delay = -(-horizon_h // ORIGIN_EVERY_H)
    low, high, count = (np.zeros(errors.size) for _ in range(3))
    each: list[float] = errors.tolist()
    ranked: list[float] = []
    for place in range(delay, errors.size):
        came = each[place - delay]
        if came == came:  # noqa: PLR0124 - the quickest question whether a float is NaN
            insort(ranked, came)
        if place - delay >= BAND_MEMORY:
            gone = each[place - delay - BAND_MEMORY]
            if gone == gone:  # noqa: PLR0124 - as above
                del ranked[bisect_left(ranked, gone)]
        if ranked:
            low[place], high[place], count[place] = _tails(ranked, horizon_h)
    return low, high, count


def _tails_now(errors: FloatArray, horizon_h: int) -> Tails:
    """Return what `_trailing_tails` says at the last origin, in arrays of one."""
    stop = max(errors.size - -(-horizon_h // ORIGIN_EVERY_H), 0)
    known = errors[max(stop - BAND_MEMORY, 0) : stop]
    ranked: list[float] = np.sort(known[np.isfinite(known)]).tolist()
    low, high, count = _tails(ranked, horizon_h) if ranked else (0.0, 0.0, 0.0)
    return np.array([low]), np.array([high]), np.array([count])


def _tails(ranked: list[float], horizon_h: int) -> tuple[float, float, float]:
    count = len(ranked) * min(ORIGIN_EVERY_H / horizon_h, 1.0)  # overlapping ones share a miss
    tail = BAND_TAIL * count / (count + TAIL_SPARE)
    return _ranked_at(ranked, tail), _ranked_at(ranked, 1.0 - tail), count


def _ranked_at(ranked: list[float], share: float) -> float:
    position = share * (len(ranked) - 1)
    below = int(position)
    above = min(below + 1, len(ranked) - 1)
    return ranked[below] + (position - below) * (ranked[above] - ranked[below])
