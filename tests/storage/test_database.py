from __future__ import annotations

import contextlib
import os
import signal
import stat
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

import apsw
import pytest

from curewatch.errors import StorageError
from curewatch.storage import Database, Store, sqlite_version
from curewatch.storage.faults import explained

if TYPE_CHECKING:
    from collections.abc import Iterator


def test_a_new_file_is_for_the_group_whatever_the_umask(tmp_path: Path) -> None:
    before = os.umask(0o077)
    try:
        Database.open(tmp_path / "new" / "dir" / "shop.db").close()
    finally:
        os.umask(before)
    assert stat.S_IMODE((tmp_path / "new" / "dir" / "shop.db").stat().st_mode) == 0o660


@pytest.mark.parametrize(
    ("pragma", "value"),
    [
        ("journal_mode", "wal"),
        ("synchronous", 2),  # FULL
        ("wal_autocheckpoint", 1000),
        ("journal_size_limit", 8 * 1024 * 1024),
        ("temp_store", 2),  # MEMORY
        ("cache_size", -4096),
        ("foreign_keys", 1),
        ("busy_timeout", 5000),
    ],
)
def test_the_connection_is_set_for_durable_writes(
    store: Store, pragma: str, value: int | str
) -> None:
    assert store.db.value(f"PRAGMA {pragma}") == value


def test_it_runs_on_an_sqlite_without_the_log_reset_fault() -> None:
    # SQLite's release notes: the fault is in 3.7.0 to 3.51.2.
    assert tuple(map(int, sqlite_version().split("."))) > (3, 51, 2)


def test_what_a_transaction_wrote_is_there_after_opening_again(tmp_path: Path) -> None:
    with Store.open(tmp_path / "shop.db") as store:
        store.meta.set("site", "north")
        store.meta.set("cursor", 2**53 + 1)
    with Store.open(tmp_path / "shop.db") as store:
        assert (store.meta.get("site"), store.meta.get("cursor")) == ("north", 2**53 + 1)
        assert store.meta.get("nothing") is None
        store.meta.set("site", "south")
        assert store.meta.get("site") == "south"


def test_an_error_undoes_the_whole_transaction(store: Store) -> None:
    with pytest.raises(ZeroDivisionError), store.db.transaction():
        store.meta.set("a", 1 // 0)
    with contextlib.suppress(ZeroDivisionError), store.db.transaction():
        store.meta.set("a", 1)
        store.meta.set("b", 1 // 0)
    assert store.meta.get("a") is None
    assert store.db.rollbacks == 2


def test_an_inner_transaction_is_undone_alone_and_kept_with_the_outer(store: Store) -> None:
    with store.db.transaction():
        store.meta.set("outer", 1)
        with contextlib.suppress(ZeroDivisionError), store.db.transaction():
            store.meta.set("inner", 1)
            store.meta.set("never", 1 // 0)
        store.meta.set("after", 1)
    kept = {name: store.meta.get(name) for name in ("outer", "inner", "never", "after")}
    assert kept == {"outer": 1, "inner": None, "never": None, "after": 1}
    with contextlib.suppress(ZeroDivisionError), store.db.transaction():
        with store.db.transaction():
            store.meta.set("inner", 1)
        store.meta.set("never", 1 // 0)
    assert store.meta.get("inner") is None


def test_an_undoing_by_the_disk_itself_is_not_undone_twice(store: Store) -> None:
    store.meta.set("b", 1)
    with pytest.raises(StorageError, match="rules"), store.db.transaction():
        store.db.execute(
            "INSERT INTO meta VALUES ('a', 1); INSERT OR ROLLBACK INTO meta VALUES ('b', 2)"
        )
    assert store.meta.get("a") is None


def test_a_snapshot_reads_one_state_while_another_connection_writes(tmp_path: Path) -> None:
    path = tmp_path / "shop.db"
    with Store.open(path) as store, Store.open(path) as other:
        other.meta.set("a", 1)
        with store.db.snapshot():
            assert store.meta.get("a") == 1
            other.meta.set("a", 2)
            with store.db.snapshot():
                assert store.meta.get("a") == 1
        assert store.meta.get("a") == 2


def test_only_what_others_write_changes_the_data_version(tmp_path: Path) -> None:
    path = tmp_path / "shop.db"
    with Store.open(path) as store, Store.open(path) as other:
        before = store.db.data_version()
        store.meta.set("mine", 1)
        assert store.db.data_version() == before
        other.meta.set("theirs", 1)
        assert store.db.data_version() != before


def test_a_read_only_store_reads_and_refuses_to_write(tmp_path: Path) -> None:
    path = tmp_path / "shop.db"
    with Store.open(path) as writer, Store.open(path, read_only=True) as reader:
        writer.meta.set("a", 1)
        assert reader.meta.get("a") == 1
        assert reader.pieces.load_all() == ()
        with pytest.raises(StorageError, match="may only be read here"):
            reader.meta.set("a", 2)


def test_reading_what_is_not_there_says_how_to_begin(tmp_path: Path) -> None:
    with pytest.raises(StorageError, match="there is none yet: start the daemon"):
        Database.open(tmp_path / "shop.db", read_only=True)
    assert not (tmp_path / "shop.db").exists()


@pytest.mark.parametrize("read_only", [False, True])
def test_a_file_that_is_no_database_is_named_so(tmp_path: Path, *, read_only: bool) -> None:
    path = tmp_path / "shop.db"
    path.write_text("time,temp\n" * 200)
    with pytest.raises(StorageError, match=r"shop\.db: it is not a database.*restore a backup"):
        Database.open(path, read_only=read_only)


def test_a_directory_that_cannot_be_made_is_named_with_a_fix(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    for path in (tmp_path / "file" / "shop.db", Path("/proc/nowhere/shop.db")):
        with pytest.raises(StorageError, match=r"cannot be created: .*make its directory writable"):
            Database.open(path)


def test_a_directory_in_the_files_place_is_named_with_a_fix(tmp_path: Path) -> None:
    (tmp_path / "shop.db").mkdir()
    with pytest.raises(StorageError, match="cannot be created: File exists"):
        Database.open(tmp_path / "shop.db")


@contextlib.contextmanager
def nobody_may_write(*, folder_mode: int = 0o555) -> Iterator[Path]:
    """Give a folder with a database that is whole, and be a user who may only read that."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        Database.open(folder / "shop.db").close()
        (folder / "shop.db").chmod(0o444)
        folder.chmod(folder_mode)
        me = os.geteuid()
        if me == 0:  # no mode keeps the superuser out
            os.seteuid(65534)
        try:
            yield folder
        finally:
            os.seteuid(me)
            folder.chmod(0o755)


@pytest.mark.parametrize("folder_mode", [0o555, 0o777])
def test_a_database_this_user_may_only_read_is_refused_for_writing(folder_mode: int) -> None:
    with (
        nobody_may_write(folder_mode=folder_mode) as folder,
        pytest.raises(StorageError, match="may only be read here: run as the daemon's user"),
    ):
        Database.open(folder / "shop.db")


def test_a_directory_this_user_may_not_write_is_named_with_a_fix() -> None:
    with (
        nobody_may_write() as folder,
        pytest.raises(StorageError, match="cannot be created: Permission denied: make its dir"),
    ):
        Database.open(folder / "other.db")


def test_reading_where_no_log_can_be_made_says_to_join_the_group() -> None:
    with (
        nobody_may_write() as folder,
        pytest.raises(StorageError, match="run as the daemon's user or group"),
    ):
        Database.open(folder / "shop.db", read_only=True)


def test_another_programs_database_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "shop.db"
    other = apsw.Connection(str(path))
    other.execute("CREATE TABLE theirs (a)")
    other.close()
    before = path.read_bytes()
    with pytest.raises(StorageError, match="belongs to another program and was left alone"):
        Database.open(path)
    assert path.read_bytes() == before


def test_a_damaged_file_is_named_so(tmp_path: Path) -> None:
    path = tmp_path / "shop.db"
    with Store.open(path) as store:
        for index in range(3000):
            store.db.execute("INSERT INTO meta VALUES (?, ?)", (f"name{index}", "x" * 50))
        assert store.db.quick_check() == ()
    spoilt = bytearray(path.read_bytes())
    spoilt[-60_000:] = b"\xa5" * 60_000
    path.write_bytes(spoilt)
    with Store.open(path) as store:
        assert store.db.quick_check()
        with pytest.raises(StorageError, match="damaged: stop the daemon and restore"):
            store.db.rows("SELECT name, value FROM meta ORDER BY name")


def test_a_check_of_a_file_that_cannot_be_read_tells_why(tmp_path: Path) -> None:
    with Store.open(tmp_path / "shop.db") as store:
        store.close()
        (fault,) = store.db.quick_check()
    assert "closed already" in fault


def test_a_writer_that_waits_too_long_says_who_to_look_for(tmp_path: Path) -> None:
    path = tmp_path / "shop.db"
    with Store.open(path) as store, Store.open(path) as other:
        store.db.execute("PRAGMA busy_timeout = 1")
        with (
            other.db.transaction(),
            pytest.raises(StorageError, match="kept it locked for longer than 5 s"),
        ):
            store.meta.set("a", 1)


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (apsw.FullError("full"), "disk is full: make room"),
        (apsw.IOError("disk I/O error"), "look at the system log"),
        (apsw.CantOpenError("cannot open"), "run as the daemon's user or group"),
        (apsw.PermissionsError("permission"), "this user may not use it"),
        (apsw.ThreadingViolationError("threads"), "please report it"),
        (apsw.SQLError("no such table: x"), r"words in brackets \(no such table: x\)"),
    ],
)
def test_each_refusal_has_its_cause_and_fix(error: apsw.Error, words: str) -> None:
    with pytest.raises(StorageError, match=words):
        raise explained(Path("shop.db"), error)


def test_closing_twice_is_harmless(tmp_path: Path) -> None:
    database = Database.open(tmp_path / "shop.db")
    with database:
        pass
    database.close()


_WRITER = """
import sys
from curewatch.shop.reading import Quantity, Reading
from curewatch.storage import Store
path, name, count = sys.argv[1], sys.argv[2], int(sys.argv[3])
with Store.open(path) as store:
    for at in range(count):
        store.readings.add([Reading(name, Quantity.TEMPERATURE, at, 20.0)])
"""


@pytest.mark.crash
def test_processes_that_open_and_write_at_once_never_find_it_locked(tmp_path: Path) -> None:
    path = tmp_path / "shop.db"
    count = 150
    writers = [
        subprocess.Popen([sys.executable, "-c", _WRITER, path, f"s{n}", str(count)])
        for n in range(4)
    ]
    assert [writer.wait(120) for writer in writers] == [0, 0, 0, 0]
    with Store.open(path) as store:
        assert store.readings.counts() == {f"s{n}": count for n in range(4)}
        assert sum(1 for _ in store.readings.rows(0, count)) == 4 * count


_KILLED = """
import sys
from curewatch.shop.reading import Quantity, Reading
from curewatch.storage import Store
store = Store.open(sys.argv[1])
batch = lambda first: [Reading("s1", Quantity.TEMPERATURE, first + i, 20.0) for i in range(500)]
store.readings.add(batch(0))
print("committed", flush=True)
with store.db.transaction():
    store.readings.add(batch(1000))
    store.meta.set("half", 1)
    print("not committed", flush=True)
    sys.stdin.read()
"""


@pytest.mark.crash
def test_a_killed_process_leaves_what_was_committed_and_nothing_else(tmp_path: Path) -> None:
    path = tmp_path / "shop.db"
    with subprocess.Popen(
        [sys.executable, "-c", _KILLED, path],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as victim:
        assert victim.stdout is not None
        assert victim.stdout.readline() == "committed\n"
        assert victim.stdout.readline() == "not committed\n"
        victim.send_signal(signal.SIGKILL)
        assert victim.wait(30) == -signal.SIGKILL
    with Store.open(path) as store:
        assert [r.at_ms for r in store.readings.rows(0, 9999)] == list(range(500))
        assert store.meta.get("half") is None
        assert store.readings.counts() == {"s1": 500}
        assert store.db.quick_check() == ()
