"""Feeds the clock book: rooms' records from storage at the start, new readings as they come."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from curewatch.room_memory import RoomMemory
from curewatch.shop.apart import beside
from curewatch.shop.budget import room_budgets
from curewatch.shop.calibration import corrections
from curewatch.shop.climate import CLIMATE, MINUTE_MS, merge
from curewatch.shop.hourly import HOUR_MS
from curewatch.shop.tail import KEPT_MS, RoomTail
from curewatch.shop.trust import Trust, jar_spans
from curewatch.shop.trust_conditions import off_by

if TYPE_CHECKING:
    from collections.abc import Generator, Iterable, Mapping, Sequence

    from curewatch.shop.climate import Series
    from curewatch.shop.piece import Fill
    from curewatch.shop.reading import Quantity, Reading
    from curewatch.shop.shop import Shop
    from curewatch.storage import Store

    Key = tuple[str, Quantity]

CHUNK_MS = 2 * 86_400_000  # so much of the raw record is in memory at once
REWRITTEN_MS = 10 * MINUTE_MS  # a change farther back than this calls for new looks at pieces
FOR_EVER_MS = 2**62


class RoomFeed:
    """Keeps the climate tracks of a shop's book in step with storage."""

    def __init__(self, store: Store, shop: Shop, *, keeps: bool = False) -> None:
        """Feed `shop` from `store`; with `keeps` keep there what makes the next start quicker."""
        self._store = store
        self._shop = shop
        self._tails: dict[str, RoomTail] = {}
        self._fills: dict[str, tuple[Fill, ...]] = {}
        self._places = store.places.history()
        self._start_ms = 0
        self._stop_ms: int | None = None
        self._memory = RoomMemory(store, shop, self, keeps=keeps)
        self._read_trust()

    def places_changed(self) -> None:
        """Read again which sensor hangs where, since when, and what it was held against."""
        self._places = self._store.places.history()
        self._read_trust()

    def _read_trust(self) -> None:
        """Bring up to date how far sensors are believed, and the rooms' doubt with it."""
        shop, kept = self._shop, self._store.sensor_checks
        trust = Trust(
            made=corrections(kept.all()),
            jars=jar_spans(kept.jars()),
            since_ms={sensor: places[0][0] for sensor, places in self._places.items()},
        )
        shop.trust = trust
        shop.book.budgets_changed(
            room_budgets(shop.rooms, shop.sensors, trust.made, trust.since_ms)
        )

    def starts_after(self, start_ms: int) -> bool:
        """Return whether the record read so far begins later than `start_ms` [ms]."""
        return start_ms < self._start_ms

    def rooms_of(self, sensor: str) -> set[str]:
        """Return the rooms a sensor has hung in."""
        return {room for _, _, room in self._spans(sensor)}

    def load(
        self, start_ms: int, rooms: Iterable[str] | None = None, *, stop_ms: int | None = None
    ) -> None:
        """Read the record of rooms (all, if not said) from `start_ms` [ms] on.

        With `stop_ms` [ms] only as far as hours up to there hang on it: for a look at the past,
        not for a record that grows.
        """
        self._stop_ms = stop_ms
        self._start_ms = start_ms // HOUR_MS * HOUR_MS  # hours before it are remembered whole
        self._shop.book.recall = self._memory.recall if stop_ms is None else None
        wanted = list(self._shop.rooms if rooms is None else rooms)
        for room in wanted:
            self._shop.book.drop(room)
        self._read(wanted, self._start_ms)

    def reload(self, room: str, from_ms: int) -> None:
        """Read one room's record again from `from_ms` [ms] on: its past was changed."""
        self._memory.changed(room, from_ms)
        track = self._shop.book.climates.get(room)
        start = max(from_ms - self._lead_ms(room), self._start_ms)
        if track is None or track.frontier_ms is None or start <= track.start_ms:
            self._shop.book.drop(room)
            start = self._start_ms
        else:
            start = min(start, track.frontier_ms)
        self._read([room], start // MINUTE_MS * MINUTE_MS)

    def take(self, readings: Sequence[Reading]) -> set[str]:
        """Bring the book up to date with new readings; return the rooms whose past changed."""
        by_room: dict[str, list[Reading]] = {}
        spans = {sensor: self._spans(sensor) for sensor in {r.sensor for r in readings}}
        for reading in readings:
            if reading.quantity not in CLIMATE:
                continue
            room = _room_at(spans[reading.sensor], reading.at_ms)
            counted = self._shop.trust.reading(reading)
            if room is not None and counted is not None:
                by_room.setdefault(room, []).append(counted)
        return {room for room, mine in by_room.items() if self._take(room, mine)}

    def _take(self, room: str, readings: list[Reading]) -> bool:
        """Take one room's new readings in; return whether its past changed."""
        track = self._shop.book.climates.get(room)
        frontier = None if track is None else track.frontier_ms
        tail = self._tails.setdefault(room, RoomTail(self._shop.longest_gap_s(room)))
        start = tail.take(readings)
        if start is None:
            self.reload(room, min(reading.at_ms for reading in readings))
            return True
        if track is not None and frontier is not None:
            start = max(min(start, frontier), track.start_ms)
        self._shop.book.splice(room, tail.block(start, self._fills_of(room)))
        newest = max(reading.at_ms for reading in readings)
        tail.trim(newest)
        self._memory.changed(room, start)
        self._memory.keep(room, newest)
        self._look_beside(room, newest)
        return frontier is not None and start < frontier - REWRITTEN_MS

    def series_in(self, room: str, start_ms: int, stop_ms: int) -> dict[Key, Series]:
        """Return the readings of the sensors that hung in a room, while they did."""
        stays = self._stays(room)
        block = self._store.readings.block(start_ms, stop_ms, sensors=set(stays))
        return self._shop.trust.counted(_inside(block, stays))

    def _read(self, rooms: Iterable[str], start_ms: int) -> None:
        """Merge rooms' stored records side by side: a stretch of readings is read once for all."""
        readers = {room: self._reader(room, start_ms) for room in rooms}
        stays = {room: self._stays(room) for room in readers}
        asked = {room: next(reader) for room, reader in readers.items()}
        while asked:
            span = min(asked.values())
            those = [room for room, stretch in asked.items() if stretch == span]
            sensors = {sensor for room in those for sensor in stays[room]}
            block = self._store.readings.block(*span, sensors=sensors)
            for room in those:
                try:
                    asked[room] = readers[room].send(
                        self._shop.trust.counted(_inside(block, stays[room]))
                    )
                except StopIteration:
                    del asked[room]

    def _reader(
        self, room: str, start_ms: int
    ) -> Generator[tuple[int, int], dict[Key, Series], None]:
        """Merge a room's record from `start_ms` on, asking for one stretch [ms] at a time."""
        gap_s, lead_ms = self._shop.longest_gap_s(room), self._lead_ms(room)
        self._fills[room] = self._shop.fills[room] = self._store.fills.for_room(room)
        newest = self._store.readings.newest_ms() or start_ms
        start_ms = max(start_ms, self._oldest_ms(room) or start_ms)
        stop = max([newest, *(fill.stop_ms for fill in self._fills[room])]) + 1
        if self._stop_ms is not None:
            stop = max(min(stop, self._stop_ms + lead_ms), start_ms + 1)
        recent = max(stop - max(KEPT_MS, 2 * lead_ms), start_ms) // MINUTE_MS * MINUTE_MS
        series = yield start_ms - lead_ms, start_ms
        before_recent: dict[Key, Series] = {}
        start, known_to = start_ms, start_ms
        while True:
            end = min(max(start, known_to) + CHUNK_MS, stop)
            series = joined(series, (yield known_to, end))
            block = merge(
                series,
                first_minute=start // MINUTE_MS,
                longest_gap_s=gap_s,
                fills=[fill for fill in self._fills[room] if fill.start_ms < end],
            )
            before_recent.update(last_before(series, recent))
            frontier = block.frontier_ms
            if frontier is not None and frontier >= start:
                self._shop.book.splice(room, block)
            if end >= stop:
                break
            known_to = end
            if room in self._shop.book.climates:
                joint = min(end - lead_ms, self._shop.book.frontier_ms(room) or end)
                start = max(joint // MINUTE_MS * MINUTE_MS, start_ms)
            else:
                start = end // MINUTE_MS * MINUTE_MS
            seam = start - MINUTE_MS  # the minute before is merged in again
            series = joined(last_before(series, seam), since(series, seam))
        tail = self._tails[room] = RoomTail(gap_s)
        tail.reset(joined(before_recent, (yield recent, stop)), recent)
        self._shop.book.beside.pop(room, None)
        self._look_beside(room, self._shop.book.frontier_ms(room) or start_ms)

    def _look_beside(self, room: str, newest_ms: int) -> None:
        """Hold a room's sensors against each other, once an hour of their own time."""
        until_ms = newest_ms // HOUR_MS * HOUR_MS
        known = self._shop.book.beside.get(room)
        sensors = {sensor.id: sensor for sensor in self._shop.sensors if sensor.room == room}
        if (known is not None and known.until_ms >= until_ms) or not sensors:
            return
        series = {key: one for key, one in self._tails[room].series.items() if key[0] in sensors}
        self._shop.book.beside[room] = beside(
            series,
            until_ms=until_ms,
            longest_gap_s=self._shop.longest_gap_s(room),
            budgets=lambda name, quantity, rh: off_by(
                self._shop, sensors[name], quantity, until_ms, rh
            ),
        )

    def _oldest_ms(self, room: str) -> int | None:
        """Return the whole minute at or before the oldest thing known of a room [ms]."""
        oldest = self._store.readings.oldest_ms()
        known = [fill.start_ms for fill in self._fills[room]]
        known += [] if oldest is None else [oldest]
        return min(known) // MINUTE_MS * MINUTE_MS if known else None

    def _stays(self, room: str) -> dict[str, list[tuple[int, int]]]:
        """Return the spans each sensor hung in a room, by sensor [ms]."""
        found: dict[str, list[tuple[int, int]]] = {}
        for sensor in {*self._places, *(s.id for s in self._shop.sensors)}:
            spans = [(begin, end) for begin, end, where in self._spans(sensor) if where == room]
            if spans:
                found[sensor] = spans
        return found

    def _spans(self, sensor: str) -> list[tuple[int, int, str]]:
        """Return where a sensor hung, as (from, to, room); the first place reaches back."""
        places = self._places.get(sensor)
        if not places:
            return [(0, FOR_EVER_MS, s.room) for s in self._shop.sensors if s.id == sensor]
        begins = [0, *(at for at, _ in places[1:])]
        ends = [*begins[1:], FOR_EVER_MS]
        return [
            (begin, end, room) for begin, end, (_, room) in zip(begins, ends, places, strict=True)
        ]

    def _lead_ms(self, room: str) -> int:
        return round(self._shop.longest_gap_s(room) * 1000.0) + MINUTE_MS

    def _fills_of(self, room: str) -> tuple[Fill, ...]:
        if room not in self._fills:
            self._fills[room] = self._shop.fills[room] = self._store.fills.for_room(room)
        return self._fills[room]


def _room_at(spans: Iterable[tuple[int, int, str]], at_ms: int) -> str | None:
    for begin, end, room in spans:
        if begin <= at_ms < end:
            return room
    return None


def _inside(
    block: Mapping[Key, Series], stays: Mapping[str, Iterable[tuple[int, int]]]
) -> dict[Key, Series]:
    """Return the readings of the sensors that hung in a room, while they did."""
    found: dict[Key, Series] = {}
    for key, (times, values) in block.items():
        if key[1] not in CLIMATE:
            continue
        inside = np.zeros(times.shape, dtype=bool)
        for begin, end in stays.get(key[0], ()):
            inside |= (times >= begin) & (times < end)
        if inside.all():
            found[key] = (times, values)
        elif inside.any():
            found[key] = (times[inside], values[inside])
    return found


def joined(before: Mapping[Key, Series], after: Mapping[Key, Series]) -> dict[Key, Series]:
    """Return both series of each key one after the other."""
    found = dict(before)
    for key, (times, values) in after.items():
        if key in found:
            held = found[key]
            found[key] = (np.concatenate((held[0], times)), np.concatenate((held[1], values)))
        else:
            found[key] = (times, values)
    return found


def last_before(series: Mapping[Key, Series], at_ms: int) -> dict[Key, Series]:
    """Return of each series the last reading before an instant [ms], where there is one."""
    found = {}
    for key, (times, values) in series.items():
        count = int(np.searchsorted(times, at_ms))
        if count:
            found[key] = (times[count - 1 : count], values[count - 1 : count])
    return found


def since(series: Mapping[Key, Series], at_ms: int) -> dict[Key, Series]:
    """Return of each series the readings at or after an instant [ms]."""
    found = {}
    for key, (times, values) in series.items():
        count = int(np.searchsorted(times, at_ms))
        if count < times.size:
            found[key] = (times[count:], values[count:])
    return found
