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


def reopened(at: Opened, gone: Voided) -> str:
    """Say that a coat taken back opened a finished coating again; '' where it did not."""
    if gone.what != "coat":
        return ""
    piece = at.store.pieces.load(gone.of)
    laid, planned = len(piece.coats), piece.planned_coats
    if planned is None or laid != planned - 1:
        return ""
    return (
        f"Coating of {piece.tag} is open again: {laid} of {counted(planned, 'coat')} on, and "
        f"sanding and buffing wait. If no more is to come: curewatch piece plan {piece.tag} {laid}"
    )


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
