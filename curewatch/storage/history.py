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
    what: 'hang', 'coat', 'work', 'move', 'leave', 'outcome', 'plan' (of coats), 'rejudge',
        'join', 'hold', 'release' or 'follow-up closed'.
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


# Holds on the piece itself, on a pot it has a coat from, or on a lot in such a pot.
_ON_PIECE = """
FROM quarantine AS hold LEFT JOIN quarantine_release AS lifted ON lifted.quarantine = hold.id
WHERE EXISTS (
    SELECT 1 FROM piece
        LEFT JOIN coat ON coat.piece = number
            AND NOT EXISTS (SELECT 1 FROM void WHERE void.what = 'coat' AND target = coat.id)
        LEFT JOIN batch ON batch.id = coat.batch
            AND NOT EXISTS (SELECT 1 FROM void WHERE void.what = 'batch' AND target = batch.id)
    WHERE number = ? AND (
        (hold.what = 'piece' AND hold.target = tag)
        OR (hold.what = 'batch' AND hold.target = name)
        OR (hold.what = 'lot' AND hold.target IN (lot, crosslinker_lot))
    )
)
"""

# What, its word in void ('' cannot be voided), the query, names of the facts it ends with.
_QUERIES: tuple[tuple[str, str, str, tuple[str, ...]], ...] = (
    (
        "hang",
        "",  # a piece taken back is no longer found by its tag
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
        "plan",
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
        "join",
        "joining",
        (
            "SELECT id, joining.at_ms, joining.entered_ms, tag, '', note FROM joining "
            "JOIN piece ON number = onto WHERE part = ?"
        ),
        ("onto", "part", "note"),
    ),
    (
        "join",
        "joining",
        (
            "SELECT id, joining.at_ms, joining.entered_ms, '', tag, note FROM joining "
            "JOIN piece ON number = part WHERE onto = ?"
        ),
        ("onto", "part", "note"),
    ),
    (
        "hold",
        "",
        (
            "SELECT hold.id, hold.at_ms, hold.entered_ms, hold.what, hold.target, hold.why, "
            f"hold.who {_ON_PIECE}"
        ),
        ("what", "target", "why", "who"),
    ),
    (
        "release",
        "",
        (
            "SELECT hold.id, lifted.at_ms, lifted.at_ms, hold.target, lifted.why, lifted.who "
            f"{_ON_PIECE} AND lifted.at_ms IS NOT NULL"
        ),
        ("target", "why", "who"),
    ),
    (
        "follow-up closed",
        "",
        "SELECT 0, at_ms, at_ms, days, why FROM follow_up_closed WHERE piece = ?",
        ("days", "why"),
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
