"""Holds on lots, pots and pieces, and their releases; append-only."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.errors import BadInput
from curewatch.shop.quarantine import Quarantine

if TYPE_CHECKING:
    from curewatch.storage.database import Database


class Quarantines:
    """The holds of the shop."""

    def __init__(self, db: Database) -> None:
        """Read from and write to `db`."""
        self._db = db

    def hold(self, new: Quarantine, entered_ms: int) -> int:
        """Enter a hold and return its number.

        Raises
        ------
        BadInput
            When the same thing is held already.
        """
        with self._db.transaction():
            for other in self.standing():
                if (other.what, other.target.casefold()) == (new.what, new.target.casefold()):
                    raise BadInput(
                        f"{new.target} is held already (number {other.id}: {other.why}): release "
                        "that one first, or leave it"
                    )
            return self._db.insert(
                "INSERT INTO quarantine (what, target, why, who, at_ms, entered_ms) "
                "VALUES (?, ?, ?, ?, ?, ?)",
                (new.what, new.target, new.why, new.who, new.at_ms, entered_ms),
            )

    def release(self, number: int, why: str, *, who: str, at_ms: int) -> Quarantine:
        """Enter that a hold is lifted and return it.

        Raises
        ------
        BadInput
            When there is no such hold, it is lifted already, or no reason is given.
        """
        if not why.strip():
            raise BadInput("releasing a hold needs a reason: say what was found")
        with self._db.transaction():
            found = next((hold for hold in self.all() if hold.id == number), None)
            if found is None:
                raise BadInput(
                    f"there is no hold with number {number}: 'curewatch quarantine list' shows them"
                )
            if found.released_ms is not None:
                raise BadInput(f"hold {number} is released already: {found.released_why}")
            self._db.insert(
                "INSERT INTO quarantine_release (quarantine, why, who, at_ms) VALUES (?, ?, ?, ?)",
                (number, why, who, at_ms),
            )
        return found

    def standing(self) -> tuple[Quarantine, ...]:
        """Return the holds that are not lifted, oldest first."""
        return tuple(hold for hold in self.all() if hold.released_ms is None)

    def all(self) -> tuple[Quarantine, ...]:
        """Return every hold, lifted or not, oldest first."""
        rows = self._db.rows(
            "SELECT what, target, hold.why, hold.at_ms, hold.who, lifted.at_ms, "
            "coalesce(lifted.why, ''), coalesce(lifted.who, ''), hold.id FROM quarantine AS hold "
            "LEFT JOIN quarantine_release AS lifted ON lifted.quarantine = hold.id "
            "ORDER BY hold.at_ms, hold.id"
        )
        return tuple(Quarantine(*row) for row in rows)
