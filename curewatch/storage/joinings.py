"""Which pieces were joined to which, as people entered it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.errors import BadInput
from curewatch.shop.joining import Joining, check_joining
from curewatch.storage.voids import void_entry

if TYPE_CHECKING:
    from curewatch.storage.database import Database


class Joinings:
    """The joined pieces of the shop."""

    def __init__(self, db: Database) -> None:
        """Read from and write to `db`."""
        self._db = db

    def join(self, joining: Joining, entered_ms: int) -> int:
        """Enter that one piece was joined to another and return the entry's number.

        Raises
        ------
        BadInput
            When one of them is not there, or they cannot be joined so.
        """
        with self._db.transaction():
            check_joining(joining, self.all())
            numbers = {
                str(tag): int(number)
                for number, tag in self._db.rows(
                    "SELECT number, tag FROM piece WHERE tag IN (?, ?)",
                    (joining.part, joining.onto),
                )
            }
            for tag in (joining.part, joining.onto):
                if tag not in numbers:
                    raise BadInput(f"there is no piece with the tag '{tag}': hang it first")
            return self._db.insert(
                "INSERT INTO joining (part, onto, at_ms, note, entered_ms) VALUES (?, ?, ?, ?, ?)",
                (
                    *(numbers[joining.part], numbers[joining.onto], joining.at_ms),
                    *(joining.note, entered_ms),
                ),
            )

    def unjoin(self, part: str, why: str, at_ms: int) -> Joining:
        """Void the joining of a piece and return it.

        Raises
        ------
        BadInput
            When it is joined to nothing, or no reason is given.
        """
        for joining in self.all():
            if joining.part == part:
                void_entry(self._db, "joining", joining.id, why=why, at_ms=at_ms)
                return joining
        raise BadInput(f"{part} is joined to nothing: curewatch piece show {part}")

    def again(self, number: int, entered_ms: int) -> Joining:
        """Enter a joining anew that was voided, as it was; return it.

        Raises
        ------
        BadInput
            When there was none of that number, or they cannot be joined so any more.
        """
        row = self._db.row(f"{_SELECT} WHERE joining.id = ?", (number,))
        if row is None:
            raise BadInput(f"there was no joining with number {number}")
        was = Joining(*row)
        self.join(was, entered_ms)
        return was

    def all(self) -> tuple[Joining, ...]:
        """Return the joinings that count, in order of time."""
        rows = self._db.rows(
            f"{_SELECT} WHERE NOT EXISTS "  # noqa: S608 - our own query
            "(SELECT 1 FROM void WHERE what = 'joining' AND target = joining.id) "
            "ORDER BY joining.at_ms, joining.id"
        )
        return tuple(Joining(*row) for row in rows)


_SELECT = (
    "SELECT part.tag, onto.tag, joining.at_ms, note, joining.id FROM joining "
    "JOIN piece AS part ON part.number = joining.part "
    "JOIN piece AS onto ON onto.number = joining.onto"
)
