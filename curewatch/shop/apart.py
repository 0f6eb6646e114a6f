"""Sensors of one room against each other: further apart than both may be off, or flooded.

Who of two is wrong they cannot say; a check of one can.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import combinations
from typing import TYPE_CHECKING, Final

import numpy as np

from curewatch.shop.reading import Quantity

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from curewatch.shop.budget import Bias
    from curewatch.shop.climate import Floats, Series

    Key = tuple[str, Quantity]
    Budgets = Callable[[str, Quantity, float | None], float]

HOUR_MS: Final = 3_600_000
LOOKED_AT_H: Final = 4  # sun through a door is over by then (our own rule)
STEP_MS: Final = 10 * 60_000
LEAST_STEPS: Final = 12
SPREADS: Final = 2.0  # of what both may be off by together: about one pair in twenty by chance
FLOODED_FRAC: Final = 0.98  # all the time: no room that one sprays in, or a wet sensor
STALE_MS: Final = 2 * HOUR_MS  # what sensors said of one another longer ago says nothing now
COMPARED: Final = (Quantity.TEMPERATURE, Quantity.HUMIDITY)


@dataclass(frozen=True, slots=True)
class Apart:
    """Two sensors of a room that lie further apart than both may be off.

    Attributes
    ----------
    sensor, other: the two.
    quantity: in which they differ.
    middle: by how much the first shows more, in the quantity's unit.
    allowed: what both may be off by together, twice the standard deviation.
    """

    sensor: str
    other: str
    quantity: Quantity
    middle: float
    allowed: float


@dataclass(frozen=True, slots=True)
class Beside:
    """What a room's sensors say of one another, over the hours up to `until_ms` [ms].

    Attributes
    ----------
    until_ms: end of the hours looked at [ms].
    apart: pairs that disagree.
    flooded: sensors that show saturation all the time.
    """

    until_ms: int
    apart: tuple[Apart, ...] = ()
    flooded: tuple[str, ...] = ()

    def speaks_at(self, at_ms: int) -> bool:
        """Return whether it may still be said at an instant [ms]."""
        return 0 <= at_ms - self.until_ms <= STALE_MS

    def widened(self, bias: Bias) -> Bias:
        """Return a room's doubt, at least half of what its sensors lie apart.

        Whichever of two is right, their middle is off by half their difference.
        """
        for pair in self.apart:
            half = abs(pair.middle) / 2.0
            if pair.quantity is Quantity.HUMIDITY:
                bias = replace(bias, rh_frac=max(bias.rh_frac, half))
            else:
                bias = replace(bias, temp_k=max(bias.temp_k, half))
        return bias


def beside(
    series: Mapping[Key, Series], *, until_ms: int, longest_gap_s: float, budgets: Budgets
) -> Beside:
    """
    Return what a room's sensors say of one another.

    Parameters
    ----------
    series : mapping of (sensor, quantity) to (times [ms], values)
        Readings as they count, the last hours at least.
    until_ms : int
        Up to when they are looked at [ms].
    longest_gap_s : float
        A longer silence of a sensor says nothing [s].
    budgets : callable
        What a sensor's quantity may be off by, at a humidity where that is known.
    """
    steps = np.arange(until_ms - LOOKED_AT_H * HOUR_MS, until_ms + 1, STEP_MS, dtype=np.int64)
    found: list[Apart] = []
    flooded: list[str] = []
    for quantity in COMPARED:
        lines = {
            sensor: _on_steps(one, steps, longest_gap_s * 1000.0)
            for (sensor, which), one in sorted(series.items())
            if which is quantity and one[0].size
        }
        for sensor, other in combinations(lines, 2):
            pair = _pair((sensor, other), quantity, lines, budgets)
            if pair is not None:
                found.append(pair)
        if quantity is Quantity.HUMIDITY:
            flooded = [sensor for sensor, line in lines.items() if _flooded(line)]
    return Beside(until_ms, tuple(found), tuple(flooded))


def _pair(
    names: Sequence[str], quantity: Quantity, lines: Mapping[str, Floats], budgets: Budgets
) -> Apart | None:
    ours, theirs = (lines[name] for name in names)
    known = np.isfinite(ours) & np.isfinite(theirs)
    if np.count_nonzero(known) < LEAST_STEPS:
        return None
    middle = float(np.median((ours - theirs)[known]))
    rh = float(np.median(ours[known])) if quantity is Quantity.HUMIDITY else None
    one, other = (budgets(name, quantity, rh) for name in names)
    allowed = SPREADS * float(np.hypot(one, other))
    return Apart(names[0], names[1], quantity, middle, allowed) if abs(middle) > allowed else None


def _flooded(line: Floats) -> bool:
    known = line[np.isfinite(line)]
    return known.size >= LEAST_STEPS and bool(np.all(known >= FLOODED_FRAC))


def _on_steps(
    series: Series, steps: np.ndarray[tuple[int, ...], np.dtype[np.int64]], longest_ms: float
) -> Floats:
    """Return a sensor's values at the steps, NaN inside its silences and beyond its ends."""
    times, values = series
    found = np.interp(steps, times, values, left=np.nan, right=np.nan)
    after = np.minimum(np.searchsorted(times, steps), times.size - 1)
    before = np.maximum(after - 1, 0)
    silent = (times[after] - times[before] > longest_ms) & (times[after] != steps)
    return np.asarray(np.where(silent, np.nan, found), dtype=np.float64)
