"""What of a piece's hours rests on a climate that a person assumed, and how that is said.

Filled hours count like measured ones; nobody measured them, so every face says how many they are
and on whose word. Where only humidity was filled in, a clock that does not ask for it counts its
hours as filled too: that errs to the side of the doubt.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from curewatch.shop.climate import ASSUMED, MINUTE_MS
from curewatch.shop.clocks import COVERED, HOURS, MINUTE_H
from curewatch.shop.words import span

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from curewatch.shop.book import ClockBook
    from curewatch.shop.clocks import RateLaw
    from curewatch.shop.milestones import Milestone
    from curewatch.shop.piece import Fill, Stay

LEAST_H = 0.05  # less is not worth a word


@dataclass(frozen=True, slots=True)
class Assumed:
    """What rests on fills since a piece's last coat.

    Attributes
    ----------
    effective_h: effective hours earned on an assumed climate [h].
    wall_h: how long that was on the wall [h].
    """

    effective_h: float = 0.0
    wall_h: float = 0.0


NOTHING = Assumed()


def assumed(
    book: ClockBook,
    law_in: Callable[[str], RateLaw],
    *,
    stays: Sequence[Stay],
    start_ms: int,
    stop_ms: int,
) -> Assumed:
    """Return what of a piece's hours between two instants [ms] rests on fills."""
    effective_h = wall_h = 0.0
    for stay in stays:
        begin = max(stay.start_ms, start_ms)
        end = stop_ms if stay.stop_ms is None else min(stay.stop_ms, stop_ms)
        climate = book.climates.get(stay.room)
        if climate is None or begin >= end:
            continue
        first = max(climate.index(begin), 0)
        share = climate.row(ASSUMED, first, max(climate.index(end) + 1, first))
        cells = np.flatnonzero(share)
        if not cells.size:
            continue
        edges = climate.start_ms + (first + cells) * float(MINUTE_MS)
        inside = np.concatenate((np.maximum(edges, begin), np.minimum(edges + MINUTE_MS, end)))
        gained = np.diff(
            book.clock(stay.room, law_in(stay.room))
            .sums_at(inside)[[HOURS, COVERED]]
            .reshape(2, 2, -1),
            axis=1,
        )[:, 0]
        of_cell = share[cells]
        known = np.maximum(gained[1] / MINUTE_H, of_cell)  # a cell may be measured in part
        effective_h += float((gained[0] * of_cell / known).sum())
        wall_h += float((gained[1] * of_cell / known).sum())
    return Assumed(effective_h, wall_h)


def fills_under(
    fills: Mapping[str, Sequence[Fill]], stays: Sequence[Stay], start_ms: int, stop_ms: int
) -> tuple[Fill, ...]:
    """Return the fills a piece was under between two instants [ms], in order of time."""
    found = {
        fill.id: fill
        for stay in stays
        for fill in fills.get(stay.room, ())
        if fill.start_ms < min(stay.stop_ms or stop_ms, stop_ms)
        and fill.stop_ms > max(stay.start_ms, start_ms)
    }
    return tuple(sorted(found.values(), key=lambda fill: (fill.start_ms, fill.id)))


def assumed_said(filled_h: float, fills: Sequence[Fill], stone: Milestone | None = None) -> str:
    """Say how many hours rest on fills, and whether they decide a milestone; '' where none do."""
    if filled_h < LEAST_H:
        return ""
    which = ", ".join(f"number {fill.id}: {fill.why.strip().rstrip('.')}" for fill in fills)
    what = "a fill" if len(fills) < 2 else "fills"  # noqa: PLR2004 - one or several
    said = f"Of these hours {span(filled_h)} rest on {what}" + (f" ({which})" if which else "")
    if stone is not None and decides(filled_h, stone):
        return f"{said}: the readings alone do not make it ready, and nobody measured them."
    return f"{said}; nobody measured them."


def decides(filled_h: float, stone: Milestone) -> bool:
    """Return whether a milestone that was reached would not have been without filled hours."""
    if stone.cautious_at is None or stone.required_hours is None or stone.reached_hours is None:
        return False
    return stone.reached_hours - filled_h < max(stone.required_hours, stone.late_hours or 0.0)
