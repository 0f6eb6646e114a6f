"""What a refusal of the database means, in words: cause and fix."""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING

import apsw

from curewatch.errors import StorageError

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

# Each says the cause and what to do about it.
_CAUSES: dict[type[apsw.Error], str] = {
    apsw.NotADBError: (
        "it is not a database: look at the [storage] path, or restore a backup with "
        "'curewatch restore FILE'"
    ),
    apsw.CorruptError: (
        "it is damaged: stop the daemon and restore the last backup with 'curewatch restore FILE'"
    ),
    apsw.FullError: "the disk is full: make room there; nothing of this step was kept",
    apsw.BusyError: (
        "another program kept it locked for longer than 5 s: look for a stuck command or a copy "
        "in progress, then try again"
    ),
    apsw.ReadOnlyError: (
        "it may only be read here: run as the daemon's user or group, and look whether the disk "
        "is mounted read-only"
    ),
    apsw.CantOpenError: (
        "it cannot be opened: the file or its directory is missing or closed to this user: run "
        "as the daemon's user or group"
    ),
    apsw.PermissionsError: "this user may not use it: run as the daemon's user or group",
    apsw.IOError: (
        "the disk did not do as told: look at the system log, check the card or disk, and have "
        "a backup ready"
    ),
    apsw.ThreadingViolationError: (
        "two threads used one connection at once: this is a fault of the program, please report it"
    ),
    apsw.ConnectionClosedError: (
        "it is closed already: this is a fault of the program, please report it"
    ),
    apsw.ConstraintError: (
        "a row broke one of its rules: this is a fault of the program, please report it"
    ),
}
_ANYTHING_ELSE = "the database refused: please report it with the words in brackets"


def explained(path: Path, error: apsw.Error) -> StorageError:
    """Return `error`, met at the database `path`, as a sentence with its cause and a fix."""
    cause = next(
        (text for kind, text in _CAUSES.items() if isinstance(error, kind)), _ANYTHING_ELSE
    )
    return StorageError(f"database {path}: {cause} ({error})")


@contextmanager
def faults_explained(path: Path) -> Iterator[None]:
    """Turn the database library's errors into StorageError at this door."""
    try:
        yield
    except apsw.Error as error:
        raise explained(path, error) from error
