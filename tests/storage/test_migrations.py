from __future__ import annotations

from typing import TYPE_CHECKING

import apsw
import pytest

from curewatch.errors import StorageError
from curewatch.shop.piece import Coat
from curewatch.shop.reading import Quantity, Reading
from curewatch.storage import Database, Store
from curewatch.storage.migrations import Step, steps

if TYPE_CHECKING:
    from pathlib import Path

# Steps of an invented future: one that adds, one that rewrites a table with its rows.
ADDS = Step(
    steps()[-1].number + 1,
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


def filled(path: Path, through: tuple[Step, ...]) -> None:
    with Database.open(path, steps=through) as db:
        store = Store(db)
        store.readings.add([Reading("s1", Quantity.TEMPERATURE, at, 20.0) for at in range(10)])
        store.pieces.hang("D-1", "waterborne", 1, title="door", at_ms=1, entered_ms=1, room="booth")
        store.pieces.coat("D-1", Coat(5, 100.0), 6)
        store.places.place("s1", "booth", 1)


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


@pytest.mark.parametrize("released", range(1, len(FUTURE)))
def test_any_older_schema_with_data_migrates_to_the_same_as_a_fresh_one(
    tmp_path: Path, released: int
) -> None:
    filled(tmp_path / "old.db", FUTURE[:released])
    Database.open(tmp_path / "old.db", steps=FUTURE).close()
    filled(tmp_path / "fresh.db", FUTURE)
    assert schema(tmp_path / "old.db") == schema(tmp_path / "fresh.db")
    assert dump(tmp_path / "old.db") == dump(tmp_path / "fresh.db")
    with Database.open(tmp_path / "old.db", steps=FUTURE) as db:
        assert db.schema_number() == FUTURE[-1].number
        assert Store(db).pieces.load("D-1").coats[0].wet_um == 100.0
        assert db.value("PRAGMA foreign_keys") == 1


def test_a_file_of_a_newer_schema_is_refused_unchanged(tmp_path: Path) -> None:
    path = tmp_path / "shop.db"
    Database.open(path, steps=FUTURE).close()
    before = path.read_bytes()
    for read_only in (False, True):
        with pytest.raises(
            StorageError, match=r"of schema 3, this curewatch knows up to 1: install"
        ):
            Database.open(path, read_only=read_only)
    assert path.read_bytes() == before


def test_reading_an_older_schema_asks_for_the_daemon_to_migrate_it(tmp_path: Path) -> None:
    path = tmp_path / "shop.db"
    Database.open(path).close()
    with pytest.raises(StorageError, match=r"of schema 1 and this curewatch reads 3: start"):
        Database.open(path, read_only=True, steps=FUTURE)


def test_a_step_that_fails_leaves_the_schema_before_it(tmp_path: Path) -> None:
    path = tmp_path / "shop.db"
    filled(path, steps())
    before = dump(path)

    def half(connection: apsw.Connection) -> None:
        connection.execute("DELETE FROM coat")
        connection.execute("CREATE TABLE coat (x)")

    with pytest.raises(StorageError, match="already exists"):
        Database.open(path, steps=(*steps(), Step(2, half)))
    assert dump(path) == before
    with Database.open(path) as db:
        assert db.schema_number() == 1


def test_a_step_that_leaves_rows_pointing_nowhere_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "shop.db"
    filled(path, steps())
    orphans = Step(2, lambda connection: connection.execute("DELETE FROM piece"))
    with pytest.raises(StorageError, match=r"step 2 .* left 2 rows that point nowhere"):
        Database.open(path, steps=(*steps(), orphans))
    with Store.open(path) as store:
        assert len(store.pieces.load_all()) == 1


def test_a_step_that_undid_itself_reports_its_own_error(tmp_path: Path) -> None:
    def undone(connection: apsw.Connection) -> None:
        connection.execute("ROLLBACK")
        connection.execute("SELECT * FROM nowhere")

    with pytest.raises(StorageError, match="no such table: nowhere"):
        Database.open(tmp_path / "shop.db", steps=(*steps(), Step(2, undone)))


def test_a_step_another_process_took_meanwhile_is_not_taken_again(tmp_path: Path) -> None:
    path = tmp_path / "shop.db"
    taken: list[int] = []

    def first(connection: apsw.Connection) -> None:
        connection.execute("CREATE TABLE once (a)")
        taken.append(1)

    through = (*steps(), Step(2, first))
    Database.open(path, steps=through).close()
    Database.open(path, steps=through).close()
    assert taken == [1]
