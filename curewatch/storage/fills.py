"""Gaps that a person filled with an assumed climate."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.errors import BadInput
from curewatch.shop.piece import Fill
from curewatch.storage.touched import Touched
from curewatch.storage.voids import void_entry

if TYPE_CHECKING:
    from curewatch.storage.database import Database


class Fills:
    """The filled gaps of all rooms."""

    def __init__(self, db: Database) -> None:
        """Read from and write to `db`."""
        self._db = db

    def add(self, fill: Fill, entered_ms: int) -> int:
        """Enter a fill, tell a running daemon, and return its number.

        Raises
        ------
        BadInput
            When the range is empty or no reason is given.
        """
        if fill.stop_ms <= fill.start_ms:
            raise BadInput(
                f"the gap to fill in {fill.room} is empty: give its start before its end"
            )
        if not fill.why.strip():
            raise BadInput(f"filling a gap in {fill.room} needs a reason: what is it assumed from?")
        with self._db.transaction():
            number = self._db.insert(
                "INSERT INTO fill (room, start_ms, stop_ms, temp_c, rh_frac, why, entered_ms) "
                "VALUES (?, ?, ?, ?, ?, ?, ?)",
                (
                    fill.room,
                    fill.start_ms,
                    fill.stop_ms,
                    fill.temp_c,
                    fill.rh_frac,
                    fill.why,
                    entered_ms,
                ),
            )
            Touched(self._db).add(room=fill.room, from_ms=fill.start_ms)
        return number

    def for_room(self, room: str) -> tuple[Fill, ...]:
        """Return the fills of `room` that count, in order of time, then of entry."""
        found = self._db.rows(
            """
            SELECT room, start_ms, stop_ms, temp_c, rh_frac, why, id FROM fill
            WHERE room = ?
                AND NOT EXISTS (SELECT 1 FROM void WHERE what = 'fill' AND target = fill.id)
            ORDER BY start_ms, id
            """,
            (room,),
        )
        return tuple(Fill(*row) for row in found)

    def void(self, entry: int, why: str, at_ms: int) -> None:
        """Void the fill numbered `entry`: it stays, and no longer counts."""
        void_entry(self._db, "fill", entry, why=why, at_ms=at_ms)
