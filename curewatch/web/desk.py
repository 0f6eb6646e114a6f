"""The desk: questions of the page's threads, answered in the daemon's one thread.

The daemon owns the database and the clock book; nothing else may touch them while it works. A
question is a function that gets both for a moment and returns plain facts.
"""

from __future__ import annotations

import queue
import threading
from concurrent.futures import Future
from concurrent.futures import TimeoutError as TooLate
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, TypeVar, cast

from curewatch.clock import system_ms
from curewatch.errors import StorageError
from curewatch.shop.assessment import assess
from curewatch.web.tried import Tried

if TYPE_CHECKING:
    from collections.abc import Callable

    from curewatch.settings import Settings
    from curewatch.shop.assessment import Assessment
    from curewatch.shop.shop import Shop
    from curewatch.shop.watch import Watch
    from curewatch.storage import Store

T = TypeVar("T")
ENDING = "the daemon is ending: try again when it is back"
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
    broker_connected: whether the daemon is subscribed at its broker.
    storage_fails: whether the last round could not read or write.
    round_ended_s: when the last round ended, by the monotonic clock [s]; None before the first.
    memo: what was found for an earlier question and still holds.
    """

    store: Store
    shop: Shop
    watch: Watch
    settings: Settings
    now_ms: int
    entered_ms: int
    clock_set: bool = True
    broker_connected: bool = False
    storage_fails: bool = False
    round_ended_s: float | None = None
    memo: dict[str, Any] = field(default_factory=dict)

    def assessment(self) -> Assessment:
        """Return the whole shop as it stands, worked out once for all who look meanwhile."""
        found: Assessment | None = self.memo.get("assessment")
        if found is None:
            found = assess(self.shop, self.now_ms)
            if self.clock_set:  # without a clock nobody says when it no longer holds
                self.memo["assessment"] = found
        return found


class Desk:
    """A line of questions to the daemon."""

    def __init__(self, wake: Callable[[], None] = lambda: None) -> None:
        """Hand questions over; `wake` stirs the daemon so that it looks at once."""
        self._line: queue.SimpleQueue[tuple[Callable[[Counter], Any], Future[Any], bool]]
        self._line = queue.SimpleQueue()
        self._lock = threading.Lock()  # nobody may queue up behind the last one sent away
        self._wake = wake
        self.open = True
        # Raised whenever what the page shows may have changed; after a restart no number comes
        # again that an open page still holds.
        self.generation = system_ms()
        self._memo: dict[str, Any] = {}
        self.tried = Tried()  # what those who asked tried out themselves

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
        with self._lock:
            if not self.open:
                raise StorageError(ENDING)
            if self._line.qsize() >= LONGEST_LINE:
                raise StorageError("too many ask at once: wait a moment and try again")
            self._line.put((question, future, enters))
        self._wake()
        try:
            return cast("T", future.result(patience_s))
        except TooLate:
            if future.cancel():  # nobody had begun with it
                raise StorageError("the daemon has no time just now: try again") from None
        raise StorageError(
            "the daemon did not answer in time"
            + (": look whether the entry is there before you enter it again" if enters else "")
        )

    @property
    def waiting(self) -> bool:
        """Whether somebody waits for an answer."""
        return not self._line.empty()

    def serve(self, counter: Counter) -> bool:
        """Answer those who wait, in the daemon's thread.

        Returns at the first deed with True: what it entered must be taken in before the next
        question sees the shop. That holds for a deed that failed, too: who knows how far it came.
        """
        counter = replace(counter, memo=self._memo)
        while (one := self._next()) is not None:
            question, future, enters = one
            if not future.set_running_or_notify_cancel():
                continue
            try:
                future.set_result(question(counter))
            except Exception as error:  # noqa: BLE001 - it belongs to the one who asked
                future.set_exception(error)
            if enters:
                self._memo.clear()
                return True
        return False

    def changed(self) -> None:
        """Say that what the page shows may have changed, so that open pages look again."""
        self.forget()
        self.generation += 1

    def forget(self) -> None:
        """Work out anew what the next one asks; open pages are not stirred."""
        self._memo.clear()

    def close(self) -> None:
        """Send everybody away who still waits, and who comes later."""
        with self._lock:
            self.open = False
        while (one := self._next()) is not None:
            if one[1].set_running_or_notify_cancel():
                one[1].set_exception(
                    StorageError("the daemon is ending: try again when it is back")
                )

    def _next(self) -> tuple[Callable[[Counter], Any], Future[Any], bool] | None:
        try:
            return self._line.get_nowait()
        except queue.Empty:
            return None
