"""The back room: what takes longer than a look is worked out in the thread that asks.

Plans, records and comparisons read the whole record of rooms; the daemon must not wait for them.
They read the same database as a command does, one after another.
"""

from __future__ import annotations

import threading
from contextlib import contextmanager
from typing import TYPE_CHECKING

from curewatch.errors import StorageError
from curewatch.opened import Opened
from curewatch.storage import Store
from curewatch.web.room import Moment

if TYPE_CHECKING:
    from collections.abc import Iterator

    from curewatch.web.desk import Counter
    from curewatch.web.room import Room

WAITS_S = 20.0
_ONE_AT_A_TIME = threading.Lock()  # a small computer has one core to spare at most


@contextmanager
def back_room(room: Room) -> Iterator[tuple[Moment, Opened]]:
    """Open the shop beside the daemon, at the daemon's own moment.

    Raises
    ------
    StorageError
        When somebody else's question takes too long, or storage cannot be read.
    """

    def look(counter: Counter) -> tuple[Moment, int]:
        return Moment(counter.now_ms, counter.clock_set), counter.entered_ms

    moment, entered_ms = room.desk.ask(look)
    if not _ONE_AT_A_TIME.acquire(timeout=WAITS_S):
        raise StorageError("somebody else's question is still worked on: try again in a moment")
    try:
        with Store.open(room.settings.storage.path) as store:
            yield moment, Opened(room.settings, store, moment.now_ms, entered_ms)
    finally:
        _ONE_AT_A_TIME.release()
