"""What the file holds, by number: for whoever looks it over or helps from afar."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from curewatch.storage.database import Database


Columns = tuple[tuple[str, str], ...]

# tables and columns where people's own words stand
WORDS: dict[str, Columns] = {
    "titles": (("piece", "title"),),
    "people": (
        ("coat", "who"),
        ("work", "who"),
        ("outcome", "who"),
        ("batch", "who"),
        ("quarantine", "who"),
        ("quarantine_release", "who"),
        ("score", "who"),
        ("alert", "seen_by"),
        ("page_session", "who"),
        ("sensor_check", "who"),
        ("sensor_jar", "who"),
    ),
    "notes": (
        ("coat", "note"),
        ("work", "note"),
        ("work", "anyway"),
        ("outcome", "note"),
        ("stock", "note"),
        ("batch", "note"),
        ("joining", "note"),
        ("quarantine", "why"),
        ("quarantine_release", "why"),
        ("rejudgement", "why"),
        ("room_plan", "why"),
        ("fill", "why"),
        ("void", "why"),
        ("reading_void", "why"),
        ("follow_up_closed", "why"),
        ("trial", "question"),
        ("sensor_check", "note"),
        ("sensor_check_void", "why"),
    ),
}


def row_counts(db: Database) -> dict[str, int]:
    """Return how many rows each table has, by its name."""
    names = db.rows(
        "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%' "
        "ORDER BY name"
    )
    return {
        str(name): int(db.value(f'SELECT count(*) FROM "{name}"'))  # noqa: S608 - a table of ours
        for (name,) in names
    }


def readings_between(db: Database, start_ms: int, stop_ms: int) -> int:
    """Return how many readings lie from `start_ms` until before `stop_ms` [ms]."""
    return int(
        db.value("SELECT count(*) FROM reading WHERE at_ms >= ? AND at_ms < ?", (start_ms, stop_ms))
    )


def what_people_wrote(db: Database) -> dict[str, tuple[str, ...]]:
    """Return the words people entered that name somebody or something of theirs.

    Returns
    -------
    dict
        By kind: 'titles' of pieces, 'people' who did something, 'notes' in their own words.
    """
    return {kind: _words(db, columns) for kind, columns in WORDS.items()}


def _words(db: Database, columns: Columns) -> tuple[str, ...]:
    """Return what stands in some columns, each word once."""
    found: dict[str, None] = {}
    for table, column in columns:
        rows = db.rows(f'SELECT DISTINCT "{column}" FROM "{table}"')  # noqa: S608 - names of ours
        found.update((str(text), None) for (text,) in rows if str(text).strip())
    return tuple(found)
