"""The ladder: a piece's milestones, a rung each, on one time axis with faded ends for doubt."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from curewatch.web.draw.scale import HOUR_MS, Frame, time_marks
from curewatch.web.draw.svg import WIDTH, Svg

if TYPE_CHECKING:
    from collections.abc import Sequence

LEFT, RIGHT, TOP, RUNG, FOOT = 10.0, 10.0, 8.0, 42.0, 34.0
LEAST_WIDE = 5.0
LABEL = 48.0  # a day's label, at its widest
KNEE_H = 12.0  # nearer to the last coat than this the axis is straight, then it closes up
FAR_OUT = 1.02


@dataclass(frozen=True, slots=True)
class Rung:
    """One milestone.

    Attributes
    ----------
    says: its name; told: its times in words.
    reached_ms: when it was reached for sure, None if not yet [ms].
    early_ms, likely_ms, late_ms: when it will be, None where that cannot be told [ms].
    closes: whether it is a limit that closes, hatched from its early end on.
    """

    says: str
    told: str
    reached_ms: int | None = None
    early_ms: int | None = None
    likely_ms: int | None = None
    late_ms: int | None = None
    closes: bool = False


def ladder(
    frame: Frame,
    rungs: Sequence[Rung],
    *,
    start_ms: int,
    now_ms: int,
    now_says: str,
) -> Svg:
    """Return the ladder from the last coat (`start_ms`) to the last milestone that can be told."""
    known = [at for rung in rungs for at in _instants(rung)]
    stop_ms = start_ms + (max([*known, now_ms, start_ms + HOUR_MS]) - start_ms) * FAR_OUT
    axis = _Axis(start_ms, stop_ms)
    height = TOP + RUNG * len(rungs) + FOOT
    drawing = Svg(
        frame.name,
        height=height,
        title=frame.title,
        description=" ".join(f"{rung.says}: {rung.told}." for rung in rungs),
    )
    drawing.hatch("closed", spacing=6.0, look="hatch")
    drawing.fading("doubt", ((0.0, 0.0), (0.35, 1.0), (0.65, 1.0), (1.0, 0.0)), "doubt-stop")
    foot = TOP + RUNG * len(rungs)
    _days(drawing, axis, frame, foot)
    x = axis.at(now_ms)
    drawing.line((x, TOP), (x, foot), "now")
    for number, rung in enumerate(rungs):
        _rung(drawing, rung, axis, TOP + RUNG * number)
    drawing.text((x, foot + 28.0), now_says, "mark strong", anchor=_anchor(x))
    return drawing


class _Axis:
    """Time from the last coat on, closing up towards the end: hours and weeks fit side by side."""

    def __init__(self, start_ms: float, stop_ms: float) -> None:
        self._start_ms = start_ms
        self._whole = self._stretch(stop_ms)
        self.stop_ms = stop_ms

    def _stretch(self, at_ms: float) -> float:
        hours = max((at_ms - self._start_ms) / HOUR_MS, 0.0)
        return math.sqrt(hours + KNEE_H) - math.sqrt(KNEE_H)

    def at(self, at_ms: float) -> float:
        share = min(self._stretch(at_ms) / self._whole, 1.0)
        return LEFT + share * (WIDTH - LEFT - RIGHT)


def _instants(rung: Rung) -> list[int]:
    return [
        at
        for at in (rung.reached_ms, rung.early_ms, rung.likely_ms, rung.late_ms)
        if at is not None
    ]


def _days(drawing: Svg, axis: _Axis, frame: Frame, foot: float) -> None:
    """Mark days under the axis, as many as stand apart."""
    last = -math.inf
    start_ms, stop_ms = round(axis._start_ms), round(axis.stop_ms)  # noqa: SLF001 - same module
    for mark in time_marks(start_ms, stop_ms, frame, most=60):
        x = axis.at(mark.at_ms)
        if not mark.is_day or x - last < LABEL or x > WIDTH - LABEL / 2.0:
            continue
        by = max(LABEL / 2.0 - x, 0.0)  # at the left edge a label stands beside its line
        last = x + by
        drawing.line((x, TOP), (x, foot + 3.0), "grid")
        drawing.text((x + by, foot + 14.0), mark.says, "mark", anchor="middle")
    drawing.line((LEFT, foot), (WIDTH - RIGHT, foot), "axis")


def _rung(drawing: Svg, rung: Rung, axis: _Axis, top: float) -> None:
    drawing.text((LEFT, top + 13.0), f"{rung.says}: {rung.told}", "rung-name")
    y = top + 26.0
    drawing.line((LEFT, y), (WIDTH - RIGHT, y), "rung")
    if rung.closes:
        _closing(drawing, rung, axis, y)
        return
    if rung.reached_ms is not None:
        x = axis.at(rung.reached_ms)
        drawing.line((x, y), (WIDTH - RIGHT, y), "reached")
        drawing.line((x, y - 8.0), (x, y + 8.0), "reached-mark")
        return
    ends = [at for at in (rung.early_ms, rung.likely_ms) if at is not None]
    if not ends:
        return
    left = axis.at(min(ends))
    right = WIDTH - RIGHT if rung.late_ms is None else axis.at(rung.late_ms)
    right = max(right, left + LEAST_WIDE)
    drawing.box((left, y - 6.0), (right - left, 12.0), "doubt", fill="doubt")
    if rung.likely_ms is not None:
        x = axis.at(rung.likely_ms)
        drawing.line((x, y - 8.0), (x, y + 8.0), "likely-mark")
    drawing.spot((left, top + 16.0), (right - left, RUNG - 16.0), rung.told)


def _closing(drawing: Svg, rung: Rung, axis: _Axis, y: float) -> None:
    """Hatch from the early end of a limit on."""
    at_ms = rung.early_ms if rung.early_ms is not None else rung.likely_ms
    if at_ms is None:
        at_ms = rung.reached_ms
    if at_ms is None:
        return
    x = axis.at(at_ms)
    drawing.box((x, y - 6.0), (WIDTH - RIGHT - x, 12.0), "closed", fill="closed")
    drawing.line((x, y - 8.0), (x, y + 8.0), "edge")


def _anchor(x: float) -> str:
    if x < 40.0:  # noqa: PLR2004 - near the left edge the word would be cut
        return "start"
    return "end" if x > WIDTH - 40.0 else "middle"
