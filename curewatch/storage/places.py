"""Which sensor hung in which room, from when."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from curewatch.storage.database import Database


class Places:
    """The places of all sensors, so that moving one does not rewrite a room's past."""

    def __init__(self, db: Database) -> None:
        """Read from and write to `db`."""
        self._db = db

    def place(self, sensor: str, room: str, from_ms: int) -> bool:
        """Say that `sensor` hangs in `room` from `from_ms` on [ms]; return whether that is new."""
        with self._db.transaction():
            there = self._db.value(
                "SELECT room FROM place WHERE sensor = ? AND from_ms <= ? "
                "ORDER BY from_ms DESC, id DESC LIMIT 1",
                (sensor, from_ms),
            )
            if there == room:
                return False
            self._db.insert(
                "INSERT INTO place (sensor, room, from_ms) VALUES (?, ?, ?)",
                (sensor, room, from_ms),
            )
        return True

    def history(self) -> dict[str, tuple[tuple[int, str], ...]]:
        """Return (from_ms, room) for each sensor, in order of time."""
        places: dict[str, dict[int, str]] = {}
        for sensor, from_ms, room in self._db.rows(
            "SELECT sensor, from_ms, room FROM place ORDER BY sensor, from_ms, id"
        ):
            places.setdefault(sensor, {})[from_ms] = room  # at one instant the last entry holds
        return {sensor: tuple(rooms.items()) for sensor, rooms in places.items()}
