"""The clock book: every room's climate track and the clock tracks in use there.

The book is a cache: everything in it can be rebuilt from stored readings.
"""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from curewatch.shop.budget import Bias, RoomBudget
from curewatch.shop.climate import MINUTE_MS, TEMP_COVER, ClimateTrack, GridBlock, gaps
from curewatch.shop.clocks import ClockTrack, RateLaw
from curewatch.shop.derived import DerivedTrack
from curewatch.shop.hourly import HOUR_MINUTES, HOUR_MS, LOOK_BACK_H, Hours, HourTrack
from curewatch.shop.memo import NEVER_MS, Latest, Memo

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from curewatch.shop.ahead import LawAhead
    from curewatch.shop.apart import Beside
    from curewatch.shop.climate import Climate, Floats
    from curewatch.shop.deeds import Deed
    from curewatch.shop.room import Room
    from curewatch.shop.spray_ahead import SprayAhead
    from curewatch.shop.spray_outlook import AirAhead
    from curewatch.shop.spray_recoat import Recoat

    Recalls = Callable[[str, int, int], Floats]

JOINT_MS = 2 * MINUTE_MS  # a stretch changes the cell before it, and what lay past the record


class ClockBook:
    """Every room's climate track and the clock tracks in use there.

    Attributes
    ----------
    climates: the minute record of each room.
    deeds, aheads, airs, sprays: what was worked out of the record, until it changes.
    beside: what a room's sensors say of one another, by room.
    recall: gives a room's hours before its minute record, from one hour until before another.
    """

    def __init__(self, biases: Mapping[str, Bias | RoomBudget] | None = None) -> None:
        """Start an empty book; rooms without a bias get the default sensor's."""
        self.climates: dict[str, ClimateTrack] = {}
        self._biases: dict[str, Bias | RoomBudget] = dict(biases or {})
        self._clocks: dict[tuple[str, RateLaw], ClockTrack] = {}
        self._derived: dict[str, DerivedTrack] = {}
        self._hours: dict[str, HourTrack] = {}
        self.recall: Recalls | None = None
        self.beside: dict[str, Beside] = {}
        self.deeds: Memo[tuple[Deed, ...]] = Memo()
        self.aheads: Latest[LawAhead | None] = Latest()
        self.airs: Latest[AirAhead | None] = Latest()
        self.sprays: Latest[tuple[Recoat | None, float | None, SprayAhead]] = Latest()

    def splice(self, room: str, block: GridBlock) -> None:
        """Take a stretch of a room's merged record in; its clocks follow when they are asked."""
        climate = self.climates.get(room)
        if climate is None or not climate.size or block.first_minute < climate.first_minute:
            climate = self.climates[room] = ClimateTrack(block.first_minute)
            climate.splice(block)
            self._derived.pop(room, None)
            self._forget_hours(room, climate.first_minute)
            for name, law in [key for key in self._clocks if key[0] == room]:
                self._clocks[name, law] = ClockTrack(climate, law, self.budget(room))
            self.deeds.forget_from(climate.start_ms - JOINT_MS)
            self._forget_aheads(room, climate.start_ms - JOINT_MS)
            return
        start = climate.splice(block)
        self._forget_hours(room, climate.first_minute + max(start - 1, 0))
        if room in self._derived:
            self._derived[room].forget_from(start)
        changed = [clock.extend(start) for (name, _), clock in self._clocks.items() if name == room]
        first = min(changed, default=start)
        self.deeds.forget_from(climate.start_ms + first * MINUTE_MS - JOINT_MS)
        self._forget_aheads(room, climate.start_ms + start * MINUTE_MS - JOINT_MS)

    def drop(self, room: str) -> None:
        """Forget a room's record, to be spliced anew; its clocks are rebuilt then."""
        self.climates.pop(room, None)
        self._derived.pop(room, None)
        self._hours.pop(room, None)
        self._forget_aheads(room, NEVER_MS)
        self.deeds.forget_from(NEVER_MS)

    def clock(self, room: str, law: RateLaw) -> ClockTrack:
        """Return the clock of a room and a law, built on first use."""
        key = (room, law)
        if key not in self._clocks:
            climate = self.climates.setdefault(room, ClimateTrack(0))
            self._clocks[key] = ClockTrack(climate, law, self.budget(room))
        return self._clocks[key]

    def forget(self, keep: set[tuple[str, RateLaw]]) -> None:
        """Drop the clocks that nothing uses any more."""
        self._clocks = {key: clock for key, clock in self._clocks.items() if key in keep}

    def frontier_ms(self, room: str) -> int | None:
        """Return the instant of a room's newest reading [ms]."""
        climate = self.climates.get(room)
        return None if climate is None else climate.frontier_ms

    def hourly(self, room: str, until_ms: int, *, hours: int = LOOK_BACK_H) -> Hours:
        """Return a room's hourly temperature and vapour pressure before a moment.

        Parameters
        ----------
        room : str
            Any room; one never heard has nothing known.
        until_ms : int
            The moment [ms]. The last hour is the last whole one (of the UTC clock) that has ended
            by then, and by the room's newest reading: `first_hour + hours` is where it ends.
        hours : int
            How many hours.

        Returns
        -------
        Hours
            Always so many, oldest first, NaN where unknown; they reach back beyond the loaded
            minute record as far as storage remembers.
        """
        climate, frontier = self.climates.get(room), self.frontier_ms(room)
        stop = (until_ms if frontier is None else min(until_ms, frontier)) // HOUR_MS
        if climate is None or not climate.size:
            return Hours.of(stop - hours, np.full((3, hours), np.nan))
        if room not in self._hours:
            before = None if self.recall is None else partial(self.recall, room)
            self._hours[room] = HourTrack(before)
        return Hours.of(stop - hours, self._hours[room].rows(climate, stop - hours, stop))

    def remembers(self, room: str) -> bool:
        """Return whether anybody has asked for a room's hours."""
        return room in self._hours

    def _forget_aheads(self, room: str, at_ms: int) -> None:
        for kept in (self.aheads, self.airs):  # what was judged on an air goes by the air itself
            kept.forget_from(room, at_ms)

    def _forget_hours(self, room: str, minute: int) -> None:
        if room in self._hours:
            self._hours[room].forget_from(minute // HOUR_MINUTES)

    def budget(self, room: str) -> Bias | RoomBudget:
        """Return what a room's sensors may be off by, over time."""
        return self._biases.get(room) or Bias()

    def bias(self, room: str, at_ms: int | None = None, rh_frac: float | None = None) -> Bias:
        """Return what a room's sensors may be off by at an instant [ms], at a humidity there.

        More where they disagree just then.
        """
        bias, found = self.budget(room).at(at_ms, rh_frac), self.beside.get(room)
        told = found is not None and at_ms is not None and found.speaks_at(at_ms)
        return found.widened(bias) if found is not None and told else bias

    def budgets_changed(self, budgets: Mapping[str, RoomBudget]) -> None:
        """Go by other budgets; a record that changes by them is to be spliced anew after this."""
        self._biases = dict(budgets)
        for (room, _), clock in self._clocks.items():
            clock.bias = self.budget(room)

    def air_gaps(self, room: str, start_ms: int, stop_ms: int) -> list[tuple[int, int]]:
        """Return the stretches of [start, stop) without air temperature, as known so far."""
        climate = self.climates.get(room)
        if climate is None:
            return []
        return gaps(
            climate.row(TEMP_COVER),
            climate.first_minute,
            start_ms=start_ms,
            stop_ms=stop_ms,
            frontier_ms=climate.frontier_ms,
        )

    def dew_point_c(self, room: str, climate: Climate) -> float | None:
        """Return the dew point [degC] at the minute of a climate of this room."""
        if climate.rh_frac is None:
            return None
        dew_c = self._of(room).dew_point_c(climate.at_ms)
        return None if np.isnan(dew_c) else dew_c

    def wet_film_c(self, room: Room, climate: Climate) -> float:
        """Return the temperature of a fresh waterborne film at the minute of a climate [degC]."""
        return self._of(room.name).wet_film_c(climate.at_ms, room)

    def _of(self, room: str) -> DerivedTrack:
        if room not in self._derived:
            self._derived[room] = DerivedTrack(self.climates[room])
        return self._derived[room]
