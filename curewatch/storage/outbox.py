"""The outbox: a notice is a row here first, and stays due until its delivery is known."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from curewatch.storage.database import Database


@dataclass(frozen=True, slots=True)
class Notice:
    """One message to people.

    Attributes
    ----------
    id: storage's number.
    alert_id, event: the alert and the step of its life it tells of; together they are unique.
    title, body: what people read.
    at_ms: when it was written [ms].
    tries: how often delivery failed.
    next_try_ms: when to try (again) [ms]; None once sent, or given up.
    sent_ms: when it was delivered [ms].
    error: what the last failed try said.
    """

    id: int
    alert_id: int
    event: str
    title: str
    body: str
    at_ms: int
    tries: int = 0
    next_try_ms: int | None = None
    sent_ms: int | None = None
    error: str = ""


@dataclass(frozen=True, slots=True)
class Pending:
    """What still lies in the outbox.

    Attributes
    ----------
    waiting: to be sent, not tried yet.
    failing: tried in vain, will be tried again.
    given_up: will not be tried again.
    oldest_ms: when the oldest of the waiting and failing was written [ms].
    """

    waiting: int
    failing: int
    given_up: int
    oldest_ms: int | None


class Notices:
    """The outbox of notices."""

    def __init__(self, db: Database) -> None:
        """Read from and write to `db`."""
        self._db = db

    def enqueue(self, alert_id: int, event: str, title: str, body: str, at_ms: int) -> int | None:
        """Put a notice in the outbox; None when this step of the alert was told before."""
        with self._db.transaction():
            kept = self._db.row(
                "INSERT INTO notice (alert, event, title, body, at_ms, next_try_ms) "
                "VALUES (?1, ?2, ?3, ?4, ?5, ?5) ON CONFLICT DO NOTHING RETURNING id",
                (alert_id, event, title, body, at_ms),
            )
        return None if kept is None else int(kept[0])

    def due(self, now_ms: int, limit: int = 100) -> tuple[Notice, ...]:
        """Return the notices whose time to be tried has come, oldest first."""
        found = self._db.rows(
            f"{_SELECT} WHERE next_try_ms <= ? ORDER BY id LIMIT ?", (now_ms, limit)
        )
        return tuple(Notice(*row) for row in found)

    def sent(self, notice_id: int, at_ms: int) -> None:
        """Write that the notice was delivered at `at_ms` [ms]."""
        with self._db.transaction():
            self._db.execute(
                "UPDATE notice SET sent_ms = ?, next_try_ms = NULL, error = '' WHERE id = ?",
                (at_ms, notice_id),
            )

    def failed(self, notice_id: int, error: str, next_try_ms: int | None) -> None:
        """Write that a try failed and when the next is [ms]; None gives it up for good."""
        with self._db.transaction():
            self._db.execute(
                "UPDATE notice SET tries = tries + 1, error = ?, next_try_ms = ? "
                "WHERE id = ? AND sent_ms IS NULL",
                (error, next_try_ms, notice_id),
            )

    def pending(self) -> Pending:
        """Return how much still lies here."""
        found = self._db.rows(
            """
            SELECT
                count(*) FILTER (WHERE next_try_ms IS NOT NULL AND tries = 0),
                count(*) FILTER (WHERE next_try_ms IS NOT NULL AND tries > 0),
                count(*) FILTER (WHERE next_try_ms IS NULL),
                min(at_ms) FILTER (WHERE next_try_ms IS NOT NULL)
            FROM notice WHERE sent_ms IS NULL
            """
        )
        return Pending(*found[0])

    def recent(self, limit: int = 50) -> tuple[Notice, ...]:
        """Return the newest notices, newest first."""
        found = self._db.rows(f"{_SELECT} ORDER BY id DESC LIMIT ?", (limit,))
        return tuple(Notice(*row) for row in found)


_SELECT = (
    "SELECT id, alert, event, title, body, at_ms, tries, next_try_ms, sent_ms, error FROM notice"
)
