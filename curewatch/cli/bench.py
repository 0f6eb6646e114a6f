"""What a command works with: settings, storage, the shop's words and 'now'."""

from __future__ import annotations

import sys
from contextlib import contextmanager
from typing import TYPE_CHECKING

from curewatch.clock import system_ms
from curewatch.errors import StorageError
from curewatch.opened import Opened
from curewatch.settings import load_settings
from curewatch.storage import Store

if TYPE_CHECKING:
    import argparse
    from collections.abc import Iterator
    from pathlib import Path

Bench = Opened


def is_there(path: Path) -> bool:
    """Whether there is a database.

    Raises
    ------
    StorageError
        When this user may not look.
    """
    try:
        return path.exists()
    except PermissionError:
        raise StorageError(
            f"database {path}: this user may not look there: run as the daemon's user or one of "
            "its group"
        ) from None


@contextmanager
def bench(args: argparse.Namespace, *, makes: bool = True) -> Iterator[Bench]:
    """Open the shop that the command's configuration names.

    Where there is no database yet it is made, and said so, if there is a configuration: without
    one the shop's own was most likely not named. With `makes` false it must be there.

    Raises
    ------
    StorageError
        When there is no database and none is made, or it cannot be used.
    """
    settings = load_settings(args.config)
    path = settings.storage.path
    new = not is_there(path)
    if new and (settings.source is None or not makes):
        raise StorageError(
            f"there is no database at {path} yet: start 'curewatch run' once, or name the shop's "
            "configuration with --config FILE"
        )
    with Store.open(path) as store:
        if new:
            what = f"curewatch: there was no database at {path} yet; an empty one was made."
            print(what, file=sys.stderr)
        entered_ms = system_ms()
        now_ms = entered_ms
        if settings.clock.source == "readings":
            now_ms = store.readings.newest_ms() or entered_ms
        yield Bench(settings, store, now_ms, entered_ms)
