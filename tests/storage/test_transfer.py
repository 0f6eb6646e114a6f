from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import apsw
import pytest

from curewatch.errors import BadInput, StorageError
from curewatch.shop.alert import Alert, AlertKind, AlertPhase
from curewatch.shop.piece import Coat, Fill, Outcome, Work, WorkKind
from curewatch.shop.reading import Origin, Quantity, Reading, Urgency
from curewatch.storage import Store
from curewatch.storage.export import NOUNS, TABLES, export_rows
from curewatch.storage.lock import daemon_lock, daemon_of
from curewatch.storage.migrations import steps
from curewatch.storage.transfer import backup, restore
from tests.storage.old_files import fill

AT_MS = 1_700_000_000_000  # 2023-11-14 22:13:20 UTC


def values(path: Path) -> list[float]:
    with Store.open(path) as store:
        return [reading.value for reading in store.readings.rows(0, 2**40)]


def filled(path: Path, value: float) -> None:
    with Store.open(path) as store:
        store.readings.add([Reading("s1", Quantity.TEMPERATURE, 1, value)])


def test_a_backup_is_one_whole_file_with_everything_committed(tmp_path: Path) -> None:
    path, copy = tmp_path / "shop.db", tmp_path / "away" / "copy.db"
    copy.parent.mkdir()
    with Store.open(path) as store:
        store.readings.add([Reading("s1", Quantity.TEMPERATURE, 1, 20.0)])
        size = backup(store.db, copy)
    assert size == copy.stat().st_size
    assert [name.name for name in copy.parent.iterdir()] == ["copy.db"]
    assert values(copy) == [20.0]


def test_a_newer_backup_replaces_the_older(tmp_path: Path) -> None:
    copy = tmp_path / "copy.db"
    for value in (20.0, 21.0):
        filled(tmp_path / f"{value}.db", value)
        with Store.open(tmp_path / f"{value}.db") as store:
            backup(store.db, copy)
    assert values(copy) == [21.0]


def test_a_file_that_is_no_backup_is_not_replaced(store: Store, tmp_path: Path) -> None:
    foreign = tmp_path / "foreign.db"
    connection = apsw.Connection(str(foreign))
    connection.execute("CREATE TABLE letters (a)")
    connection.close()
    letter = tmp_path / "letter.txt"
    letter.write_text("Dear customer, your guitar is ready. " * 5)
    for path in (foreign, letter):
        before = path.read_bytes()
        with pytest.raises(StorageError, match="which is no backup of curewatch; it was left"):
            backup(store.db, path)
        assert path.read_bytes() == before
    (tmp_path / "empty.db").write_bytes(b"")
    assert backup(store.db, tmp_path / "empty.db") > 0


def test_another_shops_database_in_use_is_not_replaced(store: Store, tmp_path: Path) -> None:
    other = tmp_path / "other.db"
    filled(other, 20.0)
    with daemon_lock(other), pytest.raises(StorageError, match="that is a database in use"):
        backup(store.db, other)
    with Store.open(other) as used:
        used.meta.set("a", 1)
        with pytest.raises(StorageError, match="that is a database in use"):
            backup(store.db, other)
    assert values(other) == [20.0]


_WRITER = """
import sys
from curewatch.shop.reading import Quantity, Reading
from curewatch.storage import Store
with Store.open(sys.argv[1]) as store:
    at = 0
    while True:
        batch = [Reading("s1", Quantity.TEMPERATURE, at + i, 20.0) for i in range(100)]
        store.readings.add(batch)
        at += 100
        if at == 1000:
            print("writing", flush=True)
"""


@pytest.mark.crash
def test_a_backup_while_another_process_writes_holds_whole_batches(tmp_path: Path) -> None:
    path = tmp_path / "shop.db"
    with subprocess.Popen(
        [sys.executable, "-c", _WRITER, path], stdout=subprocess.PIPE, text=True
    ) as writer:
        try:
            assert writer.stdout is not None
            assert writer.stdout.readline() == "writing\n"
            sizes = []
            with Store.open(path) as store:
                for number in range(5):
                    backup(store.db, tmp_path / f"copy{number}.db")
                    sizes.append(len(values(tmp_path / f"copy{number}.db")))
        finally:
            writer.send_signal(signal.SIGKILL)
    assert sizes[0] >= 1000
    assert sizes == sorted(sizes)
    assert sizes[-1] > sizes[0]
    assert [size % 100 for size in sizes] == [0] * 5


def test_a_backup_onto_the_database_itself_or_inside_a_transaction_is_refused(
    store: Store, tmp_path: Path
) -> None:
    with pytest.raises(StorageError, match="this is the database itself"):
        backup(store.db, store.db.path)
    with store.db.transaction(), pytest.raises(StorageError, match="inside a transaction"):
        backup(store.db, tmp_path / "copy.db")
    assert not list(tmp_path.glob("copy*"))


def test_a_backup_that_cannot_be_written_leaves_nothing_behind(
    store: Store, tmp_path: Path
) -> None:
    (tmp_path / "file").write_text("")
    for place in (tmp_path / "file" / "copy.db", Path("/proc/nowhere/copy.db")):
        with pytest.raises(StorageError, match=r"cannot be written: .*look at the disk's room"):
            backup(store.db, place)
    (tmp_path / "copy.db").mkdir()
    with pytest.raises(StorageError, match="cannot be written: Is a directory"):
        backup(store.db, tmp_path / "copy.db")
    assert not list(tmp_path.glob("*.part*"))


def test_a_restored_backup_is_the_database(tmp_path: Path) -> None:
    path, copy = tmp_path / "new" / "shop.db", tmp_path / "copy.db"
    filled(copy, 20.0)
    assert restore(copy, path, at_ms=AT_MS) is None
    assert values(path) == [20.0]
    assert values(copy) == [20.0]
    assert path.stat().st_mode & 0o777 == 0o660


def test_restoring_over_a_database_needs_force_and_keeps_the_old_one(tmp_path: Path) -> None:
    path, copy = tmp_path / "shop.db", tmp_path / "copy.db"
    filled(path, 20.0)
    filled(copy, 21.0)
    with pytest.raises(StorageError, match="say --force"):
        restore(copy, path, at_ms=AT_MS)
    assert values(path) == [20.0]
    kept = restore(copy, path, at_ms=AT_MS, force=True)
    assert kept == tmp_path / "shop.db.before-20231114T221320Z"
    assert values(path) == [21.0]
    assert values(kept) == [20.0]
    with pytest.raises(StorageError, match="it is there already: move it away"):
        restore(copy, path, at_ms=AT_MS, force=True)


def test_what_a_killed_process_left_in_the_log_is_kept_with_the_old_database(
    tmp_path: Path,
) -> None:
    path, copy = tmp_path / "shop.db", tmp_path / "copy.db"
    filled(copy, 21.0)
    with subprocess.Popen(
        [sys.executable, "-c", _WRITER, path], stdout=subprocess.PIPE, text=True
    ) as writer:
        assert writer.stdout is not None
        writer.stdout.readline()
        writer.send_signal(signal.SIGKILL)
    assert (tmp_path / "shop.db-wal").stat().st_size > 0
    kept = restore(copy, path, at_ms=AT_MS, force=True)
    assert values(path) == [21.0]
    assert kept is not None
    assert len(values(kept)) >= 1000


def test_a_damaged_database_is_kept_as_it_was_and_replaced(tmp_path: Path) -> None:
    path, copy = tmp_path / "shop.db", tmp_path / "copy.db"
    path.write_bytes(b"no longer a database" * 100)
    (tmp_path / "shop.db-wal").write_bytes(b"some log")
    filled(copy, 21.0)
    kept = restore(copy, path, at_ms=AT_MS, force=True)
    assert kept is not None
    assert kept.read_bytes() == b"no longer a database" * 100
    assert kept.with_name(f"{kept.name}-wal").read_bytes() == b"some log"
    assert values(path) == [21.0]


def test_nothing_is_restored_while_a_daemon_has_the_lock(tmp_path: Path) -> None:
    path, copy = tmp_path / "shop.db", tmp_path / "copy.db"
    filled(copy, 21.0)
    assert daemon_of(path) is None
    with daemon_lock(path):
        assert daemon_of(path) == str(os.getpid())
        with pytest.raises(
            StorageError, match=rf"a daemon uses it already \(process {os.getpid()}"
        ):
            restore(copy, path, at_ms=AT_MS)
    assert daemon_of(path) is None
    restore(copy, path, at_ms=AT_MS)


def test_a_lock_that_cannot_be_made_says_so(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with (
        pytest.raises(StorageError, match=r"lock file .* cannot be made"),
        daemon_lock(tmp_path / "file" / "shop.db"),
    ):
        pass


def test_nothing_is_restored_while_a_command_has_the_database_open(tmp_path: Path) -> None:
    path, copy = tmp_path / "shop.db", tmp_path / "copy.db"
    filled(copy, 21.0)
    with Store.open(path) as store:
        store.meta.set("a", 1)
        with pytest.raises(StorageError, match="kept it locked"):
            restore(copy, path, at_ms=AT_MS, force=True)
        store.meta.set("a", 2)
    assert values(path) == []


def test_a_backup_that_is_not_whole_is_not_restored(tmp_path: Path) -> None:
    path = tmp_path / "shop.db"
    filled(path, 20.0)
    with pytest.raises(StorageError, match="no such file"):
        restore(tmp_path / "none.db", path, at_ms=AT_MS, force=True)
    with pytest.raises(StorageError, match="this is the database itself"):
        restore(path, path, at_ms=AT_MS, force=True)
    text = tmp_path / "text.db"
    text.write_text("time,temp\n" * 500)
    with pytest.raises(StorageError, match=r"text\.db: it is not a database"):
        restore(text, path, at_ms=AT_MS, force=True)
    (tmp_path / "empty.db").write_bytes(b"")
    with pytest.raises(StorageError, match="it is empty: choose another backup"):
        restore(tmp_path / "empty.db", path, at_ms=AT_MS, force=True)
    newer = tmp_path / "newer.db"
    filled(newer, 22.0)
    connection = apsw.Connection(str(newer))
    connection.execute("PRAGMA user_version = 99")
    connection.close()
    with pytest.raises(StorageError, match="of schema 99"):
        restore(newer, path, at_ms=AT_MS, force=True)
    assert values(path) == [20.0]
    assert sorted(name.name for name in tmp_path.glob("shop.db*")) == ["shop.db", "shop.db.lock"]


def test_a_file_of_another_program_is_not_restored(tmp_path: Path) -> None:
    path, foreign = tmp_path / "shop.db", tmp_path / "foreign.db"
    filled(path, 20.0)
    connection = apsw.Connection(str(foreign))
    connection.execute("CREATE TABLE letters (a)")
    connection.close()
    with pytest.raises(StorageError, match="it belongs to another program"):
        restore(foreign, path, at_ms=AT_MS, force=True)
    assert values(path) == [20.0]
    assert not list(tmp_path.glob("shop.db.before*"))


def test_a_backup_of_the_first_schema_is_restored_and_migrated_when_opened(tmp_path: Path) -> None:
    path, copy = tmp_path / "shop.db", tmp_path / "copy.db"
    fill(copy, steps()[:1], rows_to=1)
    restore(copy, path, at_ms=AT_MS)
    with Store.open(path) as store:
        assert store.db.schema_number() == steps()[-1].number
        assert store.pieces.load("D-1").coats[0].wet_um == 100.0


def test_a_damaged_backup_is_not_restored(tmp_path: Path) -> None:
    path, copy = tmp_path / "shop.db", tmp_path / "copy.db"
    with Store.open(copy) as store:
        for index in range(3000):
            store.db.execute("INSERT INTO meta VALUES (?, ?)", (f"name{index}", "x" * 50))
    spoilt = bytearray(copy.read_bytes())
    spoilt[-60_000:] = b"\xa5" * 60_000
    copy.write_bytes(spoilt)
    with pytest.raises(StorageError, match="damaged"):
        restore(copy, path, at_ms=AT_MS)
    assert not path.exists()


def test_everything_kept_comes_out_as_plain_rows(store: Store) -> None:
    store.readings.add(
        [
            Reading("s1", Quantity.TEMPERATURE, 1, 20.5),
            Reading("s1", Quantity.HUMIDITY, 2, 0.5, Origin.TYPED),
            Reading("s1", Quantity.TEMPERATURE, 3, 99.0),
        ]
    )
    store.readings.void("s1", 3, 4, "hand on it", 9)
    store.pieces.hang("D-1", "waterborne", 1, title="door", at_ms=1, entered_ms=2, room="booth")
    coat = store.pieces.coat("D-1", Coat(5, 100.0), 6)
    store.pieces.void("coat", coat, "other piece", 7)
    store.pieces.work("D-1", Work(WorkKind.SCUFF, 8), 9)
    store.pieces.outcome("D-1", Outcome(10, "fine"), 11)
    store.pieces.leave("D-1", 12, 13)
    store.fills.add(Fill("booth", 1, 2, 20.0, 0.5, "heater log"), 14)
    store.alerts.save(
        Alert(AlertKind.GAP, "room:booth", Urgency.NOTE, AlertPhase.WATCHING, 5, "why", "look")
    )
    rows = {noun: list(export_rows(store, noun)) for noun in NOUNS}
    assert rows["readings"][0] == {
        "sensor": "s1",
        "quantity": "temperature",
        "at_ms": 1,
        "value": 20.5,
        "origin": "own_time",
        "flags": 0,
    }
    assert rows["voided-readings"][0]["void_why"] == "hand on it"
    assert rows["pieces"] == [
        {
            "tag": "D-1",
            "finish": "waterborne",
            "finish_revision": 1,
            "title": "door",
            "hung_ms": 1,
            "room": None,
            "left_ms": 12,
            "void_why": None,
            "void_ms": None,
            "number": 1,
        }
    ]
    assert list(rows["pieces"][0])[-1] == "number"  # columns that came later come last
    assert (rows["coats"][0]["wet_um"], rows["coats"][0]["void_why"]) == (100.0, "other piece")
    assert [row["room"] for row in rows["moves"]] == ["booth", None]
    assert rows["alert-events"][0]["phase"] == "watching"
    assert [row["at_ms"] for row in export_rows(store, "readings", start_ms=2, stop_ms=3)] == [2]


def test_a_noun_nobody_keeps_cannot_be_exported(store: Store) -> None:
    with pytest.raises(BadInput, match="choose one of readings, pieces, coats"):
        export_rows(store, "secrets")


def test_every_noun_comes_out_of_a_full_file_and_out_of_its_restored_backup(tmp_path: Path) -> None:
    path, copy, back = (tmp_path / name for name in ("shop.db", "copy.db", "back.db"))
    fill(path, steps(), rows_to=steps()[-1].number)
    with Store.open(path) as store:
        rows = {noun: list(export_rows(store, noun)) for noun in NOUNS}
        backup(store.db, copy)
    assert [noun for noun, found in rows.items() if not found] == []
    restore(copy, back, at_ms=AT_MS)
    with Store.open(back) as store:
        assert {noun: list(export_rows(store, noun)) for noun in NOUNS} == rows


# Tables that are no nouns of their own: their rows come with others, can be worked out again, or
# are of no use outside this file.
NOT_NOUNS = {
    *("sensor", "last_heard", "void", "reading_void", "batch_gone", "quarantine_release"),
    *("rejection", "thinning", "touched", "notice", "meta"),
    *("judged", "room_hours", "page_session", "state"),
}


def test_every_table_is_exported_or_known_not_to_be(tmp_path: Path) -> None:
    path = tmp_path / "shop.db"
    Store.open(path).close()
    connection = apsw.Connection(str(path))
    tables = {
        str(name)
        for (name,) in connection.execute(
            "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%'"
        )
    }
    read: set[str] = {"reading"}  # it has a reader of its own

    def note(_: int, table: str, *__: object) -> int:
        read.add(table)
        return int(apsw.SQLITE_OK)

    connection.authorizer = lambda op, one, two, *rest: note(op, one or "", two, *rest)
    for _, query in TABLES.values():
        connection.execute(query).fetchall()
    connection.close()
    assert tables - read - NOT_NOUNS == set()


def test_what_people_decided_comes_out_with_names_instead_of_numbers(tmp_path: Path) -> None:
    path = tmp_path / "shop.db"
    fill(path, steps(), rows_to=steps()[-1].number)
    with Store.open(path) as store:
        rows = {noun: list(export_rows(store, noun)) for noun in NOUNS}
    assert (rows["coats"][-1]["batch"], rows["coats"][-1]["who"]) == ("P1", "ann")
    assert (rows["work"][0]["who"], rows["outcomes"][0]["who"]) == ("", "")
    plan = rows["room-plans"][0]
    assert (plan["why"], plan["left_alone"], plan["void_why"]) == ("heater off", 1, "stayed on")
    assert (rows["joinings"][0]["part"], rows["joinings"][0]["onto"]) == ("D-1", "D-2")
    hold = rows["quarantines"][0]
    assert (hold["why"], hold["released_ms"], hold["release_why"]) == ("froze", 63, "tested")
    assert (rows["trial-boards"][0]["trial"], rows["trial-boards"][0]["tag"]) == ("T1", "D-1")
    assert (rows["scores"][0]["unit"], rows["scores"][0]["angle_deg"]) == ("GU", 60.0)
