"""The air chart: temperature across, moisture up, and where a finish may be sprayed.

The region is bounded by edges that carry their limit's name, hatched outside; inside is plain
paper. The last day is a trail, the hours ahead a fading cone, the newest air a mark with its word.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from curewatch.science import humid_air
from curewatch.web.draw.air_edges import (
    draw_beyond,
    draw_edges,
    draw_short,
    lettered,
    too_short,
)
from curewatch.web.draw.scale import Scale
from curewatch.web.draw.svg import WIDTH, Svg

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from curewatch.shop.air_edges import RegionEdge
    from curewatch.shop.air_region import AirRegion

    Air = tuple[float, float]

HEIGHT, LEFT, RIGHT, TOP, BOTTOM = 330.0, 40.0, 34.0, 22.0, 42.0
ASIDE_K, HEADROOM = 3.5, 1.22  # free paper beside and above what is shown
LINES_OF_RH = (0.2, 0.4, 0.6, 0.8, 1.0)
ALONG = 48  # points of a line of humidity
APART = 18.0  # labels nearer than this are left out
GRAINS_PER_G_KG = 7.0  # grains a pound in a gram a kilogram
TRAIL_PARTS = 4  # the trail thins towards its older end in so many steps
MARK = 6.0


@dataclass(frozen=True, slots=True)
class Spread:
    """The air at an hour ahead: its likely point and the ends of its band, None where unknown."""

    lead_h: float
    likely: Air
    ends: tuple[Air, ...]


@dataclass(frozen=True, slots=True)
class Chart:
    """What the chart shows; air is temperature [degC] and relative humidity [fraction].

    Attributes
    ----------
    name, title, description: of the drawing.
    region: where the finish may be sprayed.
    now: the newest air, None where it is not known.
    trail: the last day, oldest first, None in a gap.
    ahead: the hours ahead, nearest first.
    pressure_pa: of the air [Pa].
    imperial: whether °F and grains a pound are shown.
    edges: limits' names as they stand along their edges.
    words: 'now', 'ahead' (with {hours}), 'temp', 'moisture'.
    """

    name: str
    title: str
    description: str
    region: AirRegion
    now: Air | None
    trail: Sequence[Air | None]
    ahead: Sequence[Spread]
    pressure_pa: float
    imperial: bool
    edges: Mapping[str, str]
    words: Mapping[str, str]


class Plane:
    """From air to places on the drawing."""

    def __init__(self, chart: Chart) -> None:
        """Make room for everything the chart shows."""
        self._pressure_pa = chart.pressure_pa
        self.imperial = chart.imperial
        shown = [*chart.region.outline, *_points(chart)] or [(20.0, 0.5)]
        temps = [temp for temp, _ in shown]
        self.low_c, self.high_c = min(temps) - ASIDE_K, max(temps) + ASIDE_K
        self.most = HEADROOM * max(2.0, *(self.ratio(air) for air in shown))
        self.across = Scale(self.low_c, self.high_c, LEFT, WIDTH - RIGHT)
        self.up = Scale(0.0, self.most, HEIGHT - BOTTOM, TOP)

    def ratio(self, air: Air) -> float:
        """Return how much water the air holds [g/kg]."""
        return 1000.0 * float(humid_air.humidity_ratio_kg_kg(*air, p_pa=self._pressure_pa))

    def at(self, air: Air) -> tuple[float, float]:
        """Return the place of an air."""
        return self.across.at(air[0]), self.up.at(self.ratio(air))


def air_chart(chart: Chart) -> Svg:
    """Return the drawing."""
    plane = Plane(chart)
    drawing = Svg(chart.name, height=HEIGHT, title=chart.title, description=chart.description)
    drawing.hatch("outside", spacing=5.0, look="hatch")
    _axes(drawing, plane, chart.words)
    for rh in LINES_OF_RH:
        _line_of_rh(drawing, plane, rh)
    draw_beyond(drawing, chart.region.beyond, plane.at, ceiling=TOP)
    draw_edges(drawing, chart.region.edges, plane.at, says=chart.edges)
    draw_short(drawing, _short(chart, plane), plane.at)
    _cone(drawing, plane, chart)
    _trail(drawing, plane, chart.trail)
    _now(drawing, plane, chart)
    return drawing


def short_edges(chart: Chart) -> list[tuple[str, RegionEdge]]:
    """Return the edges that carry a letter because they are too short for their names."""
    return _short(chart, Plane(chart))


def _short(chart: Chart, plane: Plane) -> list[tuple[str, RegionEdge]]:
    short = too_short(chart.region.edges, plane.at, says=chart.edges)
    return lettered(short, after=len(chart.region.beyond))


def _points(chart: Chart) -> list[Air]:
    ahead = [air for spread in chart.ahead for air in (spread.likely, *spread.ends)]
    now = [] if chart.now is None else [chart.now]
    return [*(air for air in chart.trail if air is not None), *now, *ahead]


def _axes(drawing: Svg, plane: Plane, words: Mapping[str, str]) -> None:
    foot = HEIGHT - BOTTOM
    drawing.line((LEFT, foot), (WIDTH - RIGHT, foot), "axis")
    drawing.line((LEFT, foot), (LEFT, TOP), "axis")
    shown = Scale(_shown_c(plane.low_c, plane), _shown_c(plane.high_c, plane), LEFT, WIDTH - RIGHT)
    for mark in shown.marks(6):
        x = shown.at(mark)
        drawing.line((x, foot), (x, foot + 4.0), "axis")
        drawing.text((x, foot + 16.0), f"{mark:.0f}", "mark", anchor="middle")
    by = GRAINS_PER_G_KG if plane.imperial else 1.0
    moist = Scale(0.0, plane.most * by, foot, TOP)
    for mark in moist.marks(5):
        y = moist.at(mark)
        drawing.line((LEFT - 4.0, y), (LEFT, y), "axis")
        drawing.text((LEFT - 7.0, y + 4.0), f"{mark:.0f}", "mark", anchor="end")
    drawing.text((WIDTH - RIGHT, foot + 33.0), words["temp"], "mark", anchor="end")
    drawing.text((4.0, TOP - 9.0), words["moisture"], "mark")


def _shown_c(temp_c: float, plane: Plane) -> float:
    return temp_c * 1.8 + 32.0 if plane.imperial else temp_c


def _line_of_rh(drawing: Svg, plane: Plane, rh: float) -> None:
    """Draw a line of relative humidity as far as it is on the paper, its name at its end."""
    temps = np.linspace(plane.low_c, plane.high_c, ALONG)
    points = [(float(temp), rh) for temp in temps if plane.ratio((float(temp), rh)) <= plane.most]
    if len(points) < 2:  # noqa: PLR2004 - two points make a line
        return
    on_paper = [plane.at(air) for air in points]
    leaves_above = len(points) < ALONG
    if leaves_above:  # up to the upper edge itself
        on_paper.append(_at_top(plane, points[-1], rh))
    drawing.path(on_paper, "line-of-rh full" if rh == 1.0 else "line-of-rh")
    x, y = on_paper[-1]
    if not leaves_above:
        drawing.text((x + 3.0, y + 4.0), f"{rh * 100:.0f} %", "mark")
    elif x < WIDTH - RIGHT - APART:
        drawing.text((x, TOP - 4.0), f"{rh * 100:.0f} %", "mark", anchor="middle")


def _at_top(plane: Plane, last: Air, rh: float) -> tuple[float, float]:
    step = (plane.high_c - plane.low_c) / (ALONG - 1)
    here, there = plane.ratio(last), plane.ratio((last[0] + step, rh))
    share = (plane.most - here) / (there - here)
    return plane.across.at(last[0] + share * step), TOP


def _cone(drawing: Svg, plane: Plane, chart: Chart) -> None:
    """Draw the hours ahead: hulls of the band, fading, with the likely path in them."""
    if chart.now is None or not chart.ahead:
        return
    steps = [Spread(0.0, chart.now, ()), *chart.ahead]
    for number, (before, after) in enumerate(pairwise(steps)):
        airs = [before.likely, *before.ends, after.likely, *after.ends]
        look = f"cone cone-{min(number, TRAIL_PARTS - 1)}"
        drawing.path(hull([plane.at(air) for air in airs]), look, closed=True)
    drawing.path([plane.at(spread.likely) for spread in steps], "ahead")


def hull(points: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Return the corners of the smallest convex area that holds all points."""

    def half(ordered: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
        kept: list[tuple[float, float]] = []
        for point in ordered:
            while len(kept) > 1 and _turn(kept[-2], kept[-1], point) <= 0.0:
                kept.pop()
            kept.append(point)
        return kept[:-1]

    ordered = sorted(set(points))
    return ordered if len(ordered) == 1 else half(ordered) + half(ordered[::-1])


def _turn(a: tuple[float, float], b: tuple[float, float], c: tuple[float, float]) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def _trail(drawing: Svg, plane: Plane, trail: Sequence[Air | None]) -> None:
    """Draw the last day, the older the thinner, gaps as gaps."""
    if not trail:
        return
    size = math.ceil(len(trail) / TRAIL_PARTS)
    for part in range(TRAIL_PARTS):
        stretch = trail[part * size : (part + 1) * size + 1]  # one more: parts join
        runs: list[list[tuple[float, float]]] = [[]]
        for air in stretch:
            if air is None:
                runs.append([])
            else:
                runs[-1].append(plane.at(air))
        drawing.paths([run for run in runs if run], f"trail trail-{part}")


def _now(drawing: Svg, plane: Plane, chart: Chart) -> None:
    """Mark the newest air and the end of the hours ahead, each with its word."""
    if chart.now is None:
        return
    x, y = plane.at(chart.now)
    drawing.line((x - MARK, y), (x + MARK, y), "here")
    drawing.line((x, y - MARK), (x, y + MARK), "here")
    to_right = not chart.ahead or plane.at(chart.ahead[-1].likely)[0] >= x
    side = 1.0 if to_right else -1.0
    away, along = ("end", "start") if to_right else ("start", "end")
    drawing.text((x - side * 9.0, y - 7.0), chart.words["now"], "here-name strong", anchor=away)
    if chart.ahead:
        last = chart.ahead[-1]
        end_x, end_y = plane.at(last.likely)
        drawing.line((end_x, end_y - 4.0), (end_x, end_y + 4.0), "here-ahead")
        words = chart.words["ahead"].format(hours=f"{last.lead_h:.0f}")
        drawing.text((end_x + side * 7.0, end_y + 15.0), words, "mark", anchor=along)
