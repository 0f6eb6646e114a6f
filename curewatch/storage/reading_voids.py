"""What people withdrew of the readings, in the order in which they did."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.shop.reading import Quantity
from curewatch.shop.reading_void import ReadingVoid

if TYPE_CHECKING:
    from curewatch.storage.database import Database


class ReadingVoids:
    """Withdrawals of readings; they are made by `Readings.void`."""

    def __init__(self, db: Database) -> None:
        """Read from `db`."""
        self._db = db

    def after(self, number: int, most: int) -> list[tuple[int, ReadingVoid]]:
        """Return withdrawals after the one of that number, each with its own, in order."""
        found = self._db.rows(
            """
            SELECT reading_void.id, sensor.id, quantity, start_ms, stop_ms, why, at_ms
            FROM reading_void JOIN sensor ON number = sensor
            WHERE reading_void.id > ? ORDER BY reading_void.id LIMIT ?
            """,
            (number, most),
        )
        return [
            (one, ReadingVoid(sensor, None if kind is None else Quantity(kind), *rest))
            for one, sensor, kind, *rest in found
        ]
