"""The boundary of the air chart's region: edges with their limit's name, hatched outside."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from curewatch.web.draw.svg import WIDTH

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from curewatch.shop.air_edges import RegionEdge
    from curewatch.web.draw.svg import Svg

    Point = tuple[float, float]
    Place = Callable[[tuple[float, float]], Point]

BAND = 9.0  # depth of the hatching
LETTER = 6.6  # width of one, at the size a telephone shows
SHARPEST = 1.6  # how far a corner of the hatching may run out
ABOVE, BELOW = 4.0, 11.0  # a label's foot beyond the hatching, above it and below


def draw_edges(
    drawing: Svg, edges: Sequence[RegionEdge], place: Place, *, says: Mapping[str, str]
) -> None:
    """Draw a boundary that runs clockwise; what no limit makes is left without a line."""
    for chain in _chains(edges):
        points = _joined([[place(air) for air in edge.points] for edge in chain])
        band = [*points, *_outward(points)[::-1]]
        drawing.path(band, "band", closed=True, fill="outside")
        drawing.path(points, "edge bound")
    for edge in edges:
        if edge.limit:
            _name(drawing, edge, [place(air) for air in edge.points], says[edge.limit])


def draw_beyond(
    drawing: Svg, beyond: Sequence[RegionEdge], place: Place, *, says: Mapping[str, str]
) -> None:
    """Draw limits that lie outside the boundary as broken lines, named at their right ends."""
    shown: list[float] = []
    for edge in beyond:
        points = [place(air) for air in edge.points]
        drawing.path(points, "beyond")
        x, y = max(points)
        if x < WIDTH - LETTER * len(says[edge.limit]) - 4.0 and all(
            abs(y - other) > 2.0 * BAND for other in shown
        ):
            shown.append(y)
            drawing.text((x + 14.0, y - 3.0), says[edge.limit], "mark")


def _chains(edges: Sequence[RegionEdge]) -> list[list[RegionEdge]]:
    """Return stretches of edges that follow one another without a part that no limit makes."""
    starts = [number for number, edge in enumerate(edges) if not edge.limit]
    first = starts[0] + 1 if starts else 0
    chains: list[list[RegionEdge]] = [[]]
    for edge in [*edges[first:], *edges[:first]]:
        if edge.limit:
            chains[-1].append(edge)
        else:
            chains.append([])
    return [chain for chain in chains if chain]


def _joined(parts: Sequence[Sequence[Point]]) -> list[Point]:
    """Return the points of all parts in a row, none twice in succession."""
    found: list[Point] = []
    for point in (one for part in parts for one in part):
        if not found or math.dist(found[-1], point) > 0.05:  # noqa: PLR2004 - less is not drawn
            found.append(point)
    return found


def _outward(points: Sequence[Point]) -> list[Point]:
    """Return a line as far outside as the hatching is deep; clockwise, so outside is left."""
    found = []
    for number, (x, y) in enumerate(points):
        sides = [
            _normal(points[at], points[at + 1])
            for at in (number - 1, number)
            if 0 <= at < len(points) - 1
        ]
        across, up = (sum(side[axis] for side in sides) / len(sides) for axis in (0, 1))
        long = math.hypot(across, up)
        by = BAND * min(1.0 / max(long, 0.1), SHARPEST) / max(long, 0.1)
        found.append((x + by * across, y + by * up))
    return found


def _normal(start: Point, end: Point) -> Point:
    """Return the unit vector to the left of the way, on paper where y runs down."""
    long = math.dist(start, end) or 1.0
    return (end[1] - start[1]) / long, -(end[0] - start[0]) / long


def _name(drawing: Svg, edge: RegionEdge, points: Sequence[Point], words: str) -> None:
    """Write a limit's name outside along its edge, where the edge is long enough for it."""
    (x1, y1), (x2, y2) = min(points), max(points)
    if edge.side in ("left", "right"):
        (x1, y1), (x2, y2) = max(points, key=_foot), min(points, key=_foot)  # read upwards
    if math.hypot(x2 - x1, y2 - y1) < LETTER * len(words) * 0.7:
        return
    middle = points[len(points) // 2] if len(points) > 2 else ((x1 + x2) / 2, (y1 + y2) / 2)  # noqa: PLR2004 - a wall has two
    turn = math.degrees(math.atan2(y2 - y1, x2 - x1))
    away = BAND + (BELOW if edge.side in ("right", "bottom") else ABOVE)
    normal_x, normal_y = _normal(points[0], points[-1])
    at = middle[0] + away * normal_x, middle[1] + away * normal_y
    drawing.text(at, words, "edge-name", anchor="middle", turn=turn)


def _foot(point: Point) -> float:
    return point[1]
