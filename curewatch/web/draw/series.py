"""Time series: one quantity of one or more sources over time, gaps drawn as gaps."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from curewatch.web.draw.scale import Frame, Scale, time_marks
from curewatch.web.draw.svg import WIDTH, Svg
from curewatch.web.draw.thin import least_and_most

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

HEIGHT, LEFT, RIGHT, TOP, BOTTOM = 190.0, 44.0, 8.0, 22.0, 24.0
PIXELS = 700  # columns that lines are thinned to: two of them to a drawing's unit
READ_OUT = 175  # places that the read-out under a finger knows
HATCH = 7.0  # depth of the hatching outside a limit
ROOM = 0.06  # of the span is left free above and below the lines


@dataclass(frozen=True, slots=True, eq=False)
class Track:
    """One line: its name, values in the unit shown (NaN where unknown), and its stroke."""

    says: str
    values: Floats
    stroke: str = "full"


@dataclass(frozen=True, slots=True)
class Edge:
    """A limit: its value in the unit shown, its name, and whether it is a ceiling."""

    value: float
    says: str
    ceiling: bool


def series(
    frame: Frame,
    at_ms: Floats,
    tracks: Sequence[Track],
    *,
    unit: str,
    edges: Sequence[Edge] = (),
    said: Callable[[float], str] = lambda value: f"{value:.0f}",
) -> Svg:
    """Return the drawing of `tracks` at instants `at_ms` [ms], ascending.

    Limits are labelled edges, hatched on the forbidden side; a limit out of sight is left out.
    """
    low, high = _range(tracks, edges)
    across = Scale(float(at_ms[0]), float(at_ms[-1]), LEFT, WIDTH - RIGHT)
    up = Scale(low, high, HEIGHT - BOTTOM, TOP)
    drawing = Svg(
        frame.name,
        height=HEIGHT,
        title=frame.title,
        description=_described(tracks, unit, said, at_ms, frame),
    )
    drawing.hatch("outside", spacing=5.0, look="hatch")
    for mark in up.marks():
        drawing.line((LEFT, up.at(mark)), (WIDTH - RIGHT, up.at(mark)), "grid")
        drawing.text((LEFT - 5.0, up.at(mark) + 4.0), said(mark), "mark", anchor="end")
    drawing.text((LEFT - 5.0, TOP - 8.0), unit, "mark", anchor="end")
    for when in time_marks(round(at_ms[0]), round(at_ms[-1]), frame):
        x = across.at(float(when.at_ms))
        drawing.line((x, HEIGHT - BOTTOM), (x, HEIGHT - BOTTOM + 4.0), "axis")
        drawing.text((x, HEIGHT - 8.0), when.says, "mark", anchor="middle")
    drawing.line((LEFT, HEIGHT - BOTTOM), (WIDTH - RIGHT, HEIGHT - BOTTOM), "axis")
    for edge in edges:
        _edge(drawing, edge, up)
    for track in tracks:
        runs = least_and_most(np.asarray(at_ms, dtype=np.float64), track.values, pixels=PIXELS)
        drawing.paths(
            (
                [(across.at(float(x)), up.at(float(y))) for x, y in zip(*run, strict=True)]
                for run in runs
            ),
            f"stroke-{track.stroke}",
        )
    _legend(drawing, tracks)
    drawing.tell(_read_out(at_ms, tracks, unit))
    return drawing


def _range(tracks: Sequence[Track], edges: Sequence[Edge]) -> tuple[float, float]:
    """Return the span of values shown: all lines, and limits near them."""
    known = np.concatenate([track.values[np.isfinite(track.values)] for track in tracks])
    if not known.size:
        return 0.0, 1.0
    low, high = float(known.min()), float(known.max())
    span = max(high - low, 1.0)
    for edge in edges:
        if low - span <= edge.value <= high + span:
            low, high = min(low, edge.value), max(high, edge.value)
    free = ROOM * max(high - low, 1.0)
    return low - free, high + free


def _edge(drawing: Svg, edge: Edge, up: Scale) -> None:
    if not up.low <= edge.value <= up.high:
        return
    y = up.at(edge.value)
    drawing.line((LEFT, y), (WIDTH - RIGHT, y), "edge")
    top = y - HATCH if edge.ceiling else y
    drawing.box((LEFT, top), (WIDTH - RIGHT - LEFT, HATCH), "", fill="outside")
    below = y + 13.0 if edge.ceiling else y - 5.0
    drawing.text((WIDTH - RIGHT, below), edge.says, "edge-name", anchor="end")


def _legend(drawing: Svg, tracks: Sequence[Track]) -> None:
    if len(tracks) < 2:  # noqa: PLR2004 - one line needs no name beside its title
        return
    x = LEFT + 4.0
    for track in tracks:
        drawing.line((x, TOP - 12.0), (x + 18.0, TOP - 12.0), f"stroke-{track.stroke}")
        drawing.text((x + 22.0, TOP - 8.0), track.says, "mark")
        x += 34.0 + 6.2 * len(track.says)


def _read_out(at_ms: Floats, tracks: Sequence[Track], unit: str) -> str:
    """Return what the read-out under a pointer knows, as JSON."""
    places = np.linspace(float(at_ms[0]), float(at_ms[-1]), READ_OUT)
    nearest = np.clip(np.searchsorted(at_ms, places), 0, at_ms.size - 1)
    return json.dumps(
        {
            "from": round(float(at_ms[0])),
            "to": round(float(at_ms[-1])),
            "left": LEFT / WIDTH,
            "right": (WIDTH - RIGHT) / WIDTH,
            "unit": unit,
            "lines": [
                {
                    "says": track.says,
                    "values": [
                        None if not np.isfinite(value) else round(float(value), 2)
                        for value in track.values[nearest]
                    ],
                }
                for track in tracks
            ],
        },
        separators=(",", ":"),
    )


def _described(
    tracks: Sequence[Track],
    unit: str,
    said: Callable[[float], str],
    at_ms: Floats,
    frame: Frame,
) -> str:
    """Say in words what the lines do, for who does not see them."""
    marks = time_marks(round(at_ms[0]), round(at_ms[-1]), frame)
    begin, end = (marks[0].says, marks[-1].says) if marks else ("", "")
    told = []
    for track in tracks:
        known = track.values[np.isfinite(track.values)]
        if known.size:
            low, high, last = (said(float(v)) for v in (known.min(), known.max(), known[-1]))
            told.append(f"{track.says}: {low} to {high} {unit}, last {last} {unit}")
        else:
            told.append(f"{track.says}: nothing known")
    return f"{begin} to {end}. {'; '.join(told)}."
