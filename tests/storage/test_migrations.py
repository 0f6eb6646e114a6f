from __future__ import annotations

import signal
import subprocess
import sys
from typing import TYPE_CHECKING

import apsw
import pytest

from curewatch.errors import StorageError
from curewatch.storage import Database, Store
from curewatch.storage.migrations import Step, schema_number, steps
from tests.storage.old_files import ROWS, fill

if TYPE_CHECKING:
    from pathlib import Path

NEWEST = steps()[-1].number

# Steps of an invented future: one that adds, one that rewrites a table with its rows.
ADDS = Step(
    NEWEST + 1,
    lambda connection: connection.execute(
        "ALTER TABLE coat ADD COLUMN gun TEXT NOT NULL DEFAULT ''"
    ),
)
REWRITES = Step(
    ADDS.number + 1,
    lambda connection: connection.execute(
        """
        CREATE TABLE place_new (
            id INTEGER PRIMARY KEY, sensor TEXT NOT NULL, room TEXT NOT NULL,
            from_ms INTEGER NOT NULL, height_m REAL
        );
        INSERT INTO place_new (id, sensor, room, from_ms)
            SELECT id, sensor, room, from_ms FROM place;
        DROP TABLE place;
        ALTER TABLE place_new RENAME TO place;
        """
    ),
)
FUTURE = (*steps(), ADDS, REWRITES)


def schema(path: Path) -> set[tuple[object, ...]]:
    connection = apsw.Connection(str(path))
    try:
        return set(connection.execute("SELECT type, name, sql FROM sqlite_schema").fetchall())
    finally:
        connection.close()


def dump(path: Path) -> dict[str, list[tuple[object, ...]]]:
    connection = apsw.Connection(str(path))
    try:
        names = [
            str(name)
            for (name,) in connection.execute(
                "SELECT name FROM sqlite_schema WHERE type = 'table' ORDER BY name"
            )
        ]
        return {
            name: connection.execute(f"SELECT * FROM {name} ORDER BY 1, 2").fetchall()  # noqa: S608 - names out of the schema itself
            for name in names
        }
    finally:
        connection.close()


def test_steps_are_numbered_from_one_without_a_hole() -> None:
    assert [step.number for step in steps()] == list(range(1, len(steps()) + 1))


@pytest.mark.parametrize("released", range(1, NEWEST + 1))
def test_a_file_of_each_schema_can_be_made_with_rows_in_every_table(
    tmp_path: Path, released: int
) -> None:
    fill(tmp_path / "shop.db", steps()[:released], rows_to=released)
    assert [name for name, rows in dump(tmp_path / "shop.db").items() if not rows] == []
    assert sorted(ROWS) == list(range(1, NEWEST + 1))


@pytest.mark.parametrize("released", range(1, len(FUTURE)))
def test_any_older_schema_with_data_migrates_to_the_same_as_a_fresh_one(
    tmp_path: Path, released: int
) -> None:
    fill(tmp_path / "old.db", FUTURE[:released], rows_to=released)
    Database.open(tmp_path / "old.db", steps=FUTURE).close()
    fill(tmp_path / "fresh.db", FUTURE, rows_to=released)
    assert schema(tmp_path / "old.db") == schema(tmp_path / "fresh.db")
    assert dump(tmp_path / "old.db") == dump(tmp_path / "fresh.db")
    with Database.open(tmp_path / "old.db", steps=FUTURE) as db:
        assert db.schema_number() == FUTURE[-1].number
        assert db.value("PRAGMA foreign_keys") == 1
        assert db.rows("PRAGMA foreign_key_check") == []
        assert db.quick_check() == ()


def test_every_row_of_a_file_of_the_first_schema_is_there_after_the_second(tmp_path: Path) -> None:
    path = tmp_path / "shop.db"
    fill(path, steps()[:1], rows_to=1)
    before = dump(path)
    Database.open(path, steps=steps()[:2]).close()
    after = dump(path)
    for name in before.keys() - {"sqlite_sequence"}:
        width = len(before[name][0])
        assert [row[:width] for row in after[name]] == before[name], name  # new columns come last
    assert [row[-2:] for row in after["coat"]] == [(None, "")] * 3
    assert after["room_plan"] == after["batch"] == []


def test_what_came_from_the_first_schema_is_read_and_gone_on_with(tmp_path: Path) -> None:
    path = tmp_path / "shop.db"
    fill(path, steps()[:1], rows_to=1)
    with Store.open(path) as store:
        assert store.db.schema_number() == NEWEST
        door, back = (store.pieces.load(tag) for tag in ("d-1", "D-2"))
        assert ([coat.wet_um for coat in door.coats], door.finish_revision) == ([100.0], 2)
        assert (door.work[0].anyway, door.outcomes[0].finding) == ("customer waits", "fine")
        assert [stay.room for stay in back.stays] == ["booth"]  # its leaving was voided
        assert store.fills.for_room("booth") == ()
        assert store.meta.get("cursor") == 2**53 + 1
        entry = store.db.insert(
            "INSERT INTO void (what, target, why, at_ms) VALUES ('batch', 1, 'spilt', 30)"
        )
        assert entry == 4  # numbers go on, none is given out twice


_KILLED = """
import os, signal, sys
from curewatch.storage import Database
from curewatch.storage.migrations import Step, steps

path, number, statement = sys.argv[1], int(sys.argv[2]), int(sys.argv[3])
seen = 0

def stop_before(cursor, sql, bindings):
    global seen
    seen += 1
    if seen == statement:
        os.kill(os.getpid(), signal.SIGKILL)
    return True

def run(connection, step):
    connection.exec_trace = stop_before  # stays on for the number and the commit after the step
    step.run(connection)

def traced(step):
    return Step(step.number, lambda connection: run(connection, step))

Database.open(path, steps=tuple(
    traced(step) if step.number == number else step for step in steps()[:number]
))
"""


def statements_of(path: Path, step: Step) -> list[str]:
    """Return what a step runs on the way from the schema before it, its number and commit too."""
    ran: list[str] = []

    def note(_: object, sql: str, __: object) -> bool:
        ran.append(sql.strip())
        return True

    def run(connection: apsw.Connection) -> None:
        connection.exec_trace = note
        step.run(connection)

    through = (*steps()[: step.number - 1], Step(step.number, run))
    Database.open(path, steps=through).close()
    return ran[: ran.index("COMMIT") + 1]


@pytest.mark.crash
@pytest.mark.parametrize("step", steps(), ids=lambda step: f"step {step.number}")
def test_a_migration_killed_on_the_way_leaves_the_schema_before_it_and_can_be_run_again(
    tmp_path: Path, step: Step
) -> None:
    earlier = step.number - 1
    if earlier:
        fill(tmp_path / "before.db", steps()[:earlier], rows_to=earlier)
    else:
        apsw.Connection(str(tmp_path / "before.db")).close()
    fill(tmp_path / "fresh.db", steps(), rows_to=earlier)
    fresh, before = dump(tmp_path / "fresh.db"), (tmp_path / "before.db").read_bytes()
    (tmp_path / "traced.db").write_bytes(before)
    ran = statements_of(tmp_path / "traced.db", step)
    last = len(ran)
    path, command = tmp_path / "shop.db", [sys.executable, "-c", _KILLED]
    for number in sorted({1, last // 2, last - 2, last}):  # the first, the number, the commit
        for old in tmp_path.glob("shop.db*"):
            old.unlink()
        path.write_bytes(before)
        untouched = dump(path)
        ended = subprocess.run([*command, path, str(step.number), str(number)], check=False)
        assert ended.returncode == -signal.SIGKILL, ran[number - 1]
        connection = apsw.Connection(str(path))
        assert schema_number(connection) == earlier, ran[number - 1]
        connection.close()
        assert dump(path) == untouched, ran[number - 1]
        Database.open(path).close()
        assert dump(path) == fresh, ran[number - 1]


def test_a_file_of_a_newer_schema_is_refused_unchanged(tmp_path: Path) -> None:
    path = tmp_path / "shop.db"
    Database.open(path, steps=FUTURE).close()
    before = path.read_bytes()
    for read_only in (False, True):
        with pytest.raises(
            StorageError,
            match=rf"of schema {FUTURE[-1].number}, this curewatch knows up to {NEWEST}: install",
        ):
            Database.open(path, read_only=read_only)
    assert path.read_bytes() == before


def test_reading_an_older_schema_asks_for_the_daemon_to_migrate_it(tmp_path: Path) -> None:
    path = tmp_path / "shop.db"
    Database.open(path).close()
    reads = FUTURE[-1].number
    with pytest.raises(
        StorageError, match=rf"of schema {NEWEST} and this curewatch reads {reads}: start"
    ):
        Database.open(path, read_only=True, steps=FUTURE)


def test_a_step_that_fails_leaves_the_schema_before_it(tmp_path: Path) -> None:
    path = tmp_path / "shop.db"
    fill(path, steps(), rows_to=1)
    before = dump(path)

    def half(connection: apsw.Connection) -> None:
        connection.execute("DELETE FROM coat")
        connection.execute("CREATE TABLE coat (x)")

    with pytest.raises(StorageError, match="already exists"):
        Database.open(path, steps=(*steps(), Step(NEWEST + 1, half)))
    assert dump(path) == before
    with Database.open(path) as db:
        assert db.schema_number() == NEWEST


def test_a_step_that_leaves_rows_pointing_nowhere_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "shop.db"
    fill(path, steps(), rows_to=1)
    orphans = Step(NEWEST + 1, lambda connection: connection.execute("DELETE FROM piece"))
    with pytest.raises(
        StorageError, match=rf"step {NEWEST + 1} .* left 10 rows that point nowhere"
    ):
        Database.open(path, steps=(*steps(), orphans))
    with Store.open(path) as store:
        assert len(store.pieces.load_all()) == 2


def test_a_step_that_undid_itself_reports_its_own_error(tmp_path: Path) -> None:
    def undone(connection: apsw.Connection) -> None:
        connection.execute("ROLLBACK")
        connection.execute("SELECT * FROM nowhere")

    with pytest.raises(StorageError, match="no such table: nowhere"):
        Database.open(tmp_path / "shop.db", steps=(*steps(), Step(NEWEST + 1, undone)))


def test_a_step_another_process_took_meanwhile_is_not_taken_again(tmp_path: Path) -> None:
    path = tmp_path / "shop.db"
    taken: list[int] = []

    def first(connection: apsw.Connection) -> None:
        connection.execute("CREATE TABLE once (a)")
        taken.append(1)

    through = (*steps(), Step(NEWEST + 1, first))
    Database.open(path, steps=through).close()
    Database.open(path, steps=through).close()
    assert taken == [1]
