from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from curewatch.shop.reading import Quantity, Reading
from curewatch.storage import Store
from curewatch.storage.inventory import WORDS, readings_between, row_counts, what_people_wrote

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

# columns of text that no person's own words stand in
OURS = {
    "alert": {"kind", "subject", "urgency", "phase", "reason", "next_action"},
    "alert_event": {"phase", "reason"},
    "batch": {"name", "finish", "lot", "room", "crosslinker_lot", "thinner", "tint"},
    "fill": {"room"},
    "finish_revision": {"name", "text"},
    "meta": {"name"},
    "judged": {"fingerprint", "said"},
    "move": {"room"},
    "notice": {"event", "title", "body", "error"},
    "outcome": {"finding"},
    "piece": {"tag", "finish"},
    "place": {"sensor", "room"},
    "quarantine": {"what", "target"},
    "rejection": {"sensor", "reason", "detail"},
    "room_hours": {"room", "basis"},
    "room_plan": {"room"},
    "score": {"quality", "unit", "how"},
    "sensor": {"id"},
    "sensor_check": {"sensor", "against"},
    "sensor_jar": {"sensor", "salt"},
    "state": {"kind", "name", "facts"},
    "stock": {"finish", "lot", "part", "room"},
    "touched": {"sensor", "room"},
    "trial": {"name"},
    "trial_scale": {"quality", "words"},
    "void": {"what"},
    "work": {"kind"},
}


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    """Return an empty store."""
    with Store.open(tmp_path / "shop.db") as opened:
        yield opened


def test_every_column_of_text_is_either_ours_or_taken_out_of_a_help_packet(store: Store) -> None:
    people = {column for columns in WORDS.values() for column in columns}
    for table in row_counts(store.db):
        for _, name, kind, *_ in store.db.rows(f'PRAGMA table_info("{table}")'):
            known = (table, name) in people or name in OURS.get(table, set())
            assert kind != "TEXT" or known, f"{table}.{name}"


def test_nothing_is_listed_that_is_not_there(store: Store) -> None:
    listed = {(table, name) for table, names in OURS.items() for name in names}
    for table, name in listed.union(*WORDS.values()):
        assert name in {row[1] for row in store.db.rows(f'PRAGMA table_info("{table}")')}


def test_rows_are_counted_and_readings_of_a_span(store: Store) -> None:
    store.readings.add([Reading("a", Quantity.HUMIDITY, at_ms, 0.5) for at_ms in (10, 20, 30)])
    assert row_counts(store.db)["reading"] == 3
    assert row_counts(store.db)["coat"] == 0
    assert readings_between(store.db, 10, 30) == 2


def test_what_people_wrote_is_found_once_each(store: Store) -> None:
    for tag in ("A", "B"):
        store.db.execute(
            "INSERT INTO piece (tag, finish, revision, title, at_ms, entered_ms) "
            "VALUES (?, 'waterborne', 1, 'For Ann', 0, 0)",
            (tag,),
        )
    assert what_people_wrote(store.db)["titles"] == ("For Ann",)
    assert what_people_wrote(store.db)["people"] == ()
