"""Small values that outlive a process: cursors, marks, the site's identity."""

from __future__ import annotations

from typing import TYPE_CHECKING, cast

if TYPE_CHECKING:
    from curewatch.storage.database import Database


class Meta:
    """Whole numbers and words by name."""

    def __init__(self, db: Database) -> None:
        """Read from and write to `db`."""
        self._db = db

    def get(self, name: str) -> int | str | None:
        """Return the value kept under `name`, None when there is none."""
        return cast(
            "int | str | None", self._db.value("SELECT value FROM meta WHERE name = ?", (name,))
        )

    def set(self, name: str, value: int | str) -> None:
        """Keep `value` under `name`."""
        with self._db.transaction():
            self._db.execute(
                "INSERT INTO meta (name, value) VALUES (?1, ?2) "
                "ON CONFLICT DO UPDATE SET value = excluded.value",
                (name, value),
            )
