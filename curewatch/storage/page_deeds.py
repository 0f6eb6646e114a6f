"""What was entered at the page lately, by the key of its form: a second tap enters nothing."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from curewatch.storage.database import Database

KEPT_MS = 2 * 86_400_000
_NAME = "page.deed."


class PageDeeds:
    """The answers to forms, kept for two days beside the small values."""

    def __init__(self, db: Database) -> None:
        """Read from and write to `db`."""
        self._db = db

    def keep(self, key: str, told: str, at_ms: int) -> None:
        """Keep what was answered to the form with `key`; what is older than two days goes."""
        with self._db.transaction():
            self._db.execute(
                "DELETE FROM meta WHERE name GLOB ? AND CAST(value AS INTEGER) < ?",
                (f"{_NAME}*", at_ms - KEPT_MS),
            )
            self._db.execute(
                "INSERT INTO meta (name, value) VALUES (?1, ?2) "
                "ON CONFLICT DO UPDATE SET value = excluded.value",
                (_NAME + key, f"{at_ms} {told}"),
            )

    def told(self, key: str) -> tuple[int, str] | None:
        """Return when the form with `key` was answered [ms] and what with; None if never."""
        value: str | None = self._db.value("SELECT value FROM meta WHERE name = ?", (_NAME + key,))
        if value is None:
            return None
        at_ms, _, told = value.partition(" ")
        return int(at_ms), told
