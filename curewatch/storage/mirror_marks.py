"""How far readings were mirrored elsewhere, in a way that late ones are not forgotten.

Readings are keyed by time and come in any order, so a mark alone is not enough: what is added
behind it would never be sent. Before a span is read it is claimed; whatever is added behind the
claim from then on is noted in the transaction that adds it, and the mark goes back to the earliest
of it. Sent twice does no harm, for a point's time and tags are its key.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from curewatch.shop.reading import Flag
from curewatch.storage.meta import Meta

if TYPE_CHECKING:
    from curewatch.storage.database import Database

SENT, CLAIMED, LATE = "mirror_sent_ms", "mirror_claimed_ms", "mirror_late_ms"
ALERT, ERROR, PARKED = "mirror_alert", "mirror_error", "mirror_parked"
NO_LATE = 1 << 62  # after all times
MOST_COUNTED = 1_000_000


@dataclass(frozen=True, slots=True)
class Claim:
    """What is to be sent: readings in [from_ms, stop_ms) [ms], steps of alerts after a number."""

    from_ms: int
    stop_ms: int
    after_alert: int


@dataclass(frozen=True, slots=True)
class Behind:
    """What is not mirrored yet.

    Attributes
    ----------
    rows: readings and steps of alerts; of very many only so many are counted.
    oldest_ms: the time of the oldest of them [ms]; None where there is none.
    last_error: why the last try failed; None where it did not.
    parked: rows that the other side refuses for good.
    """

    rows: int
    oldest_ms: int | None
    last_error: str | None
    parked: int


class MirrorMarks:
    """The marks of the one mirror there may be."""

    def __init__(self, db: Database) -> None:
        """Read from and write to `db`."""
        self._db = db
        self._meta = Meta(db)

    def late(self, from_ms: int) -> None:
        """Note that readings from `from_ms` [ms] on must be sent (again), if ever any were."""
        claimed = self._meta.get(CLAIMED)
        if isinstance(claimed, int) and from_ms < claimed and from_ms < self._number(LATE, NO_LATE):
            self._meta.set(LATE, from_ms)

    def due(self) -> bool:
        """Whether anything is to be sent; looking writes nothing."""
        return bool(
            self._db.value(
                "SELECT EXISTS (SELECT 1 FROM reading WHERE at_ms >= ?) "
                "OR EXISTS (SELECT 1 FROM alert_event WHERE id > ?)",
                (self._from_ms(), self._number(ALERT, 0)),
            )
        )

    def claim(self) -> Claim:
        """Return what is due, and note from now on what is added behind its end."""
        with self._db.transaction():
            stop_ms = 1 + int(self._db.value("SELECT coalesce(max(at_ms), -1) FROM reading"))
            from_ms = self._from_ms()
            self._meta.set(SENT, from_ms)
            self._meta.set(LATE, NO_LATE)
            self._meta.set(CLAIMED, max(stop_ms, from_ms))
        return Claim(from_ms, stop_ms, self._number(ALERT, 0))

    def sent(self, until_ms: int, *, alert: int, error: str | None, parked: int = 0) -> None:
        """Write down how far a claim came: all before `until_ms` [ms], and steps up to `alert`."""
        with self._db.transaction():
            self._meta.set(SENT, min(until_ms, self._number(LATE, NO_LATE)))
            self._meta.set(LATE, NO_LATE)
            self._meta.set(ALERT, alert)
            self._meta.set(ERROR, error or "")
            if parked:
                self._meta.set(PARKED, self._number(PARKED, 0) + parked)

    def behind(self, *, most: int = MOST_COUNTED) -> Behind:
        """Return what is not mirrored yet; no more than `most` readings are counted."""
        from_ms = self._from_ms()
        times = (
            f"SELECT at_ms FROM reading WHERE at_ms >= ? AND NOT flags & {int(Flag.TIME_UNKNOWN)}"  # noqa: S608 - a number of our own
        )
        steps = "SELECT at_ms FROM alert_event WHERE id > ?"
        after = self._number(ALERT, 0)
        rows = int(
            self._db.value(f"SELECT count(*) FROM ({times} LIMIT {most})", (from_ms,))  # noqa: S608 - constants
        ) + int(self._db.value(f"SELECT count(*) FROM ({steps})", (after,)))  # noqa: S608 - same
        oldest = [
            self._db.value(f"{times} ORDER BY at_ms LIMIT 1", (from_ms,)),
            self._db.value(f"{steps} ORDER BY id LIMIT 1", (after,)),
        ]
        error = self._meta.get(ERROR)
        return Behind(
            rows=rows,
            oldest_ms=min((at_ms for at_ms in oldest if at_ms is not None), default=None),
            last_error=error if isinstance(error, str) and error else None,
            parked=self._number(PARKED, 0),
        )

    def _from_ms(self) -> int:
        return min(self._number(SENT, 0), self._number(LATE, NO_LATE))

    def _number(self, name: str, otherwise: int) -> int:
        found = self._meta.get(name)
        return found if isinstance(found, int) else otherwise
