"""Where the past was changed, so that a running daemon rebuilds from there."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from curewatch.storage.database import Database


@dataclass(frozen=True, slots=True)
class Touch:
    """The record of one sensor or of one room changed from `from_ms` on [ms]."""

    id: int
    sensor: str | None
    room: str | None
    from_ms: int


class Touched:
    """The feed of changes to the past."""

    def __init__(self, db: Database) -> None:
        """Read from and write to `db`."""
        self._db = db

    def add(self, *, from_ms: int, sensor: str | None = None, room: str | None = None) -> int:
        """Say that the record of `sensor`, or of `room` (one of the two), changed."""
        with self._db.transaction():
            return self._db.insert(
                "INSERT INTO touched (sensor, room, from_ms) VALUES (?, ?, ?)",
                (sensor, room, from_ms),
            )

    def last_id(self) -> int:
        """Return the number of the newest change, 0 before the first."""
        return int(self._db.value("SELECT coalesce(max(id), 0) FROM touched"))

    def since(self, last_id: int) -> tuple[int, tuple[Touch, ...]]:
        """Return the newest number and the changes after `last_id`, oldest first."""
        found = self._db.rows(
            "SELECT id, sensor, room, from_ms FROM touched WHERE id > ? ORDER BY id", (last_id,)
        )
        touches = tuple(Touch(*row) for row in found)
        return (touches[-1].id if touches else last_id, touches)
