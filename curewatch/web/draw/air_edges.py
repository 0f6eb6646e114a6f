"""The boundary of the air chart's region: edges with their limit's name, hatched outside."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from curewatch.shop.air_edges import RegionEdge
    from curewatch.web.draw.svg import Svg

    Point = tuple[float, float]
    Place = Callable[[tuple[float, float]], Point]

BAND = 9.0  # depth of the hatching
LETTER = 6.6  # width of one, at the size a telephone shows
STAGGER = 10.0  # between letters of lines that end close together
SHORTEST = 0.6  # of its name's length must an edge have to carry it
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


def draw_short(drawing: Svg, short: Sequence[tuple[str, RegionEdge]], place: Place) -> None:
    """Put the letters of edges that are too short for their names outside the hatching."""
    for letter, edge in short:
        points = [place(air) for air in edge.points]
        x, y = _middle(points)
        across, up = _normal(points[0], points[-1])
        away = BAND + 6.0
        at = x + away * across, y + away * up + 4.0
        drawing.text(at, letter, "mark", anchor="middle")


def draw_beyond(
    drawing: Svg, beyond: Sequence[RegionEdge], place: Place, *, ceiling: float
) -> None:
    """Draw limits that lie outside the boundary as broken lines, no higher than `ceiling`.

    Each carries its letter at its right end, one further out than the other.
    """
    for number, (letter, edge) in enumerate(lettered(beyond)):
        points = [place(air) for air in edge.points]
        shown = [point for point in points if point[1] >= ceiling]
        drawing.path(shown, "beyond")
        if shown:
            x, y = max(shown)
            drawing.text((x + BAND + 3.0 + STAGGER * number, y + 4.0), letter, "mark")


def lettered(edges: Sequence[RegionEdge], *, after: int = 0) -> list[tuple[str, RegionEdge]]:
    """Return limits with the letters that they carry, behind `after` letters already given."""
    return [(chr(ord("a") + after + number), edge) for number, edge in enumerate(edges)]


def too_short(
    edges: Sequence[RegionEdge], place: Place, *, says: Mapping[str, str]
) -> list[RegionEdge]:
    """Return the edges that cannot carry their names."""
    return [
        edge
        for edge in edges
        if edge.limit and not _carries([place(air) for air in edge.points], says[edge.limit])
    ]


def _carries(points: Sequence[Point], words: str) -> bool:
    return math.dist(points[0], points[-1]) >= LETTER * len(words) * SHORTEST


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
    """Write a limit's name along its edge, where the edge is long enough for it.

    Walls carry it outside; the others inside, where the paper is plain.
    """
    wall = edge.side in ("left", "right")
    start, end = _upwards(points) if wall else (min(points), max(points))
    if not _carries(points, words):
        return
    normal_x, normal_y = _normal(points[0], points[-1])
    away = {"left": BAND + ABOVE, "right": BAND + BELOW, "top": -BELOW - 3.0, "bottom": -ABOVE}
    off = away[edge.side]
    middle = _low(start, end, LETTER * len(words)) if wall else _middle(points)
    at = middle[0] + off * normal_x, middle[1] + off * normal_y
    turn = math.degrees(math.atan2(end[1] - start[1], end[0] - start[0]))
    drawing.text(at, words, "edge-name", anchor="middle", turn=turn)


def _low(start: Point, end: Point, long: float) -> Point:
    """Return a point in a wall's lower part, where the air seldom is: half a name up at least."""
    share = min(max(0.3, 0.55 * long / math.dist(start, end)), 0.5)
    return start[0] + share * (end[0] - start[0]), start[1] + share * (end[1] - start[1])


def _middle(points: Sequence[Point]) -> Point:
    """Return the point of a line halfway across."""
    if len(points) > 2:  # noqa: PLR2004 - a straight one has two
        return points[len(points) // 2]
    (x1, y1), (x2, y2) = points
    return (x1 + x2) / 2.0, (y1 + y2) / 2.0


def _upwards(points: Sequence[Point]) -> tuple[Point, Point]:
    """Return the lowest and the highest point on the paper."""
    ordered = sorted(points, key=lambda point: -point[1])
    return ordered[0], ordered[-1]
