"""The one connection to the SQLite file: opening, transactions, errors in words."""

from __future__ import annotations

import os
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self

import apsw

from curewatch.errors import StorageError
from curewatch.storage import migrations
from curewatch.storage.faults import explained, faults_explained

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from types import TracebackType

Row = tuple[Any, ...]
Arguments = tuple[str | int | float | bytes | None, ...]

BUSY_TIMEOUT_MS = 5000
FILE_MODE = 0o660  # the shop's commands share a group with the daemon
DIRECTORY_MODE = 0o770

_PRAGMAS = """
PRAGMA synchronous = FULL;
PRAGMA wal_autocheckpoint = 1000;
PRAGMA journal_size_limit = 8388608;
PRAGMA temp_store = MEMORY;
PRAGMA cache_size = -4096;
PRAGMA foreign_keys = ON;
PRAGMA mmap_size = 0;
"""


def sqlite_version() -> str:
    """Return the version of the SQLite that apsw carries."""
    return str(apsw.sqlite_lib_version())


class Database:
    """One connection to the file, for one thread at a time.

    Other processes read and write the same file; each write is a short transaction of its own.

    Attributes
    ----------
    path: the file.
    read_only: whether this connection refuses to write.
    rollbacks: how many transactions were undone; whoever caches what it wrote compares it.
    """

    def __init__(self, connection: apsw.Connection, path: Path, *, read_only: bool) -> None:
        """Take an open connection; use `open`."""
        self._connection = connection
        self._depth = 0
        self.path = path
        self.read_only = read_only
        self.rollbacks = 0

    @classmethod
    def open(
        cls,
        path: Path | str,
        *,
        read_only: bool = False,
        steps: tuple[migrations.Step, ...] | None = None,
    ) -> Self:
        """Open the file at `path`, creating and migrating it unless `read_only`.

        Raises
        ------
        StorageError
            With cause and fix: a directory that cannot be written, not a database, a newer
            schema than this program knows, a damaged file.
        """
        path = Path(path)
        through = migrations.steps() if steps is None else steps
        if read_only and not path.exists():
            raise StorageError(
                f"database {path}: there is none yet: start the daemon with 'curewatch run', or "
                "look at the [storage] path"
            )
        if not read_only:
            _create(path)
        with faults_explained(path):
            connection = apsw.Connection(os.fspath(path), flags=apsw.SQLITE_OPEN_READWRITE)
        database = cls(connection, path, read_only=read_only)
        try:
            with faults_explained(path):
                database._set_up(through)
        except BaseException:
            connection.close()
            raise
        return database

    def _set_up(self, through: tuple[migrations.Step, ...]) -> None:
        """Set the pragmas and see to the schema."""
        connection = self._connection
        connection.set_busy_timeout(BUSY_TIMEOUT_MS)
        name, newest = str(self.path), through[-1].number
        number = migrations.check_ours(connection, newest, name)
        connection.execute(_PRAGMAS).fetchall()  # unread rows would hold up the rest
        if self.read_only:
            if number < newest:
                raise StorageError(
                    f"database {name}: it is of schema {number} and this curewatch reads {newest}: "
                    "start the daemon once, it migrates the file"
                )
            connection.execute("PRAGMA query_only = ON")
            return
        if connection.readonly("main"):
            raise explained(self.path, apsw.ReadOnlyError("opened read-only by the system"))
        if connection.execute("PRAGMA journal_mode").get != "wal":
            connection.execute("PRAGMA journal_mode = WAL")
        migrations.migrate(connection, name, through=through)

    def release_memory(self) -> None:
        """Let go of the pages held in memory; they are read again when they are needed."""
        with faults_explained(self.path):
            self._connection.execute("PRAGMA shrink_memory")

    def close(self) -> None:
        """Close the connection; closing twice is harmless."""
        with faults_explained(self.path):
            self._connection.close()

    def __enter__(self) -> Self:
        """Use as a context that closes."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Close."""
        self.close()

    @contextmanager
    def transaction(self) -> Iterator[None]:
        """Write everything inside or nothing; committed to the disk when it ends.

        Used inside another one it joins that: what is written is safe when the outermost ends,
        and an error inside undoes the inner part whether or not the outer one goes on.
        """
        outermost = self._depth == 0
        begin, keep, undo = (
            ("BEGIN IMMEDIATE", "COMMIT", "ROLLBACK")
            if outermost
            else ("SAVEPOINT inner", "RELEASE inner", "ROLLBACK TO inner; RELEASE inner")
        )
        self.execute(begin)
        self._depth += 1
        try:
            yield
            self.execute(keep)
        except BaseException:
            self.rollbacks += 1
            if self._connection.in_transaction:  # a full disk has undone it already
                self.execute(undo)
            raise
        finally:
            self._depth -= 1

    @contextmanager
    def snapshot(self) -> Iterator[None]:
        """Read everything inside from one state of the file."""
        if self._connection.in_transaction:
            yield
            return
        self.execute("BEGIN")
        try:
            yield
        finally:
            self.execute("COMMIT")

    def execute(self, sql: str, arguments: Arguments = ()) -> None:
        """Run one statement for its effect."""
        with faults_explained(self.path):
            self._connection.execute(sql, arguments).fetchall()

    def changed(self, sql: str, arguments: Arguments = ()) -> int:
        """Run one statement and return how many rows it changed."""
        self.execute(sql, arguments)
        return self._connection.changes()

    def insert(self, sql: str, arguments: Arguments = ()) -> int:
        """Run one INSERT and return the new row's number."""
        self.execute(sql, arguments)
        return self._connection.last_insert_rowid()

    def many(self, sql: str, arguments: Iterable[Arguments]) -> list[Row]:
        """Run one statement for each of `arguments` and return all rows they gave."""
        with faults_explained(self.path):
            return self._connection.executemany(sql, arguments).fetchall()

    def rows(self, sql: str, arguments: Arguments = ()) -> list[Row]:
        """Return the rows of a query."""
        with faults_explained(self.path):
            return self._connection.execute(sql, arguments).fetchall()

    def row(self, sql: str, arguments: Arguments = ()) -> Row | None:
        """Return the first row of a query, None when there is none."""
        with faults_explained(self.path):
            return self._connection.execute(sql, arguments).fetchone()

    def value(self, sql: str, arguments: Arguments = ()) -> Any:  # noqa: ANN401 - as the column has it
        """Return the first column of a query's first row, None when there is none."""
        found = self.row(sql, arguments)
        return None if found is None else found[0]

    @contextmanager
    def cursor(self, sql: str, arguments: Arguments = ()) -> Iterator[Iterator[Row]]:
        """Hand out the rows of a query as they come; for scans too large to fetch at once."""
        with faults_explained(self.path):
            cursor = self._connection.execute(sql, arguments)
            try:
                yield cursor
            finally:
                cursor.close(True)

    def data_version(self) -> int:
        """Return a number that changes when another connection has written."""
        return int(self.value("PRAGMA data_version"))

    def schema_number(self) -> int:
        """Return the number of the file's schema."""
        with faults_explained(self.path):
            return migrations.schema_number(self._connection)

    def copy_to(self, target: Path) -> None:
        """Copy one committed state of the database to the empty file `target`.

        Raises
        ------
        StorageError
            When it is called inside a transaction.
        """
        if self._connection.in_transaction:
            raise StorageError(f"database {self.path}: it is not copied inside a transaction")
        with faults_explained(target):
            copy = apsw.Connection(os.fspath(target), flags=apsw.SQLITE_OPEN_READWRITE)
            try:
                copy_pages(self._connection, copy)
            finally:
                copy.close()

    def quick_check(self) -> tuple[str, ...]:
        """Return what SQLite's own check finds wrong with the file; nothing when it is sound."""
        try:
            found = self._connection.execute("PRAGMA quick_check").fetchall()
        except apsw.Error as error:
            return (str(explained(self.path, error)),)
        return tuple(str(line) for (line,) in found if line != "ok")


def _create(path: Path) -> None:
    """Make an empty file for the group to write, and its directory, where they are missing."""
    if path.is_file():
        return  # never opened here: closing it would drop SQLite's own locks on it
    try:
        path.parent.mkdir(mode=DIRECTORY_MODE, parents=True, exist_ok=True)
        handle = os.open(path, os.O_RDWR | os.O_CREAT | os.O_EXCL, FILE_MODE)
    except OSError as error:
        if path.is_file():
            return  # another process was faster
        raise StorageError(
            f"database {path}: it cannot be created: {error.strerror}: make its directory "
            "writable for this user, or give another path under [storage] path"
        ) from error
    try:
        os.fchmod(handle, FILE_MODE)
        if os.geteuid() == 0:  # the daemon's user must be able to go on with it
            folder = path.parent.stat()
            os.fchown(handle, folder.st_uid, folder.st_gid)
    finally:
        os.close(handle)
    sync_directory(path.parent)


def copy_pages(source: apsw.Connection, target: apsw.Connection) -> None:
    """Copy one state of everything behind `source` into `target`."""
    with target.backup("main", source, "main") as pages:
        pages.step()  # all at once: with pauses a write in between would make it begin again


def sync_directory(folder: Path) -> None:
    """Make sure that a new name in `folder` survives a power cut."""
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
