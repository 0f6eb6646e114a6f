"""Everything ever entered about a piece, voided or not, for its record."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from curewatch.storage.voids import Void

if TYPE_CHECKING:
    from curewatch.storage.database import Database


@dataclass(frozen=True, slots=True)
class Entry:
    """One thing a person entered.

    Attributes
    ----------
    what: 'hang', 'coat', 'work', 'move', 'leave', 'outcome', 'plan' (of coats) or
        'rejudge'.
    id: its number; 0 for the hanging.
    at_ms: when it was so [ms].
    entered_ms: when it was entered [ms].
    facts: what was entered, by name.
    void: why it does not count, when it was voided.
    """

    what: str
    id: int
    at_ms: int
    entered_ms: int
    facts: dict[str, str | int | float | None] = field(default_factory=dict)
    void: Void | None = None


# What, its word in void ('' cannot be voided), the query, names of the facts it ends with.
_QUERIES: tuple[tuple[str, str, str, tuple[str, ...]], ...] = (
    (
        "hang",
        "",
        "SELECT 0, at_ms, entered_ms, finish, revision, title FROM piece WHERE number = ?",
        ("finish", "revision", "title"),
    ),
    (
        "move",
        "move",
        "SELECT id, at_ms, entered_ms, room FROM move WHERE piece = ? AND room IS NOT NULL",
        ("room",),
    ),
    (
        "coat",
        "coat",
        (
            "SELECT coat.id, at_ms, coat.entered_ms, wet_um, passes, "
            "coalesce(coat.mixed_at_ms, batch.mixed_at_ms), coat.note, coalesce(name, ''), "
            "coat.who FROM coat LEFT JOIN batch ON batch.id = coat.batch WHERE piece = ?"
        ),
        ("wet_um", "passes", "mixed_at_ms", "note", "pot", "who"),
    ),
    (
        "work",
        "work",
        "SELECT id, at_ms, entered_ms, kind, note, anyway, who FROM work WHERE piece = ?",
        ("kind", "note", "anyway", "who"),
    ),
    (
        "outcome",
        "outcome",
        "SELECT id, at_ms, entered_ms, finding, note, who FROM outcome WHERE piece = ?",
        ("finding", "note", "who"),
    ),
    (
        "plan",
        "",
        "SELECT id, entered_ms, entered_ms, coats FROM coat_plan WHERE piece = ?",
        ("coats",),
    ),
    (
        "rejudge",
        "",
        "SELECT id, entered_ms, entered_ms, revision, why FROM rejudgement WHERE piece = ?",
        ("revision", "why"),
    ),
    (
        "leave",
        "move",
        "SELECT id, at_ms, entered_ms FROM move WHERE piece = ? AND room IS NULL",
        (),
    ),
)


def piece_history(db: Database, number: int) -> tuple[Entry, ...]:
    """Return the entries of the piece `number` in order of entry."""
    voids = {
        (what, target): Void(why, at_ms)
        for what, target, why, at_ms in db.rows("SELECT what, target, why, at_ms FROM void")
    }
    entries = [
        Entry(
            what,
            row[0],
            row[1],
            row[2],
            dict(zip(names, row[3:], strict=True)),
            voids.get((table, row[0])),
        )
        for what, table, query, names in _QUERIES
        for row in db.rows(query, (number,))
    ]
    return tuple(sorted(entries, key=lambda entry: (entry.entered_ms, entry.at_ms)))
