"""Rooms' climates by whole hours, kept so that a start need not read months of readings again."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from curewatch.shop.climate import Floats
    from curewatch.storage.database import Database

_ROWS = 3
_NUMBER = np.dtype("<f8")  # a file may move to another machine


@dataclass(frozen=True, slots=True, eq=False)
class KeptHours:
    """One room's hours as they were worked out.

    Attributes
    ----------
    first_hour: whole hours since the epoch.
    rows: as `shop.hourly.reduced` gives them, shape (3, hours), NaN where unknown.
    touched: newest change to the past that they have taken in.
    basis: what else they hang on; other hours are worked out where it is another.
    """

    first_hour: int
    rows: Floats
    touched: int
    basis: str

    @property
    def stop_hour(self) -> int:
        """The hour before which they end."""
        return self.first_hour + self.rows.shape[1]


class RoomHours:
    """The kept hours of all rooms; a cache, so deleting any of it loses nothing."""

    def __init__(self, db: Database) -> None:
        """Read from and write to `db`."""
        self._db = db

    def put(self, room: str, hours: KeptHours) -> None:
        """Keep a room's hours in place of those kept before."""
        with self._db.transaction():
            self._db.execute(
                "INSERT OR REPLACE INTO room_hours (room, first_hour, touched, basis, hours) "
                "VALUES (?, ?, ?, ?, ?)",
                (
                    room,
                    hours.first_hour,
                    hours.touched,
                    hours.basis,
                    np.ascontiguousarray(hours.rows, dtype=_NUMBER).tobytes(),
                ),
            )

    def get(self, room: str) -> KeptHours | None:
        """Return a room's kept hours, None where there are none."""
        found = self._db.rows(
            "SELECT first_hour, hours, touched, basis FROM room_hours WHERE room = ?", (room,)
        )
        for first_hour, hours, touched, basis in found:
            rows = np.frombuffer(hours, dtype=_NUMBER).reshape(_ROWS, -1).astype(np.float64)
            return KeptHours(first_hour, rows, touched, basis)
        return None

    def forget(self, room: str) -> None:
        """Forget a room's hours: its past was changed."""
        with self._db.transaction():
            self._db.execute("DELETE FROM room_hours WHERE room = ?", (room,))
