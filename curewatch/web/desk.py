"""The desk: questions of the page's threads, answered in the daemon's one thread.

The daemon owns the database and the clock book; nothing else may touch them while it works. A
question is a function that gets both for a moment and returns plain facts.
"""

from __future__ import annotations

import queue
from concurrent.futures import Future
from concurrent.futures import TimeoutError as TooLate
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeVar, cast

from curewatch.errors import StorageError

if TYPE_CHECKING:
    from collections.abc import Callable

    from curewatch.settings import Settings
    from curewatch.shop.shop import Shop
    from curewatch.shop.watch import Watch
    from curewatch.storage import Store

T = TypeVar("T")
PATIENCE_S = 10.0
LONGEST_LINE = 64  # questions waiting at once; more than that is not two people at a bench


@dataclass(frozen=True, slots=True)
class Counter:
    """What a question finds, in the daemon's thread.

    Attributes
    ----------
    store, shop, watch, settings: the daemon's own.
    now_ms: the moment that everything is judged at [ms].
    entered_ms: the wall clock's time for what people enter [ms].
    clock_set: whether the daemon's clock can be believed.
    """

    store: Store
    shop: Shop
    watch: Watch
    settings: Settings
    now_ms: int
    entered_ms: int
    clock_set: bool = True


class Desk:
    """A line of questions to the daemon."""

    def __init__(self, wake: Callable[[], None] = lambda: None) -> None:
        """Hand questions over; `wake` stirs the daemon so that it looks at once."""
        self._line: queue.Queue[tuple[Callable[[Counter], Any], Future[Any], bool]]
        self._line = queue.Queue(2 * LONGEST_LINE)
        self._wake = wake
        self.open = True
        self.generation = 0  # raised whenever what the page shows may have changed

    def ask(self, question: Callable[[Counter], T], *, patience_s: float = PATIENCE_S) -> T:
        """Return the answer to a question that only looks.

        Raises
        ------
        StorageError
            When the daemon has no time for it, or has ended.
        CurewatchError
            Whatever the question itself raised.
        """
        return self._put(question, patience_s, enters=False)

    def enter(self, deed: Callable[[Counter], T], *, patience_s: float = PATIENCE_S) -> T:
        """Return the answer to a deed that writes something down; raises as `ask` does."""
        return self._put(deed, patience_s, enters=True)

    def _put(self, question: Callable[[Counter], T], patience_s: float, *, enters: bool) -> T:
        future: Future[Any] = Future()
        if not self.open or self._line.qsize() >= LONGEST_LINE:
            raise StorageError(
                "the daemon takes no questions just now: wait a moment and try again"
            )
        self._line.put((question, future, enters))
        self._wake()
        try:
            return cast("T", future.result(patience_s))
        except TooLate:
            future.cancel()
            raise StorageError(
                "the daemon did not answer in time: look whether the entry is there before you "
                "enter it again"
            ) from None

    @property
    def waiting(self) -> bool:
        """Whether somebody waits for an answer."""
        return not self._line.empty()

    def serve(self, counter: Counter) -> bool:
        """Answer those who wait, in the daemon's thread.

        Returns at the first deed with True: what it entered must be taken in before the next
        question sees the shop.
        """
        while (one := self._next()) is not None:
            question, future, enters = one
            if not future.set_running_or_notify_cancel():
                continue
            try:
                answer = question(counter)
            except Exception as error:  # noqa: BLE001 - it belongs to the one who asked
                future.set_exception(error)
            else:
                future.set_result(answer)
                if enters:
                    return True
        return False

    def changed(self) -> None:
        """Say that what the page shows may have changed."""
        self.generation += 1

    def close(self) -> None:
        """Send everybody away who still waits."""
        self.open = False
        while (one := self._next()) is not None:
            one[1].set_exception(StorageError("the daemon is ending: try again when it is back"))

    def _next(self) -> tuple[Callable[[Counter], Any], Future[Any], bool] | None:
        try:
            return self._line.get_nowait()
        except queue.Empty:
            return None
