"""Taking an entry back: it stays in the record with the reason, and no longer counts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from curewatch.shop.words import counted
from curewatch.storage.export import export_rows

if TYPE_CHECKING:
    from curewatch.opened import Opened
    from curewatch.storage.voids import Voidable

What = Literal["coat", "work", "move", "outcome", "fill", "plan", "joining"]
NOUNS: dict[What, str] = {
    "coat": "coats",
    "work": "work",
    "move": "moves",
    "outcome": "outcomes",
    "fill": "fills",
    "plan": "coat-plans",
    "joining": "joinings",
}
COLUMNS: dict[What, tuple[str, str]] = {  # of what, and when, where they are called otherwise
    "fill": ("room", "start_ms"),
    "plan": ("tag", "entered_ms"),
    "joining": ("part", "at_ms"),
}


@dataclass(frozen=True, slots=True)
class Voided:
    """An entry that no longer counts: of which piece or room, and of when [ms]."""

    what: What
    number: int
    of: str
    at_ms: int


@dataclass(frozen=True, slots=True)
class Reopened:
    """A finished coating that a coat taken back opened again: so many laid, of so many planned."""

    tag: str
    laid: int
    planned: int

    @property
    def sentence(self) -> str:
        """What that means for the piece."""
        return (
            f"Coating of {self.tag} is open again: {self.laid} of "
            f"{counted(self.planned, 'coat')} on, and sanding and buffing wait."
        )


def reopened(at: Opened, gone: Voided) -> Reopened | None:
    """Return the coating that a coat taken back opened again; None where it did not."""
    if gone.what != "coat":
        return None
    piece = at.store.pieces.load(gone.of)
    laid, planned = len(piece.coats), piece.planned_coats
    if planned is None or laid != planned - 1:
        return None
    return Reopened(piece.tag, laid, planned)


def void(at: Opened, what: What, number: int, why: str) -> Voided:
    """Void an entry by its number; of moves also one out of the shop.

    Raises
    ------
    BadInput
        When there is no such entry, it is void already, or no reason is given.
    """
    found = [row for row in export_rows(at.store, NOUNS[what]) if row["id"] == number]
    leaves = what == "move" and bool(found) and found[0]["room"] is None
    voidable: Voidable = "leave" if leaves else what
    if what == "fill":
        at.store.fills.void(number, why, at.entered_ms)
    else:
        at.store.pieces.void(voidable, number, why, at.entered_ms)
    (row,) = found
    of, when = COLUMNS.get(what, ("tag", "at_ms"))
    return Voided(what, number, str(row[of]), int(row[when] or 0))
