"""The cure history behind a score: how old the film really was, and in which air it grew so old."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from curewatch.shop.climate import RH, RH_COVER, TEMP, TEMP_COVER
from curewatch.shop.clocks import MS_PER_H
from curewatch.shop.finish import ClockName
from curewatch.shop.milestones import PieceClocks

if TYPE_CHECKING:
    from curewatch.shop.piece import Piece, WorkKind
    from curewatch.shop.shop import Shop

LEAST_COVERED_PCT = 80.0
"""An age of which less was measured is no age to compare by."""


@dataclass(frozen=True, slots=True)
class History:
    """What lies behind a score: from the board's last coat to the moment it was judged.

    Attributes
    ----------
    finish, coats: what was on the board.
    wall_h: hours on the wall clock since the last coat [h]; None before the first one.
    effective_h, standard_error_h: hours of cure on the finish's own clock [h]; None without one.
    coverage_pct: how much of that time was measured [%].
    mean_temp_c, mean_rh_frac: of what was measured; None where nothing was.
    work: what was done to the film since the last coat, in order.
    """

    finish: str
    coats: int
    wall_h: float | None = None
    effective_h: float | None = None
    standard_error_h: float | None = None
    coverage_pct: float | None = None
    mean_temp_c: float | None = None
    mean_rh_frac: float | None = None
    work: tuple[WorkKind, ...] = ()

    @property
    def age_h(self) -> float | None:
        """The age to compare by [h]; None where it is not known well enough."""
        if not self.effective_h or self.coverage_pct is None:
            return None
        return self.effective_h if self.coverage_pct >= LEAST_COVERED_PCT else None

    @property
    def why_no_age(self) -> str:
        """Why there is no age to compare by; '' where there is one."""
        if self.age_h is not None:
            return ""
        if self.wall_h is None:
            return "no coat was on it"
        if self.effective_h is None:
            return "its finish has no clock"
        if self.coverage_pct is not None and self.coverage_pct < LEAST_COVERED_PCT:
            return f"readings cover only {self.coverage_pct:.0f} % of its time"
        return "it had earned nothing yet"


def history(shop: Shop, board: Piece, at_ms: int) -> History:
    """Return what lies behind a score given at `at_ms` [ms]."""
    coats = board.coats_until(at_ms)
    if not coats:
        return History(board.finish, 0)
    finish = shop.finish_of(board)
    clocks = PieceClocks(board, finish, book=shop.book, rooms=shop.rooms, now_ms=at_ms)
    wall_h = (at_ms - clocks.start_ms) / MS_PER_H
    temp, rh = _means(shop, board, clocks.start_ms, at_ms)
    work = tuple(one.kind for one in board.work if clocks.start_ms < one.at_ms <= at_ms)
    cure = clocks.reading(ClockName.CURE)
    known = None if cure is None else cure.covered_h
    return History(
        finish=board.finish,
        coats=len(coats),
        wall_h=wall_h,
        effective_h=None if cure is None else cure.effective_hours,
        standard_error_h=None if cure is None else cure.standard_error,
        coverage_pct=None if known is None or wall_h <= 0.0 else 100.0 * known / wall_h,
        mean_temp_c=temp,
        mean_rh_frac=rh,
        work=work,
    )


def _means(
    shop: Shop, board: Piece, start_ms: int, stop_ms: int
) -> tuple[float | None, float | None]:
    """Return the mean air temperature [degC] and humidity [fraction] where the board hung."""
    totals = {TEMP: [0.0, 0.0], RH: [0.0, 0.0]}
    for stay in board.stays:
        track = shop.book.climates.get(stay.room)
        begin = max(stay.start_ms, start_ms)
        end = stop_ms if stay.stop_ms is None else min(stay.stop_ms, stop_ms)
        if track is None or begin >= end:
            continue
        first, last = max(track.index(begin), 0), max(track.index(end), 0)
        for row, cover_row in ((TEMP, TEMP_COVER), (RH, RH_COVER)):
            cover = track.row(cover_row, first, last)
            values = np.where(cover > 0.0, track.row(row, first, last), 0.0)
            totals[row][0] += float((values * cover).sum())
            totals[row][1] += float(cover.sum())
    temp, rh = (total / known if known > 0.0 else None for total, known in totals.values())
    return temp, rh
