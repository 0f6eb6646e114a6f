"""The day at the gun: a line a piece, time across, coats as marks, windows with faded ends."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from curewatch.web.draw.scale import Frame, Scale, time_marks
from curewatch.web.draw.svg import WIDTH, Svg

if TYPE_CHECKING:
    from collections.abc import Sequence

LEFT, RIGHT, TOP, LINE, FOOT = 10.0, 10.0, 6.0, 51.0, 24.0
TALL = 14.0
LEAST_WIDE = 2.5
SLIT = 0.8  # between two coats that follow each other
NUMBER_APART = 12.0


@dataclass(frozen=True, slots=True)
class DayCoat:
    """A coat.

    Attributes
    ----------
    number: which of its stack; '' on the gun's line.
    at_ms, done_ms: from when to when it is laid [ms].
    told: its words.
    fit: whether the room is likely fit then; an unfit start stands empty and crossed out.
    """

    number: str
    at_ms: int
    done_ms: int
    told: str
    fit: bool = True


@dataclass(frozen=True, slots=True)
class DayWindow:
    """The window after a coat.

    Attributes
    ----------
    early_ms, sure_ms: when it opens at the earliest, and surely [ms].
    stop_ms: where it ends on this line: the next coat, or the drawing's end [ms].
    closes_ms: the early end of its limit [ms]; None: no limit.
    told: its words.
    """

    early_ms: int | None
    sure_ms: int | None
    stop_ms: int
    closes_ms: int | None
    told: str


@dataclass(frozen=True, slots=True)
class DayLine:
    """A piece, or the gun."""

    says: str
    coats: tuple[DayCoat, ...]
    windows: tuple[DayWindow, ...] = ()


def day(
    frame: Frame,
    lines: Sequence[DayLine],
    *,
    start_ms: int,
    stop_ms: int,
    nights: Sequence[tuple[int, int]] = (),
) -> Svg:
    """Return the drawing of a plan from `start_ms` to `stop_ms` [ms].

    Parameters
    ----------
    frame
        Its name on the page, its title, the shop's zone.
    lines
        One each, in order; the gun's first.
    nights
        When nobody is there, as (start, stop) [ms].
    """
    height = TOP + LINE * len(lines) + FOOT
    told = [f"{line.says}: {'; '.join(coat.told for coat in line.coats)}." for line in lines]
    drawing = Svg(frame.name, height=height, title=frame.title, description=" ".join(told))
    drawing.hatch("closed", spacing=5.0, look="hatch")
    drawing.hatch("night", spacing=9.0, look="night-hatch", slope=-45.0)
    drawing.fading("opening", ((0.0, 0.05), (1.0, 1.0)), "doubt-stop")
    across = Scale(float(start_ms), float(stop_ms), LEFT, WIDTH - RIGHT)
    foot = TOP + LINE * len(lines)
    for begin, end in nights:
        left, right = across.at(max(begin, start_ms)), across.at(min(end, stop_ms))
        if right > left:
            drawing.box((left, TOP), (right - left, foot - TOP), "night", fill="night")
    _hours(drawing, across, frame, foot)
    for number, line in enumerate(lines):
        _line(drawing, line, across, TOP + LINE * number)
    return drawing


def _hours(drawing: Svg, across: Scale, frame: Frame, foot: float) -> None:
    last = -math.inf
    for mark in time_marks(round(across.low), round(across.high), frame, most=8):
        x = across.at(mark.at_ms)
        if x - last < 40.0 or not 14.0 < x < WIDTH - 18.0:  # noqa: PLR2004 - a label's width
            continue
        last = x
        drawing.line((x, TOP), (x, foot + 3.0), "grid")
        drawing.text((x, foot + 15.0), mark.says, "mark", anchor="middle")
    drawing.line((LEFT, foot), (WIDTH - RIGHT, foot), "axis")


def _line(drawing: Svg, line: DayLine, across: Scale, top: float) -> None:
    drawing.text((LEFT, top + 12.0), line.says, "rung-name")
    y = top + 35.0  # a number above the first coat stands clear of the name
    drawing.line((LEFT, y), (WIDTH - RIGHT, y), "rung")
    for window in line.windows:
        _window(drawing, window, across, y)
    last = -math.inf
    for coat in line.coats:
        left = across.at(coat.at_ms)
        wide = max(across.at(coat.done_ms) - left - SLIT, LEAST_WIDE)
        _coat(drawing, (left, y - TALL / 2.0), wide, fit=coat.fit)
        if coat.number and left - last >= NUMBER_APART:
            last = left
            drawing.text(
                (left + wide / 2.0, y - TALL / 2.0 - 2.0), coat.number, "strong", anchor="middle"
            )
        drawing.spot((left - 4.0, y - 14.0), (wide + 8.0, 28.0), coat.told)


def _coat(drawing: Svg, corner: tuple[float, float], wide: float, *, fit: bool) -> None:
    if fit:
        drawing.box(corner, (wide, TALL), "laid")
        return
    left, top = corner
    drawing.box(corner, (wide, TALL), "unfit")
    drawing.line((left - 3.0, top + TALL + 3.0), (left + wide + 3.0, top - 3.0), "unfit")


def _window(drawing: Svg, window: DayWindow, across: Scale, y: float) -> None:
    """Draw the bar from its early opening to its end, hatched from where it closes."""
    if window.sure_ms is None:
        return
    stop = min(across.at(window.stop_ms), WIDTH - RIGHT)
    sure = min(across.at(window.sure_ms), stop)
    early = sure if window.early_ms is None else min(across.at(window.early_ms), sure)
    closes = stop if window.closes_ms is None else max(min(across.at(window.closes_ms), stop), sure)
    if sure > early:
        drawing.box((early, y - 4.0), (sure - early, 8.0), "doubt", fill="opening")
    if closes > sure:
        drawing.box((sure, y - 4.0), (closes - sure, 8.0), "open")
    if stop > closes:
        drawing.box((closes, y - 6.0), (stop - closes, 12.0), "closed", fill="closed")
        drawing.line((closes, y - 8.0), (closes, y + 8.0), "edge")
    if stop > early:
        drawing.spot((early, y - 8.0), (stop - early, 16.0), window.told)
