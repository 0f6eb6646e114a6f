"""Who is known to the page, and the digest of the shop's passphrase."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from curewatch.storage.database import Database

PASSPHRASE = "page.passphrase"  # noqa: S105 - the name of a row, not a secret
MOST_SESSIONS = 200  # the oldest fall out: a shop has a handful of telephones


class PageSessions:
    """Digests of the cookies that were handed out."""

    def __init__(self, db: Database) -> None:
        """Read from and write to `db`."""
        self._db = db

    def open(self, digest: bytes, *, who: str, at_ms: int) -> None:
        """Remember a cookie's digest."""
        with self._db.transaction():
            self._db.execute(
                "INSERT INTO page_session (digest, who, opened_ms) VALUES (?, ?, ?)",
                (digest, who, at_ms),
            )
            self._db.execute(
                "DELETE FROM page_session WHERE digest IN (SELECT digest FROM page_session "
                "ORDER BY opened_ms DESC LIMIT -1 OFFSET ?)",
                (MOST_SESSIONS,),
            )

    def who(self, digest: bytes) -> str | None:
        """Return the name a cookie was opened under; None where it is not known."""
        found: str | None = self._db.value(
            "SELECT who FROM page_session WHERE digest = ?", (digest,)
        )
        return found

    def close(self, digest: bytes) -> None:
        """Forget one cookie."""
        with self._db.transaction():
            self._db.execute("DELETE FROM page_session WHERE digest = ?", (digest,))

    def close_all(self) -> int:
        """Forget every cookie, as when the passphrase changes; return how many there were."""
        with self._db.transaction():
            known = int(self._db.value("SELECT count(*) FROM page_session"))
            self._db.execute("DELETE FROM page_session")
        return known
