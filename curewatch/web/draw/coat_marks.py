"""Marks of the coats on a time series: a short stroke at the foot, numbered where there is room."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.web.draw.scale import Scale
from curewatch.web.draw.series import BOTTOM, HEIGHT, LEFT, RIGHT
from curewatch.web.draw.svg import WIDTH

if TYPE_CHECKING:
    from collections.abc import Sequence

    from curewatch.web.draw.svg import Svg

STROKE = 12.0
APART = 14.0  # nearer to each other only the strokes are drawn


def mark_coats(drawing: Svg, laid_ms: Sequence[float], span_ms: tuple[float, float]) -> None:
    """Mark coats laid at instants [ms] on a series over a span [ms]."""
    across = Scale(*span_ms, LEFT, WIDTH - RIGHT)
    foot, last = HEIGHT - BOTTOM, -APART
    for number, at_ms in enumerate(laid_ms, start=1):
        if not span_ms[0] <= at_ms <= span_ms[1]:
            continue
        x = across.at(at_ms)
        drawing.line((x, foot - STROKE), (x, foot), "coat-mark")
        if x - last >= APART:
            drawing.text((x + 2.0, foot - 4.0), str(number), "mark")
            last = x
