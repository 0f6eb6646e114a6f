"""A room's climate by whole hours: what outlooks learn from, and how far back they see.

Every hour is reduced from the merged minute record, never from raw readings, so that an hour kept
from before a restart is the same number as one worked out again: the daemon, a replay and a command
see one past, whenever each of them began to look. The price is that a rate law is applied to the
means of an hour. That is exact for the steady hours of a shop and misses what a law's bend makes of
a swing within one hour, which is far below an outlook's band.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from curewatch.science.saturation import water_pressure_pa
from curewatch.shop.climate import (
    RH,
    RH_COVER,
    SURFACE,
    SURFACE_COVER,
    TEMP,
    TEMP_COVER,
    ClimateTrack,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    from curewatch.shop.climate import Floats
    from curewatch.shop.clocks import RateLaw

HOUR_MS = 3_600_000
HOUR_MINUTES = 60
LOOK_BACK_H = 120 * 24  # the band learns from 90 days; a month before them says what was usual
ENOUGH = 0.5  # an hour of which less is covered is not known
AT_ONCE_H = 240  # minutes of so many hours are in hand at once
AIR, VAPOUR, PIECE = range(3)


@dataclass(frozen=True, slots=True, eq=False)
class Hours:
    """Hourly means of a room from `first_hour` on, NaN where less than half of an hour is known.

    Attributes
    ----------
    first_hour: whole hours since the epoch.
    temp_c: air [degC].
    vapour_pressure_pa: water vapour [Pa].
    surface_c: the piece's own temperature, where it is measured [degC].
    """

    first_hour: int
    temp_c: Floats
    vapour_pressure_pa: Floats
    surface_c: Floats

    @classmethod
    def of(cls, first_hour: int, rows: Floats) -> Hours:
        """Take the rows `AIR`, `VAPOUR` and `PIECE`, shape (3, hours)."""
        return cls(first_hour, rows[AIR], rows[VAPOUR], rows[PIECE])

    @property
    def rh_frac(self) -> Floats:
        """Relative humidity at the hour's mean temperature [fraction]."""
        rh = self.vapour_pressure_pa / water_pressure_pa(self.temp_c)
        return np.asarray(np.minimum(rh, 1.0), dtype=np.float64)

    def rates(self, law: RateLaw) -> Floats:
        """Return what a law would have earned in each hour [h/h], NaN where it cannot be told."""
        temp_c, rh_frac = self.temp_c, self.rh_frac
        if law.on_surface:
            temp_c = np.where(np.isnan(self.surface_c), temp_c, self.surface_c)
        known = ~np.isnan(temp_c)
        if law.needs_humidity:
            known &= ~np.isnan(rh_frac)
        found = np.full(temp_c.shape, np.nan)
        found[known] = law.rates(temp_c[known], rh_frac[known])
        return found


def reduced(track: ClimateTrack, first_hour: int, stop_hour: int) -> Floats:
    """Return the means of whole hours of a minute record, shape (3, hours), NaN where unknown.

    The rows are `AIR`, `VAPOUR` and `PIECE`; hours outside the record are unknown.
    """
    minutes = (stop_hour - first_hour) * HOUR_MINUTES
    start = first_hour * HOUR_MINUTES - track.first_minute
    temp, rh, surface = (_padded(track, row, start, minutes + 1) for row in (TEMP, RH, SURFACE))
    on_air, on_rh, on_piece = (
        _padded(track, row, start, minutes) for row in (TEMP_COVER, RH_COVER, SURFACE_COVER)
    )
    vapour = rh * water_pressure_pa(temp)
    return np.stack(
        [
            _mean(temp, on_air),
            _mean(vapour, np.minimum(on_air, on_rh)),
            _mean(surface, on_piece),
        ]
    )


def _padded(track: ClimateTrack, row: int, start: int, minutes: int) -> Floats:
    """Return a stretch of a row; outside the record nothing is covered."""
    found = np.zeros(minutes)
    begin, end = max(start, 0), min(start + minutes, track.size)
    if begin < end:
        found[begin - start : end - start] = track.row(row, begin, end)
    return found


def _mean(values: Floats, cover: Floats) -> Floats:
    """Return the mean of each hour over what of it is covered, by straight lines."""
    line = np.where(cover > 0.0, 0.5 * (values[:-1] + values[1:]), 0.0)
    covered = cover.reshape(-1, HOUR_MINUTES).sum(axis=1)
    total = (line * cover).reshape(-1, HOUR_MINUTES).sum(axis=1)
    enough = covered >= ENOUGH * HOUR_MINUTES
    means = np.divide(total, covered, out=np.full(covered.shape, np.nan), where=enough)
    return np.asarray(means, dtype=np.float64)


class HourTrack:
    """Hours of one room, worked out once each; a cache over its minute record.

    What lies before the minute record is asked of `recall`, which gives a stretch of hours as
    `reduced` does, when first wanted.
    """

    def __init__(self, recall: Callable[[int, int], Floats] | None = None) -> None:
        """Start with nothing known."""
        self.first_hour = 0
        self._rows: Floats = np.empty((3, 0))
        self._recall = recall

    @property
    def stop_hour(self) -> int:
        """The hour before which everything is worked out."""
        return self.first_hour + self._rows.shape[1]

    def forget_from(self, hour: int) -> None:
        """Drop what was worked out from an hour on."""
        self._rows = self._rows[:, : max(hour - self.first_hour, 0)]

    def rows(self, track: ClimateTrack, first_hour: int, stop_hour: int) -> Floats:
        """Return whole hours, shape (3, hours), all of which the record has passed.

        NaN where less than half of an hour is known.
        """
        self._reach_back(track, first_hour)
        begins = range(self.stop_hour, stop_hour, AT_ONCE_H)
        more = [reduced(track, hour, min(hour + AT_ONCE_H, stop_hour)) for hour in begins]
        self._rows = np.concatenate([self._rows, *more], axis=1)
        found = np.full((3, stop_hour - first_hour), np.nan)
        begin = max(first_hour, self.first_hour)
        if begin < stop_hour:
            found[:, begin - first_hour :] = self._rows[
                :, begin - self.first_hour : stop_hour - self.first_hour
            ]
        return found

    def _reach_back(self, track: ClimateTrack, first_hour: int) -> None:
        """Begin with the hours before the minute record, at least from `first_hour` on."""
        loaded = track.first_minute // HOUR_MINUTES
        if not self._rows.shape[1]:
            self.first_hour = loaded
        if self._recall is not None and first_hour < self.first_hour:
            kept = self._rows[:, max(loaded - self.first_hour, 0) :]
            before = self._recall(first_hour, loaded)
            self.first_hour, self._rows = first_hour, np.concatenate((before, kept), axis=1)
