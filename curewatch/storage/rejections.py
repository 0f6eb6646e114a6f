"""What was refused: counted by sensor, quantity and reason, with the last of each in words."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from curewatch.shop.reading import Quantity, Rejected, RejectReason

if TYPE_CHECKING:
    from collections.abc import Iterable

    from curewatch.storage.database import Database


@dataclass(frozen=True, slots=True)
class RejectionCount:
    """How often one thing was refused from one sensor.

    Attributes
    ----------
    sensor, quantity, reason: what; quantity is None where it did not get that far.
    count: how often.
    first_ms, last_ms: from when to when [ms].
    detail: the last one in words.
    """

    sensor: str
    quantity: Quantity | None
    reason: RejectReason
    count: int
    first_ms: int
    last_ms: int
    detail: str


class Rejections:
    """Counts of refused messages and values."""

    def __init__(self, db: Database) -> None:
        """Read from and write to `db`."""
        self._db = db

    def add(self, rejected: Iterable[Rejected]) -> None:
        """Count `rejected`, in one transaction."""
        with self._db.transaction():
            self._db.many(
                """
                INSERT INTO rejection VALUES (?1, ?2, ?3, 1, ?4, ?4, ?5)
                ON CONFLICT DO UPDATE SET
                    count = count + 1,
                    first_ms = min(first_ms, excluded.first_ms),
                    detail = iif(excluded.last_ms >= last_ms, excluded.detail, detail),
                    last_ms = max(last_ms, excluded.last_ms)
                """,
                [
                    (r.sensor, int(r.quantity or 0), r.reason, r.received_ms, r.detail)
                    for r in rejected
                ],
            )

    def summary(self, sensor: str | None = None) -> tuple[RejectionCount, ...]:
        """Return the counts, of one sensor or of all, in order of sensor and reason."""
        found = self._db.rows(
            """
            SELECT sensor, quantity, reason, count, first_ms, last_ms, detail FROM rejection
            WHERE ?1 IS NULL OR sensor = ?1 ORDER BY sensor, reason, quantity
            """,
            (sensor,),
        )
        return tuple(
            RejectionCount(
                sensor=row[0],
                quantity=Quantity(row[1]) if row[1] else None,
                reason=RejectReason(row[2]),
                count=row[3],
                first_ms=row[4],
                last_ms=row[5],
                detail=row[6],
            )
            for row in found
        )
