"""Voiding what a person entered: the entry stays, a row beside it says why it does not count."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Literal

from curewatch.errors import BadInput
from curewatch.storage.touched import Touched

if TYPE_CHECKING:
    from curewatch.storage.database import Database

Voidable = Literal[
    "coat",
    "work",
    "move",
    "outcome",
    "leave",
    "fill",
    "room_plan",
    "stock",
    "batch",
    "joining",
    "score",
    "plan",
    "gone",
    "piece",
]

# How to look an entry up, by the time it speaks of; leaving is a move out of the shop.
_FIND = {
    "coat": "SELECT at_ms FROM coat WHERE id = ?",
    "work": "SELECT at_ms FROM work WHERE id = ?",
    "move": "SELECT at_ms FROM move WHERE id = ? AND room IS NOT NULL",
    "leave": "SELECT at_ms FROM move WHERE id = ? AND room IS NULL",
    "outcome": "SELECT at_ms FROM outcome WHERE id = ?",
    "fill": "SELECT start_ms FROM fill WHERE id = ?",
    "room_plan": "SELECT start_ms FROM room_plan WHERE id = ?",
    "stock": "SELECT at_ms FROM stock WHERE id = ?",
    "batch": "SELECT mixed_at_ms FROM batch WHERE id = ?",
    "joining": "SELECT at_ms FROM joining WHERE id = ?",
    "score": "SELECT at_ms FROM score WHERE id = ?",
    "plan": "SELECT entered_ms FROM coat_plan WHERE id = ?",
    "gone": "SELECT at_ms FROM batch_gone WHERE id = ?",
    "piece": "SELECT at_ms FROM piece WHERE number = ?",
}

# What people call an entry, and where they find its number.
_CALLED = {
    "room_plan": "plan of a room",
    "stock": "entry of stock",
    "batch": "pot",
    "plan": "plan of coats",
    "gone": "word that a pot is gone",
}
_SHOWN_BY = {
    "fill": "'curewatch room gaps ROOM' shows them",
    "room_plan": "'curewatch room ahead ROOM' shows them",
    "stock": "'curewatch export stock' shows them",
    "batch": "'curewatch export batches' shows them",
}


@dataclass(frozen=True, slots=True)
class Void:
    """Why an entry does not count, and since when [ms]."""

    why: str
    at_ms: int


def void_entry(db: Database, what: Voidable, entry: int, *, why: str, at_ms: int) -> None:
    """Void the `what` numbered `entry`.

    Raises
    ------
    BadInput
        When there is no such entry, it is void already, or no reason is given.
    """
    if what not in _FIND:
        raise BadInput(f"a '{what}' cannot be voided: one of {', '.join(_FIND)} can")
    called = _CALLED.get(what, what)
    if not why.strip():
        raise BadInput(f"voiding a {called} needs a reason: say what was wrong with it")
    table = "move" if what == "leave" else what
    with db.transaction():
        from_ms = db.value(_FIND[what], (entry,))
        if from_ms is None:
            shown_by = _SHOWN_BY.get(what, "the piece's record shows them")
            raise BadInput(f"there is no {called} with number {entry}: {shown_by}")
        before = db.row("SELECT why, at_ms FROM void WHERE what = ? AND target = ?", (table, entry))
        if before is not None:
            raise BadInput(f"{called} {entry} is void already since {_utc(before[1])}: {before[0]}")
        db.insert(
            "INSERT INTO void (what, target, why, at_ms) VALUES (?, ?, ?, ?)",
            (table, entry, why, at_ms),
        )
        if what == "fill":
            room = db.value("SELECT room FROM fill WHERE id = ?", (entry,))
            Touched(db).add(room=room, from_ms=from_ms)


def _utc(at_ms: int) -> str:
    """Return an instant for people, in UTC."""
    return f"{datetime.fromtimestamp(at_ms / 1000.0, UTC):%Y-%m-%d %H:%M} UTC"


def is_void(db: Database, what: Voidable, entry: int) -> bool:
    """Return whether the `what` numbered `entry` was voided."""
    table = "move" if what == "leave" else what
    return db.row("SELECT 1 FROM void WHERE what = ? AND target = ?", (table, entry)) is not None
