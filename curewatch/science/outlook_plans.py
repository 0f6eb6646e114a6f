"""What planned changes of a room do to the hours that it will earn, and the most that can be.

A stretch that someone has planned has its own rates, and perhaps its own ends; elsewhere the room
goes on as its record says. Over everything stands a ceiling: what the fastest hours would earn.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from curewatch.errors import BadInput
from curewatch.science.arrays import FloatArray, checked
from curewatch.science.outlook_past import DAY_H, FASTEST_OF_H

SPARE = 1.5
"""How much faster than its fastest hour a room may become that was never seen; our own. In the
outdoor air of two typical years, known for a month, one outlook in 200 ends above what this allows,
at 6 h, and one in 400 at 24 h and 72 h."""
SPARE_HALVES_AT_D = 3.0
"""After so many known days half of `SPARE` is left [d]; our own."""


@dataclass(frozen=True, slots=True)
class Planned:
    """
    A stretch ahead in which someone has said what the room will do.

    Attributes
    ----------
    start_h, stop_h : float
        Hours from now; `stop_h` may be infinite ('from now on').
    rates : tuple of float
        Rates over equal parts of the stretch [h/h]; one value for a fixed set-point.
    free : bool
        Whether the room is left to itself: then past errors under control do not bound it. Without
        `low` and `high` the band is at least the default one from its start on.
    low, high : tuple of float
        Rates at both ends of what the climate may be, part by part [h/h]; they take the place of
        the room's own band. Both empty: its own band counts.
    """

    start_h: float
    stop_h: float
    rates: tuple[float, ...]
    free: bool = False
    low: tuple[float, ...] = ()
    high: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        """Refuse a stretch that cannot be meant."""
        if not (math.isfinite(self.start_h) and self.start_h < self.stop_h):
            raise BadInput(
                f"A planned stretch runs from {self.start_h:g} to {self.stop_h:g} h from now; it"
                " must start before it stops. Correct one of them."
            )
        rates = checked(self.rates, "rates", allowed=(0.0, 1e6), unit="h/h")
        if rates.size == 0 or (rates.size > 1 and math.isinf(self.stop_h)):
            raise BadInput(
                f"A planned stretch has {rates.size} rates; it needs at least one, and exactly one"
                " where it has no end."
            )
        if not self.low and not self.high:
            return
        ends = [
            checked(end, "low and high", allowed=(0.0, 1e6), unit="h/h")
            for end in (self.low, self.high)
        ]
        if any(end.shape != rates.shape for end in ends) or not (
            np.all(ends[0] <= rates) and np.all(rates <= ends[1])
        ):
            raise BadInput(
                "A planned stretch has low and high rates that do not enclose its rates part by"
                " part. Give one of each for every rate, or neither."
            )


@dataclass(frozen=True, slots=True, eq=False)
class Sums:
    """
    Effective hours from now to each edge [h].

    Attributes
    ----------
    edges_h : ndarray
        Hours from now, those of the plans among them.
    likely_h : ndarray
        Central estimate.
    open_h : ndarray
        The part of it around which the room's own band lies.
    low_h, high_h : ndarray
        Both ends of the other part.
    ceiling_h : ndarray
        What cannot be surpassed.
    """

    edges_h: FloatArray
    likely_h: FloatArray
    open_h: FloatArray
    low_h: FloatArray
    high_h: FloatArray
    ceiling_h: FloatArray


def obeying(
    edges: FloatArray, likely: FloatArray, planned: Sequence[Planned], *, fastest: float
) -> Sums:
    """
    Add up the planned rates in their stretches and the likely ones elsewhere.

    Parameters
    ----------
    edges, likely : ndarray
        Hours from now and effective hours likely earned by then [h], both rising from 0.
    planned : sequence of Planned
        Where they overlap the later in the list rules.
    fastest : float
        The rate outside the plans that cannot be surpassed [h/h].

    Returns
    -------
    Sums
    """
    finer = np.unique(np.concatenate([edges, *(_edges(plan, edges[-1]) for plan in planned)]))
    spans = np.diff(finer)
    middles = finer[:-1] + 0.5 * spans
    rates = np.diff(np.interp(finer, edges, likely)) / spans
    low = np.full(rates.shape, np.nan)
    high, ceiling = low.copy(), np.full(rates.shape, fastest)
    for plan in planned:
        inside = (middles > plan.start_h) & (middles < plan.stop_h)
        share = (middles[inside] - plan.start_h) / (plan.stop_h - plan.start_h)
        part = np.minimum((share * len(plan.rates)).astype(np.int64), len(plan.rates) - 1)
        there = np.array(plan.rates)
        unknown = np.full(there.shape, np.nan)
        rates[inside] = there[part]
        low[inside] = np.array(plan.low or unknown)[part]
        high[inside] = np.array(plan.high or unknown)[part]
        ceiling[inside] = np.array(plan.high or (1.0 + SPARE) * there)[part]
    own = np.isnan(low)
    parts = (rates, np.where(own, rates, 0.0), np.where(own, 0.0, low), np.where(own, 0.0, high))
    return Sums(
        finer, *(np.concatenate(([0.0], np.cumsum(part * spans))) for part in (*parts, ceiling))
    )


def covers_all(planned: Sequence[Planned], longest_h: float) -> bool:
    """Return whether one of the plans says all of the time ahead, up to `longest_h` [h]."""
    return any(plan.start_h <= 0.0 and plan.stop_h >= longest_h for plan in planned)


def spare_over_fastest(cells: FloatArray) -> float:
    """
    Say how far above its fastest hour a room may run.

    Parameters
    ----------
    cells : ndarray
        Rate of each hour [h/h], NaN where unknown; the last 90 days count.

    Returns
    -------
    float
        A factor, 2.5 for a room that was never seen and near 1 after months.
    """
    days = float(np.isfinite(cells[-FASTEST_OF_H:]).sum()) / DAY_H
    return 1.0 + SPARE / (1.0 + days / SPARE_HALVES_AT_D)


def _edges(plan: Planned, longest_h: float) -> FloatArray:
    stop = min(plan.stop_h, longest_h)
    parts = np.linspace(plan.start_h, stop, len(plan.rates) + 1)
    return parts[(parts > 0.0) & (parts < longest_h)]
