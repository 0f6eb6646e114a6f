"""What people say rooms will be like."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.shop.room_plan import RoomPlan
from curewatch.storage.voids import void_entry

if TYPE_CHECKING:
    from curewatch.storage.database import Database, Row

# In order of entry: what was said last rules over what was said before.
_PLANS = """
SELECT room, start_ms, stop_ms, temp_c, rh_frac, left_alone, why, id,
    temp_at_least, rh_at_most, entered_ms
FROM room_plan
WHERE NOT EXISTS (SELECT 1 FROM void WHERE what = 'room_plan' AND target = room_plan.id)
    AND coalesce(stop_ms > ?1, 1) AND (?2 IS NULL OR room = ?2)
ORDER BY id
"""


class RoomPlans:
    """The plans of all rooms; a running daemon sees by the file's version that one came."""

    def __init__(self, db: Database) -> None:
        """Read from and write to `db`."""
        self._db = db

    def add(self, plan: RoomPlan, entered_ms: int) -> int:
        """Enter a plan and return its number."""
        with self._db.transaction():
            return self._db.insert(
                "INSERT INTO room_plan "
                "(room, start_ms, stop_ms, temp_c, rh_frac, left_alone, why, entered_ms, "
                "temp_at_least, rh_at_most) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
                (
                    plan.room,
                    plan.start_ms,
                    plan.stop_ms,
                    plan.temp_c,
                    plan.rh_frac,
                    plan.left_alone,
                    plan.why,
                    entered_ms,
                    plan.temp_at_least,
                    plan.rh_at_most,
                ),
            )

    def for_room(self, room: str, *, after_ms: int = 0) -> tuple[RoomPlan, ...]:
        """Return the plans of `room` that count and end after `after_ms` [ms], as entered."""
        return tuple(map(_plan, self._db.rows(_PLANS, (after_ms, room))))

    def all(self, *, after_ms: int = 0) -> tuple[RoomPlan, ...]:
        """Return the plans of every room that count and end after `after_ms` [ms], as entered."""
        return tuple(map(_plan, self._db.rows(_PLANS, (after_ms, None))))

    def void(self, entry: int, why: str, at_ms: int) -> None:
        """Void the plan numbered `entry`: it stays, and no longer counts."""
        void_entry(self._db, "room_plan", entry, why=why, at_ms=at_ms)


def _plan(row: Row) -> RoomPlan:
    room, start_ms, stop_ms, temp_c, rh_frac, left_alone, why, number, *how, entered_ms = row
    temp_at_least, rh_at_most = map(bool, how)
    return RoomPlan(
        room,
        start_ms,
        stop_ms,
        temp_c,
        rh_frac,
        left_alone=bool(left_alone),
        why=why,
        id=number,
        temp_at_least=temp_at_least,
        rh_at_most=rh_at_most,
        entered_ms=entered_ms,
    )
