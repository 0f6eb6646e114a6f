"""What a shop remembers of its rooms before the loaded minute record: hours, read only when asked.

An outlook learns from months, the clocks need days. So the months before the minute record are
merged stretch by stretch, reduced to hours and let go. They are the same numbers as the loaded
record gives, so a daemon that has run for months, one that just began and a replay of everything
tell the same. What the daemon has worked out is kept in storage: a cache, checked against the feed
of changes to the past.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Protocol

import numpy as np

from curewatch.shop.climate import MINUTE_MS, ClimateTrack, merge
from curewatch.shop.hourly import HOUR_MINUTES, HOUR_MS, LOOK_BACK_H, reduced
from curewatch.shop.trust import BACK_MS
from curewatch.storage.room_hours import KeptHours

if TYPE_CHECKING:
    from collections.abc import Mapping

    from curewatch.shop.climate import Floats, Series
    from curewatch.shop.reading import Quantity
    from curewatch.shop.shop import Shop
    from curewatch.storage import Store

STRETCH_H = 10 * 24  # minutes of so many hours are in hand at once
SETTLED_H = 48  # so old an hour is before it is kept: sensors that come late have come by then
KEPT_EVERY_H = 24


class Source(Protocol):
    """Where readings come from: what the feed of rooms knows of sensors and places."""

    def series_in(self, room: str, start_ms: int, stop_ms: int) -> Mapping[Key, Series]:
        """Return the readings of the sensors that hung in a room, while they did."""

    def rooms_of(self, sensor: str) -> set[str]:
        """Return the rooms a sensor has hung in."""


if TYPE_CHECKING:
    Key = tuple[str, Quantity]


class RoomMemory:
    """Hours of rooms before the minute record."""

    def __init__(self, store: Store, shop: Shop, source: Source, *, keeps: bool = False) -> None:
        """Read from `store`; with `keeps` also write there what was worked out."""
        self._store = store
        self._shop = shop
        self._source = source
        self._keeps = keeps
        self._touched = store.touched.last_id()
        self._kept_to: dict[str, int] = {}

    def recall(self, room: str, first_hour: int, stop_hour: int) -> Floats:
        """Return a room's hours, shape (3, hours), NaN where unknown."""
        found = np.full((3, stop_hour - first_hour), np.nan)
        kept = self._kept(room)
        begin = first_hour
        if kept is not None and kept.first_hour <= first_hour < kept.stop_hour:
            begin = min(kept.stop_hour, stop_hour)
            rows = kept.rows[:, first_hour - kept.first_hour : begin - kept.first_hour]
            found[:, : begin - first_hour] = rows
        oldest_ms = self._store.readings.oldest_ms()
        fills = [fill.start_ms for fill in self._store.fills.for_room(room)]
        known = fills if oldest_ms is None else [*fills, oldest_ms]
        begin = max(begin, min(known, default=stop_hour * HOUR_MS) // HOUR_MS)
        for hour in range(begin, stop_hour, STRETCH_H):
            end = min(hour + STRETCH_H, stop_hour)
            found[:, hour - first_hour : end - first_hour] = self._worked_out(room, hour, end)
        return found

    def keep(self, room: str, newest_ms: int) -> None:
        """Keep a room's hours once a day, for the next start; none where nobody asks for them."""
        stop_hour = newest_ms // HOUR_MS - SETTLED_H
        due = stop_hour >= self._kept_to.get(room, 0) + KEPT_EVERY_H
        if not (self._keeps and due and self._shop.book.remembers(room)):
            return
        hours = self._shop.book.hourly(room, stop_hour * HOUR_MS, hours=LOOK_BACK_H)
        rows = np.stack([hours.temp_c, hours.vapour_pressure_pa, hours.surface_c])
        kept = KeptHours(hours.first_hour, rows, self._touched, self._basis(room))
        self._store.room_hours.put(room, kept)
        self._kept_to[room] = stop_hour

    def changed(self, room: str, from_ms: int) -> None:
        """Let go of what is kept of a room whose past was changed from an instant [ms] on."""
        if self._keeps and from_ms - self._lead_ms(room) < self._kept_to.get(room, 0) * HOUR_MS:
            self._store.room_hours.forget(room)
            self._kept_to.pop(room, None)

    def _kept(self, room: str) -> KeptHours | None:
        """Return the kept hours up to the first change that they have not taken in."""
        kept = self._store.room_hours.get(room)
        if kept is None or kept.basis != self._basis(room):
            return None
        _, touches = self._store.touched.since(kept.touched)
        changes = [
            touch.from_ms
            for touch in touches
            if room in (self._source.rooms_of(touch.sensor) if touch.sensor else [touch.room])
        ]
        first_ms = min(changes, default=kept.stop_hour * HOUR_MS + self._lead_ms(room))
        hour = (first_ms - self._lead_ms(room)) // HOUR_MS
        return replace(kept, rows=kept.rows[:, : max(hour - kept.first_hour, 0)])

    def _worked_out(self, room: str, first_hour: int, stop_hour: int) -> Floats:
        """Merge a stretch of the stored record and reduce it to hours."""
        start_ms, stop_ms = first_hour * HOUR_MS, stop_hour * HOUR_MS
        reach_ms = stop_ms + self._lead_ms(room)
        block = merge(
            self._source.series_in(room, start_ms - self._lead_ms(room), reach_ms),
            first_minute=start_ms // MINUTE_MS,
            longest_gap_s=self._shop.longest_gap_s(room),
            fills=[
                replace(fill, stop_ms=min(fill.stop_ms, reach_ms))
                for fill in self._store.fills.for_room(room)
                if fill.start_ms < reach_ms and fill.stop_ms > start_ms
            ],
        )
        track = ClimateTrack(first_hour * HOUR_MINUTES)
        track.splice(block)
        return reduced(track, first_hour, stop_hour)

    def _basis(self, room: str) -> str:
        return f"gaps up to {self._shop.longest_gap_s(room):g} s, {BACK_MS} ms after a jar"

    def _lead_ms(self, room: str) -> int:
        return round(self._shop.longest_gap_s(room) * 1000.0) + MINUTE_MS
