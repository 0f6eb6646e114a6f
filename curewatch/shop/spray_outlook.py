"""The air a room will likely have over the hours a coat needs, as the spray check takes it.

The path goes on from the newest reading (`science.outlook_climate`), obeys what people have said
the room will be like, and has a band from what it would have missed along the room's own record.
Both ends of temperature and both of humidity are laid beside the likely path, one at a time.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from curewatch.science.outlook_climate import climate_ahead
from curewatch.science.saturation import water_pressure_pa
from curewatch.shop.blush_check import COLDEST_C, HOTTEST_C
from curewatch.shop.climate import MINUTE_MS, RH, RH_COVER, TEMP, TEMP_COVER
from curewatch.shop.clocks import MS_PER_H
from curewatch.shop.room_plan import planned_climate

if TYPE_CHECKING:
    from curewatch.shop.climate import Bools, ClimateTrack, Floats, Times
    from curewatch.shop.shop import Shop
    from curewatch.shop.spray_terms import Conditions

STEP_H, STEP_MIN = 0.25, 15
MOST_H = 72.0  # farther ahead nobody can say anything of a room that helps a sprayer
LEADS_H = np.arange(0.0, MOST_H + STEP_H / 2, STEP_H)
PER_HOUR = 60 // STEP_MIN
PATHS = ("likely", "colder", "warmer", "damper", "drier")
LIKELY = 0


@dataclass(frozen=True, slots=True, eq=False)
class AirAhead:
    """A room's air from now on.

    Attributes
    ----------
    now_ms: the moment [ms].
    leads_h: hours from then on [h], shape (n,).
    temp_c, rh_frac: [degC], [fraction], shape (5, n): a row for each of `PATHS`; humidity is NaN
        where nothing measures it.
    planned: whether someone has said what the room will be like.
    """

    now_ms: int
    leads_h: Floats
    temp_c: Floats
    rh_frac: Floats
    planned: bool = False

    @property
    def mark(self) -> bytes:
        """Return what tells this air from any other."""
        facts = (self.now_ms, self.planned)
        parts = (repr(facts).encode(), *(a.tobytes() for a in (self.temp_c, self.rh_frac)))
        return hashlib.blake2b(b"".join(parts), digest_size=16).digest()

    def at_ms(self, index: int) -> int:
        """Return the instant of a lead [ms]."""
        return self.now_ms + round(float(self.leads_h[index]) * MS_PER_H)

    def conditions(self, here: Conditions, index: int, path: int = LIKELY) -> Conditions:
        """Return what will be known at a lead, of a piece that stays where it hangs.

        A piece colder than the air now stays as much colder, a warmer one comes to the air. The
        liquid's temperature is of now only.
        """
        temp, rh = float(self.temp_c[path, index]), float(self.rh_frac[path, index])
        return replace(
            here,
            temp_c=temp,
            rh_frac=None if np.isnan(rh) else rh,
            surface_c=None if here.surface_c is None else temp + _colder_by(here),
            liquid_c=None,
        )

    def on_piece(self, here: Conditions) -> Floats:
        """Return the temperature of such a piece along every path [degC]."""
        return self.temp_c if here.surface_c is None else self.temp_c + _colder_by(here)


def _colder_by(here: Conditions) -> float:
    if here.surface_c is None or here.temp_c is None:
        return 0.0
    return min(here.surface_c - here.temp_c, 0.0)


def steady_air(here: Conditions, now_ms: int = 0) -> AirAhead | None:
    """Return air that stays as it is, for values typed in; None where it is not known."""
    if here.temp_c is None:
        return None
    rh = np.nan if here.rh_frac is None else here.rh_frac
    shape = (len(PATHS), LEADS_H.size)
    return AirAhead(now_ms, LEADS_H, np.full(shape, here.temp_c), np.full(shape, rh))


def air_ahead(shop: Shop, room: str, now_ms: int, *, most_h: float = MOST_H) -> AirAhead | None:
    """Return a room's air for `most_h` [h] from now on; None where it was never heard."""
    track, frontier = shop.book.climates.get(room), shop.book.frontier_ms(room)
    if track is None or frontier is None:
        return None
    known_ms = min(frontier, now_ms)
    temp, pressure = _record(shop, room, track, known_ms=known_ms)
    planned = planned_climate(shop.plans.get(room, ()), known_ms)
    leads_h = LEADS_H if most_h == MOST_H else np.arange(0.0, most_h + STEP_H / 2, STEP_H)
    ahead = climate_ahead(
        temp,
        pressure,
        STEP_MIN * 60.0,
        hours=leads_h + (now_ms - known_ms) / MS_PER_H,
        planned=planned,
    )
    if ahead is None:
        return None
    temps = ahead.temp_c
    paths = np.stack([temps.likely, temps.low, temps.high, temps.likely, temps.likely])
    paths = np.clip(paths, COLDEST_C, HOTTEST_C)  # an end of a band may lie beyond the physics
    humid = np.full(paths.shape, np.nan)
    if ahead.vapour_pressure_pa is not None and ahead.rh_frac is not None:
        humid[:3] = np.minimum(ahead.vapour_pressure_pa.likely / water_pressure_pa(paths[:3]), 1.0)
        humid[3:] = ahead.rh_frac.high, ahead.rh_frac.low
    return AirAhead(now_ms, leads_h, paths, humid, bool(planned))


def _record(shop: Shop, room: str, track: ClimateTrack, *, known_ms: int) -> tuple[Floats, Floats]:
    """Return temperature and vapour pressure up to `known_ms`, hours before the minutes held."""
    hours = shop.book.hourly(room, known_ms)
    count = hours.temp_c.size * PER_HOUR
    minutes = known_ms // MINUTE_MS - np.arange(count - 1, -1, -1, dtype=np.int64) * STEP_MIN
    cell = minutes // 60 - hours.first_hour
    held = (cell >= 0) & (cell < hours.temp_c.size)
    temp, pressure = np.full(count, np.nan), np.full(count, np.nan)
    temp[held], pressure[held] = hours.temp_c[cell[held]], hours.vapour_pressure_pa[cell[held]]
    index = minutes - track.first_minute
    inside = (index >= 0) & (index < track.size)
    at = index[inside]
    air, humid = track.row(TEMP)[at], track.row(RH)[at]
    on_air, on_rh = _known(track, TEMP_COVER, at), _known(track, RH_COVER, at)
    temp[inside] = np.where(on_air, air, np.nan)
    pressure[inside] = np.where(on_air & on_rh, humid * water_pressure_pa(air), np.nan)
    return temp, pressure


def _known(track: ClimateTrack, row: int, at: Times) -> Bools:
    """Return whether readings bridge the minute at, or just before, each index."""
    cover = track.row(row)
    return (cover[at] > 0.0) | (cover[np.maximum(at - 1, 0)] > 0.0)
