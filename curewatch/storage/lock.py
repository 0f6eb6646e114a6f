"""The daemon's lock beside the database: one daemon a file, and no restore under its feet."""

from __future__ import annotations

import fcntl
import os
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from curewatch.errors import StorageError

if TYPE_CHECKING:
    from collections.abc import Iterator

_LOCK_MODE = 0o660


def lock_path(path: Path | str) -> Path:
    """Return the lock file that belongs to the database at `path`."""
    path = Path(path)
    return path.with_name(f"{path.name}.lock")


@contextmanager
def daemon_lock(path: Path | str) -> Iterator[None]:
    """Hold the lock of the database at `path`; the system frees it however the process ends.

    Raises
    ------
    StorageError
        When another process holds it, or the lock file cannot be made.
    """
    lock = lock_path(path)
    try:
        lock.parent.mkdir(parents=True, exist_ok=True)
        handle = os.open(lock, os.O_RDWR | os.O_CREAT, _LOCK_MODE)
    except OSError as error:
        raise StorageError(
            f"lock file {lock}: it cannot be made: {error.strerror}: make its directory writable "
            "for this user, or give another path under [storage] path"
        ) from error
    try:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise StorageError(
                f"database {path}: a daemon uses it already (process {_holder(handle)}): "
                "stop that one first"
            ) from None
        os.ftruncate(handle, 0)
        os.pwrite(handle, f"{os.getpid()}\n".encode(), 0)
        yield
    finally:
        os.close(handle)


def daemon_of(path: Path | str) -> str | None:
    """Return the process number of the daemon that uses the database, None when none does."""
    try:
        handle = os.open(lock_path(path), os.O_RDONLY)
    except FileNotFoundError:
        return None
    try:
        fcntl.flock(handle, fcntl.LOCK_SH | fcntl.LOCK_NB)
    except BlockingIOError:
        return _holder(handle)
    finally:
        os.close(handle)
    return None


def _holder(handle: int) -> str:
    """Return the process number written in a lock file, '?' before it is."""
    return os.pread(handle, 32, 0).decode("ascii", "replace").strip() or "?"
