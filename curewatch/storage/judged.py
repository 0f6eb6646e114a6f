"""What was made of pieces' outcomes: a cache, whose rows go when the past they rest on changes.

Triggers of the schema delete a row when a reading, a void, a fill or a sensor's place touches its
span, whichever process wrote it. A row is begun before the record is read and completed after, by
its own number, so that what came in between leaves nothing stale behind.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from curewatch.storage.database import Database


class JudgedOutcomes:
    """One row a piece, by its tag."""

    def __init__(self, db: Database) -> None:
        """Read from and write to `db`."""
        self._db = db

    def all(self) -> dict[str, tuple[str, str]]:
        """Return fingerprint and what was said, by tag, of the rows that are complete."""
        found = self._db.rows(
            "SELECT tag, fingerprint, said FROM judged JOIN piece ON number = piece "
            "WHERE said IS NOT NULL"
        )
        return {tag: (fingerprint, said) for tag, fingerprint, said in found}

    def begin(self, tag: str, fingerprint: str, *, start_ms: int, stop_ms: int) -> int:
        """Begin a piece's row, before readings from `start_ms` to `stop_ms` are looked at [ms]."""
        with self._db.transaction():
            return self._db.insert(
                "INSERT OR REPLACE INTO judged (piece, fingerprint, start_ms, stop_ms) "
                "SELECT number, ?, ?, ? FROM piece WHERE tag = ?",
                (fingerprint, start_ms, stop_ms, tag),
            )

    def complete(self, said: dict[int, str]) -> None:
        """Write what was said by the numbers of rows begun; a row that went stays away."""
        with self._db.transaction():
            self._db.many(
                "UPDATE judged SET said = ? WHERE id = ?",
                [(text, number) for number, text in said.items()],
            )
