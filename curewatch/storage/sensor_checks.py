"""Sensors held against something known, and the jars they were in meanwhile."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.errors import BadInput
from curewatch.shop.calibration import Check, Jar
from curewatch.shop.reading import Quantity
from curewatch.storage.touched import Touched

if TYPE_CHECKING:
    from collections.abc import Iterable

    from curewatch.storage.database import Database

_COLUMNS = (
    "id, sensor, quantity, against, reference, reference_error, read, read_error, temp_c, "
    "start_ms, stop_ms, from_ms, who, note"
)


class SensorChecks:
    """The checks of all sensors, append-only."""

    def __init__(self, db: Database) -> None:
        """Read from and write to `db`."""
        self._db = db

    def add(self, checks: Iterable[Check], entered_ms: int) -> tuple[int, ...]:
        """Keep checks of one moment, all or none, and return their numbers."""
        with self._db.transaction():
            return tuple(self._add(check, entered_ms) for check in checks)

    def _add(self, check: Check, entered_ms: int) -> int:
        number = self._db.insert(
            f"INSERT INTO sensor_check ({_COLUMNS.removeprefix('id, ')}, entered_ms) "  # noqa: S608 - our own names
            "VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (
                *(check.sensor, int(check.quantity), check.against),
                *(check.reference, check.reference_error, check.read, check.read_error),
                *(check.temp_c, check.start_ms, check.stop_ms, check.from_ms),
                *(check.who, check.note, entered_ms),
            ),
        )
        Touched(self._db).add(sensor=check.sensor, from_ms=check.from_ms)
        return number

    def void(self, number: int, why: str, at_ms: int) -> Check:
        """Void a check and return it; its correction is gone as if it had never been.

        Raises
        ------
        BadInput
            When there is no such check, it is void already, or no reason is given.
        """
        if not why.strip():
            raise BadInput("voiding a check needs a reason: say what was wrong with it")
        with self._db.transaction():
            found = [check for check in self.all(voided=True) if check.id == number]
            if not found:
                raise BadInput(
                    f"there is no check of a sensor with number {number}: 'curewatch sensor "
                    "checks' shows them"
                )
            before = self._db.row(
                "SELECT why FROM sensor_check_void WHERE sensor_check = ?", (number,)
            )
            if before is not None:
                raise BadInput(f"check {number} is void already: {before[0]}")
            self._db.insert(
                "INSERT INTO sensor_check_void (sensor_check, why, at_ms) VALUES (?, ?, ?)",
                (number, why, at_ms),
            )
            Touched(self._db).add(sensor=found[0].sensor, from_ms=found[0].from_ms)
        return found[0]

    def all(self, *, voided: bool = False) -> tuple[Check, ...]:
        """Return the checks that count (with `voided` the others too), in order of entry."""
        counts = (
            ""
            if voided
            else "WHERE NOT EXISTS "
            "(SELECT 1 FROM sensor_check_void WHERE sensor_check = sensor_check.id) "
        )
        rows = self._db.rows(f"SELECT {_COLUMNS} FROM sensor_check {counts}ORDER BY id")  # noqa: S608 - our own names
        return tuple(
            Check(
                sensor=row[1],
                quantity=Quantity(row[2]),
                against=row[3],
                reference=row[4],
                reference_error=row[5],
                read=row[6],
                read_error=row[7],
                temp_c=row[8],
                start_ms=row[9],
                stop_ms=row[10],
                from_ms=row[11],
                who=row[12],
                note=row[13],
                id=row[0],
            )
            for row in rows
        )

    def voids(self) -> dict[int, str]:
        """Return why checks are void, by their numbers."""
        rows = self._db.rows("SELECT sensor_check, why FROM sensor_check_void")
        return {int(number): str(why) for number, why in rows}

    def put_in(self, jar: Jar, entered_ms: int) -> int:
        """Say that a sensor is in a jar from an instant on; one it was in before ends there."""
        with self._db.transaction():
            for before in self.jars():
                if before.sensor == jar.sensor and before.stop_ms is None:
                    self._end(before, max(jar.start_ms, before.start_ms), entered_ms)
            number = self._db.insert(
                "INSERT INTO sensor_jar (sensor, salt, start_ms, who, entered_ms) "
                "VALUES (?, ?, ?, ?, ?)",
                (jar.sensor, jar.salt, jar.start_ms, jar.who, entered_ms),
            )
            Touched(self._db).add(sensor=jar.sensor, from_ms=jar.start_ms)
        return number

    def take_out(self, sensor: str, stop_ms: int, entered_ms: int) -> Jar:
        """Say that a sensor hangs in its room again and return the jar it was in.

        Raises
        ------
        BadInput
            When it is in no jar.
        """
        with self._db.transaction():
            for jar in self.jars():
                if jar.sensor == sensor and jar.stop_ms is None:
                    self._end(jar, max(stop_ms, jar.start_ms), entered_ms)
                    return jar
            raise BadInput(f"sensor {sensor} is in no jar: there is nothing to take it out of")

    def _end(self, jar: Jar, stop_ms: int, entered_ms: int) -> None:
        self._db.insert(
            "INSERT INTO sensor_jar_end (sensor_jar, stop_ms, entered_ms) VALUES (?, ?, ?)",
            (jar.id, stop_ms, entered_ms),
        )
        Touched(self._db).add(sensor=jar.sensor, from_ms=jar.start_ms)

    def jars(self) -> tuple[Jar, ...]:
        """Return when sensors were in jars, in order of entry."""
        rows = self._db.rows(
            "SELECT sensor, salt, start_ms, (SELECT stop_ms FROM sensor_jar_end "
            "WHERE sensor_jar = sensor_jar.id ORDER BY id DESC LIMIT 1), who, id "
            "FROM sensor_jar ORDER BY id"
        )
        return tuple(Jar(*row) for row in rows)
