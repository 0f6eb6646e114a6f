"""What a room's air was over a stretch: minutes where they are loaded, hours before them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from curewatch.science import humid_air, wood
from curewatch.shop.climate import MINUTE_MS, RH, RH_COVER, SURFACE, SURFACE_COVER, TEMP, TEMP_COVER
from curewatch.shop.hourly import HOUR_MS
from curewatch.shop.spray_terms import LEAST_RH_FRAC

if TYPE_CHECKING:
    from curewatch.shop.climate import Bools, ClimateTrack, Floats
    from curewatch.shop.shop import Shop


@dataclass(frozen=True, slots=True, eq=False)
class RoomPast:
    """A room's air at ascending instants; NaN where nothing is known.

    Attributes
    ----------
    at_ms: when [ms].
    temp_c, rh_frac, surface_c: air [degC], [fraction], and the piece [degC].
    """

    at_ms: Floats
    temp_c: Floats
    rh_frac: Floats
    surface_c: Floats

    @property
    def dew_point_c(self) -> Floats:
        """Dew point [degC]."""
        known = np.isfinite(self.temp_c) & (self.rh_frac >= LEAST_RH_FRAC)
        found = np.full(self.temp_c.shape, np.nan)
        found[known] = humid_air.dew_point_c(self.temp_c[known], self.rh_frac[known])
        return found

    @property
    def over_dew_k(self) -> Floats:
        """How far the piece, or the air where no piece is measured, is above the dew point [K]."""
        near = np.where(np.isfinite(self.surface_c), self.surface_c, self.temp_c)
        return np.asarray(near - self.dew_point_c, dtype=np.float64)

    @property
    def emc_pct(self) -> Floats:
        """Moisture that wood left in this air settles at [%]."""
        known = np.isfinite(self.temp_c) & np.isfinite(self.rh_frac)
        found = np.full(self.temp_c.shape, np.nan)
        found[known] = wood.emc_pct(self.temp_c[known], self.rh_frac[known])
        return found

    def every(self, step_ms: int) -> RoomPast:
        """Return the record at whole steps of so many milliseconds only."""
        keep = np.round(self.at_ms) % step_ms == 0
        return RoomPast(
            self.at_ms[keep], self.temp_c[keep], self.rh_frac[keep], self.surface_c[keep]
        )


def room_past(shop: Shop, room: str, start_ms: int | None, now_ms: int) -> RoomPast:
    """Return a room's record up to now, in the daemon's thread.

    Parameters
    ----------
    shop : Shop
        With the record.
    room : str
        Which.
    start_ms : int or None
        From when on [ms]; None: as far as the memory of hours reaches.
    now_ms : int
        Until when [ms].
    """
    track = shop.book.climates.get(room)
    begin_ms = now_ms if track is None or not track.size else track.start_ms
    parts = []
    if start_ms is None or start_ms < begin_ms:
        parts.append(_hours(shop, room, start_ms, begin_ms))
    if track is not None and track.size:
        parts.append(_minutes(track, begin_ms if start_ms is None else start_ms, now_ms))
    rows = np.concatenate(parts, axis=1)
    first = 0 if start_ms is not None else _first_known(rows)
    return RoomPast(*rows[:, first:])


def _first_known(rows: Floats) -> int:
    known = np.flatnonzero(np.isfinite(rows[1]))
    return int(known[0]) if known.size else 0


def _hours(shop: Shop, room: str, start_ms: int | None, stop_ms: int) -> Floats:
    """Return the middles of hours before the minutes, shape (4, hours)."""
    hours = shop.book.hourly(room, stop_ms)
    middles = (hours.first_hour + np.arange(hours.temp_c.size) + 0.5) * HOUR_MS
    rows = np.stack([middles, hours.temp_c, hours.rh_frac, hours.surface_c])
    return rows[:, (middles < stop_ms) & (middles >= (start_ms or 0))]


def _minutes(track: ClimateTrack, start_ms: int, now_ms: int) -> Floats:
    """Return the minutes from the start to now, shape (4, minutes); after the record all NaN."""
    first = max(-(-start_ms // MINUTE_MS), track.first_minute)
    minutes = np.arange(first, now_ms // MINUTE_MS + 1)
    index = minutes - track.first_minute
    inside = index < track.size
    rows = np.full((4, minutes.size), np.nan)
    rows[0] = minutes * float(MINUTE_MS)
    for place, (values, cover) in enumerate(
        ((TEMP, TEMP_COVER), (RH, RH_COVER), (SURFACE, SURFACE_COVER)), 1
    ):
        at = index[inside]
        known = _bridged(track.row(cover), at)
        rows[place, inside] = np.where(known, track.row(values)[at], np.nan)
    return rows


def _bridged(cover: Floats, at: np.ndarray[tuple[int, ...], np.dtype[np.int64]]) -> Bools:
    """Return whether readings bridge the minute at, or just before, each index."""
    known: Bools = (cover[at] > 0.0) | (cover[np.maximum(at - 1, 0)] > 0.0)
    return known
