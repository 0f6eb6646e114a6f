"""Finish profiles kept by revision, so that an old piece keeps the one it was sprayed under."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from curewatch.errors import BadInput

if TYPE_CHECKING:
    from curewatch.storage.database import Database


@dataclass(frozen=True, slots=True)
class FinishText:
    """The text of one revision of a finish profile, and when it was first met [ms]."""

    name: str
    revision: int
    text: str
    at_ms: int


class FinishRevisions:
    """Every revision of every finish profile that was ever in use."""

    def __init__(self, db: Database) -> None:
        """Read from and write to `db`."""
        self._db = db

    def keep(self, name: str, text: str, at_ms: int) -> int:
        """Return the revision of `text`, a new one when it differs from the latest."""
        latest = self.latest(name)
        if latest is not None and latest[1] == text:
            return latest[0]  # no write lock for what every start asks
        with self._db.transaction():
            latest = self.latest(name)
            if latest is not None and latest[1] == text:
                return latest[0]
            revision = 1 if latest is None else latest[0] + 1
            self._db.insert(
                "INSERT INTO finish_revision (name, revision, text, at_ms) VALUES (?, ?, ?, ?)",
                (name, revision, text, at_ms),
            )
        return revision

    def text(self, name: str, revision: int) -> str:
        """Return the text of a revision.

        Raises
        ------
        BadInput
            When that revision was never kept.
        """
        text: str | None = self._db.value(
            "SELECT text FROM finish_revision WHERE name = ? AND revision = ?", (name, revision)
        )
        if text is None:
            kept = [entry.revision for entry in self.all() if entry.name == name]
            known = f"kept are {', '.join(map(str, kept))}" if kept else "none was ever kept"
            raise BadInput(
                f"there is no revision {revision} of the finish '{name}': {known}; "
                "'curewatch finish list' shows the finishes"
            )
        return text

    def latest(self, name: str) -> tuple[int, str] | None:
        """Return the latest revision's number and text, None when there is none."""
        found = self._db.row(
            "SELECT revision, text FROM finish_revision WHERE name = ? "
            "ORDER BY revision DESC LIMIT 1",
            (name,),
        )
        return None if found is None else (found[0], found[1])

    def all(self) -> tuple[FinishText, ...]:
        """Return every revision of every finish, in order of name and revision."""
        found = self._db.rows(
            "SELECT name, revision, text, at_ms FROM finish_revision ORDER BY name, revision"
        )
        return tuple(FinishText(*row) for row in found)
