"""The boundary of a region from its limits' curves: corners where they cross, ends where they meet.

Curves lie over a row of temperatures; the lowest of those above and the highest of those below
bound the region.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from curewatch.shop.climate import Bools, Floats

Stretch = tuple[str, list[tuple[float, float]]]


@dataclass(frozen=True, slots=True)
class RegionEdge:
    """A stretch of the boundary that one limit makes.

    Attributes
    ----------
    limit: machine word of the limit; '' where only the end of the scale bounds.
    side: `left`, `top`, `right` or `bottom`.
    points: temperature [degC] and humidity [fraction], clockwise round the region.
    """

    limit: str
    side: str
    points: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True, eq=False)
class Curve:
    """One side of the region: its limits' curves, and which rules at each temperature.

    The lowest rules above (`sign` 1), the highest below (-1).
    """

    names: tuple[str, ...]
    curves: Floats
    sign: float

    def ruling(self, index: int) -> int:
        """Return which limit rules at a temperature."""
        return int(np.argmin(self.sign * self.curves[:, index]))

    def values(self) -> Floats:
        """Return where the side lies, by whatever limit [fraction]."""
        lowest: Floats = np.min(self.sign * self.curves, axis=0)
        return self.sign * lowest


def side_curve(ends: dict[str, Floats], columns: int, *, sign: float) -> Curve:
    """Return the side made by these limits; the end of the scale where none of them binds."""
    open_end = max(sign, 0.0)
    rows = [np.full(columns, open_end), *ends.values()]
    return Curve(("", *ends), np.stack(rows), sign)


def runs(inside: Bools) -> list[tuple[int, int]]:
    """Return the first and the last index of every stretch inside."""
    turns = np.flatnonzero(np.diff(np.concatenate(([False], inside, [False])).astype(np.int8)))
    return [(int(first), int(stop) - 1) for first, stop in turns.reshape(-1, 2)]


def edges_of(
    temps: Floats, top: Curve, bottom: Curve, *, walls: tuple[str, str]
) -> tuple[RegionEdge, ...]:
    """Return the boundary clockwise from its left wall, of the widest part if it falls apart."""
    parts = runs(top.values() - bottom.values() > 0.0)
    if not parts:
        return ()
    first, last = max(parts, key=lambda part: part[1] - part[0])
    above, below = _side(temps, top, (first, last)), _side(temps, bottom, (first, last))
    if first > 0:
        _pinch(temps, (top, bottom), (first, first - 1), (above, below), at=0)
    if last < temps.size - 1:
        _pinch(temps, (top, bottom), (last, last + 1), (above, below), at=-1)
    left, right = walls
    return (
        *_wall(left, "left", below[0][1][0], above[0][1][0]),
        *(RegionEdge(name, "top", tuple(points)) for name, points in above),
        *_wall(right, "right", above[-1][1][-1], below[-1][1][-1]),
        *(RegionEdge(name, "bottom", tuple(points[::-1])) for name, points in below[::-1]),
    )


def beyond_of(temps: Floats, curve: Curve, side: str, *, ruling: set[str]) -> list[RegionEdge]:
    """Return the curves of a side's limits that rule nowhere, where they turn at all."""
    found = []
    for name, values in zip(curve.names, curve.curves, strict=True):
        points = [
            (float(temp), float(rh))
            for temp, rh in zip(temps, values, strict=True)
            if 0.0 < rh < 1.0
        ]
        if name not in ruling and len(points) > 1:
            found.append(RegionEdge(name, side, tuple(points)))
    return found


def _side(temps: Floats, curve: Curve, span: tuple[int, int]) -> list[Stretch]:
    """Return a side's stretches from left to right, one for each limit that rules in turn."""
    values, found = curve.values(), list[Stretch]()
    for index in range(span[0], span[1] + 1):
        ruler = curve.ruling(index)
        here = (float(temps[index]), float(values[index]))
        if found and found[-1][0] == curve.names[ruler]:
            found[-1][1].append(here)
            continue
        if not found:
            found.append((curve.names[ruler], [here]))
            continue
        before = curve.ruling(index - 1)
        corner = _meeting(temps, index, curve.curves[before], curve.curves[ruler])
        found[-1][1].append(corner)
        found.append((curve.names[ruler], [corner, here]))
    return found


def _meeting(temps: Floats, index: int, one: Floats, other: Floats) -> tuple[float, float]:
    """Return where two curves cross between the temperatures `index - 1` and `index`."""
    before, after = other[index - 1] - one[index - 1], one[index] - other[index]
    share = float(before / (before + after))
    return (
        float(temps[index - 1] + share * (temps[index] - temps[index - 1])),
        float(one[index - 1] + share * (one[index] - one[index - 1])),
    )


def _pinch(
    temps: Floats,
    sides: tuple[Curve, Curve],
    columns: tuple[int, int],
    stretches: tuple[list[Stretch], list[Stretch]],
    *,
    at: int,
) -> None:
    """Let both sides run together where the region closes between two temperatures."""
    inside, outside = columns
    above, below = (side.values() for side in sides)
    gap_in, gap_out = above[inside] - below[inside], above[outside] - below[outside]
    share = float(gap_in / (gap_in - gap_out))
    end = (
        float(temps[inside] + share * (temps[outside] - temps[inside])),
        float(above[inside] + share * (above[outside] - above[inside])),
    )
    for side in stretches:
        points = side[at][1]
        points.insert(0 if at == 0 else len(points), end)


def _wall(
    limit: str, side: str, start: tuple[float, float], end: tuple[float, float]
) -> Sequence[RegionEdge]:
    """Return a wall, none where the region runs to a point."""
    return () if start == end else (RegionEdge(limit, side, (start, end)),)
