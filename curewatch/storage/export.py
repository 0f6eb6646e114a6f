"""What is kept as plain rows, for JSON and CSV."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.errors import BadInput
from curewatch.storage.export_decisions import DECISION_TABLES

if TYPE_CHECKING:
    from collections.abc import Iterator

    from curewatch.storage.store import Store

    Plain = dict[str, str | int | float | None]

_END_MS = 2**62

# Every noun's columns, in order; entries of people come with the reason of their void, if any.
TABLES: dict[str, tuple[tuple[str, ...], str]] = {
    "pieces": (
        (
            *("tag", "finish", "finish_revision", "title", "hung_ms", "room", "left_ms"),
            *("void_why", "void_ms", "number"),
        ),
        """
        SELECT tag, finish, coalesce((
            SELECT revision FROM rejudgement WHERE piece = number ORDER BY id DESC LIMIT 1
        ), revision), title, piece.at_ms, last.room, iif(last.room IS NULL, last.at_ms, NULL),
            void.why, void.at_ms, number
        FROM piece LEFT JOIN move AS last ON last.id = (
            SELECT id FROM move
            WHERE piece = number
                AND NOT EXISTS (SELECT 1 FROM void WHERE what = 'move' AND target = move.id)
            ORDER BY at_ms DESC, id DESC LIMIT 1
        )
            LEFT JOIN void ON what = 'piece' AND target = number
        ORDER BY piece.at_ms, number
        """,
    ),
    "coats": (
        (
            *("tag", "id", "at_ms", "wet_um", "passes", "mixed_at_ms", "batch"),
            *("note", "who", "entered_ms", "void_why", "void_ms"),
        ),
        """
        SELECT tag, coat.id, coat.at_ms, wet_um, passes, coat.mixed_at_ms, batch.name,
            coat.note, coat.who, coat.entered_ms, why, void.at_ms
        FROM coat JOIN piece ON number = piece
            LEFT JOIN batch ON batch.id = coat.batch
            LEFT JOIN void ON what = 'coat' AND target = coat.id
        ORDER BY coat.at_ms, coat.id
        """,
    ),
    "work": (
        (
            *("tag", "id", "kind", "at_ms", "note", "anyway", "who", "entered_ms"),
            *("void_why", "void_ms"),
        ),
        """
        SELECT tag, work.id, kind, work.at_ms, note, anyway, who, work.entered_ms,
            why, void.at_ms
        FROM work JOIN piece ON number = piece
            LEFT JOIN void ON what = 'work' AND target = work.id
        ORDER BY work.at_ms, work.id
        """,
    ),
    "moves": (
        ("tag", "id", "room", "at_ms", "entered_ms", "void_why", "void_ms"),
        """
        SELECT tag, move.id, room, move.at_ms, move.entered_ms, why, void.at_ms
        FROM move JOIN piece ON number = piece
            LEFT JOIN void ON what = 'move' AND target = move.id
        ORDER BY move.at_ms, move.id
        """,
    ),
    "outcomes": (
        ("tag", "id", "at_ms", "finding", "note", "who", "entered_ms", "void_why", "void_ms"),
        """
        SELECT tag, outcome.id, outcome.at_ms, finding, note, who, outcome.entered_ms,
            why, void.at_ms
        FROM outcome JOIN piece ON number = piece
            LEFT JOIN void ON what = 'outcome' AND target = outcome.id
        ORDER BY outcome.at_ms, outcome.id
        """,
    ),
    "fills": (
        (
            *("room", "id", "start_ms", "stop_ms", "temp_c", "rh_frac", "why", "entered_ms"),
            *("void_why", "void_ms"),
        ),
        """
        SELECT room, fill.id, start_ms, stop_ms, temp_c, rh_frac, fill.why, entered_ms,
            void.why, void.at_ms
        FROM fill LEFT JOIN void ON what = 'fill' AND target = fill.id
        ORDER BY start_ms, fill.id
        """,
    ),
    "voided-readings": (
        ("sensor", "quantity", "at_ms", "value", "origin", "flags", "void_why", "void_ms"),
        """
        SELECT sensor.id, reading_voided.quantity, reading_voided.at_ms, value, origin, flags,
            why, reading_void.at_ms
        FROM reading_voided JOIN reading_void ON reading_void.id = reading_void
            JOIN sensor ON number = reading_voided.sensor
        ORDER BY reading_voided.at_ms, reading_voided.sensor, reading_voided.quantity
        """,
    ),
    "alerts": (
        (
            *("id", "kind", "subject", "urgency", "phase", "since_ms", "raised_ms", "seen_ms"),
            *("seen_by", "rest_until_ms", "cleared_ms", "reason", "next_action"),
        ),
        """
        SELECT id, kind, subject, urgency, phase, since_ms, raised_ms, seen_ms,
            seen_by, rest_until_ms, cleared_ms, reason, next_action
        FROM alert ORDER BY since_ms, id
        """,
    ),
    "alert-events": (
        ("alert_id", "kind", "subject", "phase", "at_ms", "reason"),
        """
        SELECT alert, kind, subject, event.phase, at_ms, event.reason
        FROM alert_event AS event JOIN alert ON alert.id = alert ORDER BY at_ms, event.id
        """,
    ),
}

TABLES |= DECISION_TABLES

NOUNS = ("readings", *TABLES)


def export_rows(
    store: Store, noun: str, *, start_ms: int = 0, stop_ms: int = _END_MS
) -> Iterator[Plain]:
    """Yield everything kept of `noun` (see `NOUNS`) in order of time, as plain rows.

    The range [ms] limits readings only. Voided entries come too, with the reason.

    Raises
    ------
    BadInput
        When there is no such noun.
    """
    if noun == "readings":
        return _readings(store, start_ms, stop_ms)
    if noun not in TABLES:
        raise BadInput(f"'{noun}' cannot be exported: choose one of {', '.join(NOUNS)}")
    names, query = TABLES[noun]
    return (dict(zip(names, row, strict=True)) for row in store.db.rows(query))


def _readings(store: Store, start_ms: int, stop_ms: int) -> Iterator[Plain]:
    """Yield the readings of a range as plain rows."""
    for reading in store.readings.rows(start_ms, stop_ms):
        yield {
            "sensor": reading.sensor,
            "quantity": reading.quantity.word,
            "at_ms": reading.at_ms,
            "value": reading.value,
            "origin": reading.origin.name.lower(),
            "flags": reading.flags,
        }
