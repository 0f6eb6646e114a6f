"""A room's last days as stretches of ten minutes: what a heater's or a fan's day is laid over."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from curewatch.shop.climate import MINUTE_MS, RH, RH_COVER, TEMP, TEMP_COVER
from curewatch.shop.what_if import Air

if TYPE_CHECKING:
    from curewatch.shop.climate import ClimateTrack, Floats
    from curewatch.shop.clocks import RateLaw
    from curewatch.shop.words import Words

DAYS = 7
STEP_MIN = 10
CELLS = 24 * 60 // STEP_MIN
DAY_H = 24.0


@dataclass(frozen=True, slots=True)
class DayHours:
    """A stretch of every day on the shop's wall clock, as minutes after midnight; may pass it."""

    start_min: int
    stop_min: int

    def holds(self, minute: int) -> bool:
        """Return whether a minute of the day lies in the stretch."""
        if self.start_min < self.stop_min:
            return self.start_min <= minute < self.stop_min
        return minute >= self.start_min or minute < self.stop_min


@dataclass(frozen=True, slots=True, eq=False)
class UsualAir:
    """A room's last days.

    Attributes
    ----------
    air: its climate, a value for each stretch of ten minutes; NaN where it was not measured.
    at_ms: middle of each stretch [ms].
    until_ms: where they end [ms].
    """

    air: Air
    at_ms: tuple[int, ...]
    until_ms: int

    @property
    def known_pct(self) -> float:
        """How much of the days was measured [%]."""
        return 100.0 * float(np.isfinite(self.air.temp_c).mean())

    def inside(self, hours: DayHours, words: Words) -> tuple[bool, ...]:
        """Return which stretches lie in these hours of the shop's day."""
        local = (words.local(at) for at in self.at_ms)
        return tuple(hours.holds(then.hour * 60 + then.minute) for then in local)


def usual_air(track: ClimateTrack | None, until_ms: int) -> UsualAir:
    """Return the last days of a room's record before an instant [ms]."""
    count = DAYS * CELLS
    ends = until_ms - np.arange(count, 0, -1, dtype=np.int64) * STEP_MIN * MINUTE_MS
    at_ms = ends + STEP_MIN * MINUTE_MS // 2
    temp, rh = (np.full(count, np.nan) for _ in range(2))
    if track is not None and track.size:
        cells = at_ms // MINUTE_MS - track.first_minute
        held = (cells >= 0) & (cells < track.size)
        inside = cells[held]
        for values, row, cover in ((temp, TEMP, TEMP_COVER), (rh, RH, RH_COVER)):
            known = track.row(cover)[inside] > 0.0
            values[held] = np.where(known, track.row(row)[inside], np.nan)
    return UsualAir(Air(temp, rh), tuple(int(at) for at in at_ms), until_ms)


def day_rates(law: RateLaw, air: Air) -> Floats | None:
    """Return the mean rate of each ten minutes of the day, from the stretches' end on [h/h].

    One steady climate gives a steady day. Minutes of the day that were never measured count as
    the mean of the others; None where nothing was.
    """
    rates = law.rates(air.temp_c, air.rh_frac)
    if rates.size == 1:
        rates = np.broadcast_to(rates, (CELLS,))
    days = rates.reshape(-1, CELLS)
    known = np.isfinite(days)
    if not known.any():
        return None
    total, count = np.where(known, days, 0.0).sum(axis=0), known.sum(axis=0)
    mean = total.sum() / count.sum()
    return np.asarray(np.where(count > 0, total / np.maximum(count, 1), mean), dtype=np.float64)


def day_hours(rates: Floats, at_h: Floats) -> Floats:
    """Return what a day of rates [h/h], over and over, has earned after so many hours [h]."""
    step_h = DAY_H / rates.size
    sums = np.concatenate(([0.0], np.cumsum(rates) * step_h))
    days, rest = np.divmod(at_h, DAY_H)
    within = np.interp(rest, np.arange(sums.size) * step_h, sums)
    return np.asarray(days * sums[-1] + within, dtype=np.float64)
