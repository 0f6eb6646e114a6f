"""How rooms and pieces stood: a bounded list that a mirror is sent from."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from curewatch.shop.plain_state import State

if TYPE_CHECKING:
    from collections.abc import Iterable

    from curewatch.storage.database import Database

DAY_MS = 86_400_000
KEPT_MS = 14 * DAY_MS  # a mirror that is away for longer loses the older ones
MOST_ROWS = 200_000  # whatever their age; a piece takes some 900 bytes: 180 MB


class States:
    """States in the order in which they were kept."""

    def __init__(self, db: Database) -> None:
        """Read from and write to `db`."""
        self._db = db

    def add(self, states: Iterable[State]) -> None:
        """Keep states in one transaction."""
        rows = [
            (one.at_ms, one.kind, one.name, json.dumps(one.facts, separators=(",", ":")))
            for one in states
        ]
        if rows:
            with self._db.transaction():
                self._db.many(
                    "INSERT INTO state (at_ms, kind, name, facts) VALUES (?, ?, ?, ?)", rows
                )

    def after(self, number: int, most: int) -> list[tuple[int, State]]:
        """Return states kept after the one of that number, each with its own, in order."""
        found = self._db.rows(
            "SELECT id, at_ms, kind, name, facts FROM state WHERE id > ? ORDER BY id LIMIT ?",
            (number, most),
        )
        return [
            (row[0], State(at_ms=row[1], kind=row[2], name=row[3], facts=json.loads(row[4])))
            for row in found
        ]

    def prune(self, now_ms: int, *, most: int = MOST_ROWS) -> int:
        """Take away what is too old, and the oldest of too many; return how many went."""
        with self._db.transaction():
            newest = int(self._db.value("SELECT coalesce(max(id), 0) FROM state"))
            return self._db.changed(
                "DELETE FROM state WHERE at_ms < ? OR id <= ?", (now_ms - KEPT_MS, newest - most)
            )
