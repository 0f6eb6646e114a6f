"""Back-up and restore of the whole file."""

from __future__ import annotations

import os
import shutil
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import apsw

from curewatch.errors import StorageError
from curewatch.storage import migrations
from curewatch.storage.database import FILE_MODE, copy_pages, sync_directory
from curewatch.storage.faults import faults_explained
from curewatch.storage.lock import daemon_lock, daemon_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from curewatch.storage.database import Database

_WAIT_MS = 2000  # for short commands of other processes to end


def backup(db: Database, path: Path | str) -> int:
    """Copy the database to `path` while others go on writing; return the copy's size [bytes].

    The copy is one state of the file, checked before it takes its name; a file that was there
    before is replaced at once or not at all, and only when it is an older backup (or empty).

    Raises
    ------
    StorageError
        When `path` cannot be written, is the database itself, is in use or something else than a
        backup, or the copy does not check.
    """
    path = Path(path)
    if path.exists() and path.samefile(db.path):
        raise StorageError(f"backup {path}: this is the database itself: give another file name")
    if path.is_file():
        _check_older_backup(path)
    with _new_file(path) as part:
        db.copy_to(part)
        _settle(part)
    return path.stat().st_size


def restore(
    backup_path: Path | str, path: Path | str, *, at_ms: int, force: bool = False
) -> Path | None:
    """Put the backup in the database's place; return where the old one was kept.

    The backup is checked first. With `force` an existing database is kept aside under a name
    with the date of `at_ms`; an older schema is migrated when it is opened next.

    Raises
    ------
    StorageError
        When a daemon or a command uses the database, there is one and `force` is not given, or
        the backup is missing, damaged, of another program or of a newer schema.
    """
    backup_path, path = Path(backup_path), Path(path)
    if not backup_path.is_file():
        raise StorageError(f"backup {backup_path}: there is no such file: look at its path")
    if path.exists() and path.samefile(backup_path):
        raise StorageError(f"backup {backup_path}: this is the database itself")
    with daemon_lock(path):
        if path.exists() and not force:
            raise StorageError(
                f"database {path}: there is one already: say --force to put the backup in its "
                "place; the old one is kept aside"
            )
        kept = None
        with _new_file(path) as part:
            _copy_checked(backup_path, part)
            if path.exists():
                _like(part, path)
                kept = _set_aside(path, at_ms)
    return kept


_HEADER = b"SQLite format 3\x00"  # the file format's own description, section 1.3
_OWNER_AT = 68  # where it keeps the application's number, big-endian (same)


def _check_older_backup(path: Path) -> None:
    """Make sure that the file about to be replaced is one of ours, and a copy at rest."""
    try:
        with path.open("rb") as file:
            head = file.read(100)
        in_use = any(side.exists() for side in _side_files(path)) or daemon_of(path) is not None
    except OSError as error:
        raise StorageError(
            f"backup {path}: what is there cannot be read, and was left alone: {error.strerror}: "
            "give another file name"
        ) from error
    owner = int.from_bytes(head[_OWNER_AT : _OWNER_AT + 4], "big")
    if head and not (head.startswith(_HEADER) and owner == migrations.APPLICATION_ID):
        raise StorageError(
            f"backup {path}: there is a file of that name which is no backup of curewatch; it was "
            "left alone: give another file name"
        )
    if in_use:
        raise StorageError(
            f"backup {path}: that is a database in use, no copy at rest; it was left alone: give "
            "another file name"
        )


@contextmanager
def _new_file(path: Path) -> Iterator[Path]:
    """Give a name beside `path` to write to; afterwards it becomes `path`, or is gone."""
    part = path.with_name(f"{path.name}.part")
    try:
        part.unlink(missing_ok=True)
        os.close(os.open(part, os.O_RDWR | os.O_CREAT | os.O_EXCL, FILE_MODE))
        part.chmod(FILE_MODE)
        yield part
        _sync(part)
        part.replace(path)
        sync_directory(path.parent)
    except OSError as error:
        raise StorageError(
            f"file {path}: it cannot be written: {error.strerror}: look at the disk's room and "
            "at who may write there"
        ) from error
    finally:
        for name in (part, *_side_files(part)):
            with suppress(OSError):  # never written, or already in place
                name.unlink()


def _copy_checked(source: Path, target: Path) -> None:
    """Copy a backup after making sure this program may use it, and check the copy."""
    with faults_explained(source):
        connection = apsw.Connection(os.fspath(source), flags=apsw.SQLITE_OPEN_READONLY)
        copy = apsw.Connection(os.fspath(target), flags=apsw.SQLITE_OPEN_READWRITE)
        try:
            newest = migrations.steps()[-1].number
            if migrations.check_ours(connection, newest, str(source)) == 0:
                raise StorageError(f"backup {source}: it is empty: choose another backup")
            copy_pages(connection, copy)
        finally:
            copy.close()
            connection.close()
    _settle(target)


def _settle(path: Path) -> None:
    """Make a fresh copy one single file, and check it."""
    with faults_explained(path):
        connection = apsw.Connection(os.fspath(path), flags=apsw.SQLITE_OPEN_READWRITE)
        try:
            connection.execute("PRAGMA journal_mode = DELETE")
            found = [str(line) for (line,) in connection.execute("PRAGMA quick_check")]
        finally:
            connection.close()
    if found != ["ok"]:
        raise StorageError(
            f"copy {path}: it is damaged and was not taken: {found[0]}: use an older backup"
        )


def _set_aside(path: Path, at_ms: int) -> Path:
    """Give the old database a second, dated name, with what it holds in its write-ahead log."""
    when = datetime.fromtimestamp(at_ms / 1000.0, UTC).strftime("%Y%m%dT%H%M%SZ")
    kept = path.with_name(f"{path.name}.before-{when}")
    if kept.exists():
        raise StorageError(f"file {kept}: it is there already: move it away and try again")
    log, kept_log = _side_files(path)[0], _side_files(kept)[0]
    with suppress(FileNotFoundError):
        shutil.copyfile(log, kept_log)  # opening a damaged database would throw its log away
    if _fold_in_log(path):
        kept_log.unlink(missing_ok=True)
    for side in _side_files(path):
        side.unlink(missing_ok=True)  # it must not meet the new database
    os.link(path, kept)  # a second name: there is no moment without a database
    return kept


def _fold_in_log(path: Path) -> bool:
    """Write the log into the file, and make sure that nobody else has it open.

    Returns whether the log is folded in; it is not where the file is damaged.
    """
    with faults_explained(path):
        connection = apsw.Connection(os.fspath(path), flags=apsw.SQLITE_OPEN_READWRITE)
        try:
            connection.set_busy_timeout(_WAIT_MS)
            connection.execute("PRAGMA locking_mode = EXCLUSIVE").fetchall()
            connection.execute("BEGIN EXCLUSIVE; COMMIT")
            connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()
        except (apsw.NotADBError, apsw.CorruptError):
            return False
        finally:
            connection.close()
    return True


def _side_files(path: Path) -> tuple[Path, Path]:
    """Return the names of a database's log and its index."""
    return path.with_name(f"{path.name}-wal"), path.with_name(f"{path.name}-shm")


def _like(part: Path, path: Path) -> None:
    """Give a new file the owner and group of the one it replaces, as far as allowed."""
    was = path.stat()
    with suppress(PermissionError):
        os.chown(part, was.st_uid, was.st_gid)


def _sync(path: Path) -> None:
    """Make sure the file's content is on the disk."""
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
