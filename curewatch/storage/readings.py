"""Readings: durable ingest, range scans, the newest of each sensor, voids and flags."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from curewatch.errors import BadInput
from curewatch.shop.reading import Flag, Origin, Quantity, Reading
from curewatch.storage.mirror_marks import MirrorMarks
from curewatch.storage.scan import scan_block
from curewatch.storage.sensors import SensorNumbers
from curewatch.storage.thinning import Thinning, thin
from curewatch.storage.touched import Touched

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterable, Iterator

    from curewatch.storage.database import Database, Row
    from curewatch.storage.scan import Series

_PAGE_ROWS = 10_000
_MAX_MS = 8_000_000_000_000  # schema: the year 2223
_MAX_VALUE = 1e6  # schema
_UNTIMED = int(Flag.TIME_UNKNOWN)

_INSERT = """
INSERT INTO reading (at_ms, sensor, quantity, value, origin, flags) VALUES (?, ?, ?, ?, ?, ?)
ON CONFLICT DO NOTHING RETURNING ?7
"""


@dataclass(frozen=True, slots=True)
class Added:
    """What became of a batch of readings.

    Attributes
    ----------
    added: kept now.
    duplicates: were kept before with the same value, or a person voided just that value.
    conflicts: another value is kept for the same sensor, quantity and instant; it stays.
    """

    added: tuple[Reading, ...] = ()
    duplicates: tuple[Reading, ...] = ()
    conflicts: tuple[Reading, ...] = ()


class Readings:
    """The readings of all sensors, keyed by time, sensor and quantity."""

    def __init__(self, db: Database) -> None:
        """Read from and write to `db`."""
        self._db = db
        self._sensors = SensorNumbers(db)
        self._touched = Touched(db)
        self._mirror_marks = MirrorMarks(db)

    # ---- in

    def add(self, readings: Iterable[Reading], *, announce: bool = False) -> Added:
        """Keep `readings` in one transaction; in any order, repeated or not.

        Of two values under one key the first stays. A value that a person voided does not come
        back by being delivered again, only by being typed in. With `announce` a running daemon
        is told to rebuild from the earliest one that was kept.

        Raises
        ------
        BadInput
            When a value is not finite or absurd, or a time lies outside 1970 to 2223; nothing
            of the batch is kept then.
        """
        batch = list(readings)
        if not batch:
            return Added()
        _check(batch)
        with self._db.transaction():
            number = {s: self._sensors.give(s) for s in dict.fromkeys(r.sensor for r in batch)}
            withdrawn = self._withdrawn(batch, number)
            rows = [
                (r.at_ms, number[r.sensor], r.quantity, r.value, r.origin, r.flags, place)
                for place, r in enumerate(batch)
            ]
            offered = [row for row in rows if row[6] not in withdrawn] if withdrawn else rows
            kept = [int(place) for (place,) in self._db.many(_INSERT, offered)]
            if len(kept) == len(batch):
                added, duplicates, conflicts = batch, list[Reading](), list[Reading]()
            else:
                added = [batch[place] for place in kept]
                duplicates, conflicts = self._sort_out(batch, rows, withdrawn.union(kept))
                duplicates.extend(batch[place] for place in sorted(withdrawn))
            self._hear(added, number)
            if added:
                self._mirror_marks.late(min(r.at_ms for r in added))
            if announce:
                self._announce(added)
        return Added(tuple(added), tuple(duplicates), tuple(conflicts))

    def _withdrawn(self, batch: list[Reading], number: dict[str, int]) -> set[int]:
        """Return the places in `batch` of values that a person has voided before."""
        if not self._db.value("SELECT EXISTS (SELECT 1 FROM reading_voided)"):
            return set()
        times = [r.at_ms for r in batch]
        voided = set(
            self._db.rows(
                "SELECT at_ms, sensor, quantity, value FROM reading_voided "
                "WHERE at_ms BETWEEN ? AND ?",
                (min(times), max(times)),
            )
        )
        return {
            place
            for place, r in enumerate(batch)
            if r.origin != Origin.TYPED
            and (r.at_ms, number[r.sensor], int(r.quantity), r.value) in voided
        }

    def _sort_out(
        self, batch: list[Reading], rows: list[Row], done: set[int]
    ) -> tuple[list[Reading], list[Reading]]:
        """Return the duplicates and the conflicts among the readings not in `done`."""
        duplicates: list[Reading] = []
        conflicts: list[Reading] = []
        for place, reading in enumerate(batch):
            if place in done:
                continue
            kept = self._db.value(
                "SELECT value FROM reading WHERE at_ms = ? AND sensor = ? AND quantity = ?",
                rows[place][:3],
            )
            (duplicates if kept == reading.value else conflicts).append(reading)
        return duplicates, conflicts

    def _hear(self, added: list[Reading], number: dict[str, int]) -> None:
        """Move the newest reading of each sensor on, never back."""
        heard: dict[tuple[str, int], int] = {}
        newest: dict[tuple[str, int], Reading] = {}
        for reading in added:
            key = (reading.sensor, reading.quantity)
            heard[key] = heard.get(key, 0) + 1
            if not reading.flags & _UNTIMED and (
                key not in newest or reading.at_ms > newest[key].at_ms
            ):
                newest[key] = reading
        self._db.many(
            """
            INSERT INTO last_heard (sensor, quantity, heard) VALUES (?, ?, ?)
            ON CONFLICT DO UPDATE SET heard = heard + excluded.heard
            """,
            [(number[sensor], quantity, count) for (sensor, quantity), count in heard.items()],
        )
        self._db.many(
            """
            UPDATE last_heard SET at_ms = ?1, value = ?2, origin = ?3, flags = ?4
            WHERE sensor = ?5 AND quantity = ?6 AND coalesce(at_ms, -1) < ?1
            """,
            [
                (r.at_ms, r.value, r.origin, r.flags, number[r.sensor], r.quantity)
                for r in newest.values()
            ],
        )

    def _announce(self, added: list[Reading]) -> None:
        """Tell a running daemon from where on each sensor's record changed."""
        earliest: dict[str, int] = {}
        for reading in added:
            earliest[reading.sensor] = min(
                reading.at_ms, earliest.get(reading.sensor, reading.at_ms)
            )
        for sensor, from_ms in sorted(earliest.items()):
            self._touched.add(sensor=sensor, from_ms=from_ms)

    # ---- out

    def series(self, sensor: str, quantity: Quantity, start_ms: int, stop_ms: int) -> Series:
        """Return times [ms] and values from `start_ms` until before `stop_ms`, in order of time.

        Readings whose time is unknown and voided ones are left out.
        """
        empty = (np.empty(0, np.int64), np.empty(0, np.float64))
        return self.block(start_ms, stop_ms, sensors=(sensor,)).get((sensor, quantity), empty)

    def block(
        self, start_ms: int, stop_ms: int, *, sensors: Collection[str] | None = None
    ) -> dict[tuple[str, Quantity], Series]:
        """Return every series from `start_ms` until before `stop_ms`, in one scan of the range.

        Readings whose time is unknown and voided ones are left out; a series without readings
        is not in the answer.

        Parameters
        ----------
        start_ms, stop_ms
            The range [ms].
        sensors
            Only these; all when not given.
        """
        names = self._sensors.names()
        wanted = [n for n, name in names.items() if sensors is None or name in sensors]
        found = scan_block(self._db, start_ms, stop_ms, wanted if sensors is not None else None)
        return {
            (names[number], Quantity(quantity)): series
            for (number, quantity), series in found.items()
        }

    def latest(self) -> dict[tuple[str, Quantity], Reading]:
        """Return the newest reading of each sensor and quantity whose time is known."""
        found = self._db.rows(
            """
            SELECT id, quantity, at_ms, value, origin, flags
            FROM last_heard JOIN sensor ON number = sensor WHERE at_ms IS NOT NULL
            """
        )
        return {(r.sensor, r.quantity): r for r in map(_reading, found)}

    def newest_ms(self) -> int | None:
        """Return the time of the newest reading whose time is known [ms]."""
        newest: int | None = self._db.value("SELECT max(at_ms) FROM last_heard")
        return newest

    def oldest_ms(self) -> int | None:
        """Return the time of the oldest reading whose time is known [ms]."""
        oldest: int | None = self._db.value(
            "SELECT at_ms FROM reading WHERE NOT flags & ? ORDER BY at_ms LIMIT 1", (_UNTIMED,)
        )
        return oldest

    def rows(self, start_ms: int, stop_ms: int) -> Iterator[Reading]:
        """Yield every kept reading of the range in order of time, those of unknown time too.

        Read page by page, so a slow taker holds up nobody; what is added meanwhile behind the
        page is not seen.
        """
        after = (start_ms, -1, -1)
        while True:
            page = self._db.rows(
                """
                SELECT id, quantity, at_ms, value, origin, flags, sensor
                FROM reading JOIN sensor ON number = sensor
                WHERE (at_ms, sensor, quantity) > (?, ?, ?) AND at_ms < ?
                ORDER BY at_ms, sensor, quantity LIMIT ?
                """,
                (*after, stop_ms, _PAGE_ROWS),
            )
            yield from (_reading(row[:6]) for row in page)
            if len(page) < _PAGE_ROWS:
                return
            after = (page[-1][2], page[-1][6], page[-1][1])

    def counts(self) -> dict[str, int]:
        """Return how many readings of each sensor were ever taken in.

        Those voided or thinned since are counted; what was refused is in `Rejections`.
        """
        return dict(
            self._db.rows(
                """
                SELECT id, sum(heard) FROM last_heard JOIN sensor ON number = sensor
                GROUP BY id ORDER BY id
                """
            )
        )

    # ---- corrections

    def void(
        self,
        sensor: str,
        start_ms: int,
        stop_ms: int,
        why: str,
        at_ms: int,
        *,
        quantity: Quantity | None = None,
    ) -> int:
        """Void the readings of `sensor` in the range and return how many there were.

        They move aside with the reason and are never deleted; a corrected value may then be
        added under the same key.

        Raises
        ------
        BadInput
            When the sensor was never heard, the range is empty or no reason is given.
        """
        number = self._sensors.find(sensor)
        if number is None:
            raise _unheard(sensor)
        if not why.strip():
            raise BadInput("voiding readings needs a reason: say why they cannot be true")
        if stop_ms <= start_ms:
            raise BadInput("the range to void is empty: its end must lie after its start")
        scope = (number, quantity, start_ms, stop_ms)
        with self._db.transaction():
            void = self._db.insert(
                "INSERT INTO reading_void (sensor, quantity, start_ms, stop_ms, why, at_ms) "
                "VALUES (?, ?, ?, ?, ?, ?)",
                (*scope, why, at_ms),
            )
            moved = self._db.changed(
                f"INSERT INTO reading_voided {_MOVED} WHERE {_SCOPE}",
                (*scope, void),
            )
            self._db.execute(f"DELETE FROM reading WHERE {_SCOPE}", scope)  # noqa: S608 - same
            self._hear_again(number)
            if moved:
                self._touched.add(sensor=sensor, from_ms=start_ms)
        return moved

    def flag(
        self,
        sensor: str,
        start_ms: int,
        stop_ms: int,
        flag: Flag,
        *,
        quantity: Quantity | None = None,
    ) -> int:
        """Set `flag` on the readings of the range and return how many did not bear it yet."""
        number = self._sensors.find(sensor)
        if number is None:
            raise _unheard(sensor)
        with self._db.transaction():
            marked = self._db.changed(
                f"UPDATE reading SET flags = flags | ?5 WHERE {_SCOPE} AND NOT flags & ?5",  # noqa: S608 - a constant of this module
                (number, quantity, start_ms, stop_ms, flag),
            )
            if marked:
                self._hear_again(number)
        return marked

    def thin(
        self,
        before_ms: int,
        longest_gap_ms_of: Callable[[str], float],
        *,
        at_ms: int,
        from_ms: int | None = None,
    ) -> tuple[Thinning, ...]:
        """Thin old readings to the one-minute grid; see `curewatch.storage.thinning`."""
        return thin(self._db, before_ms, longest_gap_ms_of, at_ms=at_ms, from_ms=from_ms)

    def _hear_again(self, number: int) -> None:
        """Look up the newest reading of a sensor afresh, after its past was changed."""
        self._db.execute(
            f"""
            UPDATE last_heard SET (at_ms, value, origin, flags) = (
                SELECT at_ms, value, origin, flags FROM reading
                WHERE reading.sensor = last_heard.sensor
                    AND reading.quantity = last_heard.quantity AND NOT flags & {_UNTIMED}
                ORDER BY at_ms DESC LIMIT 1
            ) WHERE sensor = ?
            """,  # noqa: S608 - a whole number of our own
            (number,),
        )


_MOVED = "SELECT at_ms, sensor, quantity, ?5, value, origin, flags FROM reading"
_SCOPE = "sensor = ?1 AND (?2 IS NULL OR quantity = ?2) AND at_ms >= ?3 AND at_ms < ?4"


def _check(batch: list[Reading]) -> None:
    """Refuse what no sensor can have said, before the schema does."""
    for reading in batch:
        if not -_MAX_VALUE <= reading.value <= _MAX_VALUE:  # false for NaN too
            raise BadInput(
                f"sensor {reading.sensor}: {reading.value} cannot be kept as "
                f"{reading.quantity.word}: give a finite number"
            )
        if not 0 <= reading.at_ms <= _MAX_MS:
            raise BadInput(
                f"sensor {reading.sensor}: the time {reading.at_ms} ms lies outside 1970 to 2223: "
                "check whether it was meant as seconds or milliseconds"
            )


def _unheard(sensor: str) -> BadInput:
    """Say that there is nothing of `sensor`."""
    return BadInput(
        f"no reading of a sensor '{sensor}' was ever kept: 'curewatch sensor list' shows them"
    )


def _reading(row: Row) -> Reading:
    """Return the reading of a row (id, quantity, at_ms, value, origin, flags)."""
    sensor, quantity, at_ms, value, origin, flags = row
    return Reading(sensor, Quantity(quantity), at_ms, value, Origin(origin), flags)
