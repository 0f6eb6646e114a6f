"""What follows from a room's climate minute by minute: dew point and wet-film temperature.

Computed for whole stretches at once, so that looking at one minute after another is a look-up.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from curewatch.science import evaporation, humid_air
from curewatch.shop.climate import RH, TEMP
from curewatch.shop.laws import air_speed_m_s
from curewatch.shop.spray import LEAST_RH_FRAC

if TYPE_CHECKING:
    from curewatch.shop.climate import ClimateTrack, Floats
    from curewatch.shop.room import Room

DEW = "dew"
AHEAD = 1440  # minutes worked out together
FilmKey = tuple[float, float]


class DerivedTrack:
    """Dew point and wet-film temperature of a room on its minute grid; NaN where not known."""

    def __init__(self, climate: ClimateTrack) -> None:
        """Work on `climate`; nothing is computed until it is asked for."""
        self._climate = climate
        self._dew = _Column()
        self._films: dict[FilmKey, _Column] = {}

    def forget_from(self, index: int) -> None:
        """Drop what was computed from grid index `index` on."""
        for column in (self._dew, *self._films.values()):
            column.valid = min(column.valid, index)

    def dew_point_c(self, at_ms: int) -> float:
        """Return the dew point at the minute of an instant [degC]."""
        index = self._climate.index(at_ms)
        for start, temp_c, rh in self._missing(self._dew, index):
            dry = np.maximum(rh, LEAST_RH_FRAC)
            dew = humid_air.dew_point_c(temp_c, np.where(np.isnan(dry), 0.5, dry))
            self._dew.put(start, np.where(rh >= LEAST_RH_FRAC, dew, np.nan))
        return float(self._dew.values[index])

    def wet_film_c(self, at_ms: int, room: Room) -> float:
        """Return the temperature of a fresh waterborne film at the minute of an instant [degC]."""
        key = (air_speed_m_s(room.air), room.pressure_pa)
        column = self._films.setdefault(key, _Column())
        index = self._climate.index(at_ms)
        for start, temp_c, rh in self._missing(column, index):
            known = np.where(np.isnan(rh), 1.0, rh)
            film = evaporation.wet_film(temp_c, known, air_speed_m_s=key[0], p_pa=key[1])
            column.put(start, np.where(np.isnan(rh), np.nan, film.temp_c))
        return float(column.values[index])

    def _missing(self, column: _Column, index: int) -> list[tuple[int, Floats, Floats]]:
        """Return the stretch to work out before `index` can be looked up, if any."""
        if column.begin <= index < column.valid:
            return []
        goes_on = column.begin <= column.valid <= index <= column.valid + AHEAD
        start = column.valid if goes_on else max(index - AHEAD, 0)
        stop = min(index + AHEAD, self._climate.size)
        temp_c = self._climate.row(TEMP, start, stop)
        return [(start, np.nan_to_num(temp_c, nan=0.0), self._climate.row(RH, start, stop))]


class _Column:
    """Values on the grid, known from index `begin` until before `valid`."""

    def __init__(self) -> None:
        self.begin = 0
        self.valid = 0
        self.values: Floats = np.full(AHEAD, np.nan)

    def put(self, start: int, values: Floats) -> None:
        end = start + values.size
        if end > self.values.size:
            grown = np.full(end + end // 8, np.nan)
            grown[: self.values.size] = self.values
            self.values = grown
        self.values[start:end] = values
        if start != self.valid:
            self.begin = start
        self.valid = end
