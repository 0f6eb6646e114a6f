"""Where ingest spends its time: the stages of keeping, watched from outside."""

from __future__ import annotations

import time
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, ParamSpec, Self, TypeVar

from curewatch import keeping as keeping_module
from curewatch.shop.gate import QualityGate
from tests.bench.report import grid

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from curewatch.intake import Arrived
    from curewatch.keeping import Keeping, Line
    from curewatch.storage import Store

P = ParamSpec("P")
R = TypeVar("R")
WHOLE, OTHER = "keep", "between them"
STAGES = {
    "decode": "decode",
    "gate": "quality gate",
    "insert": "insert the rows",
    "commit": "commit (waits for the disk)",
    "ack": "acknowledge",
    "book": "clock book and newest readings",
}


@dataclass(slots=True)
class _Spent:
    wall_s: float = 0.0
    cpu_s: float = 0.0


class StageClock:
    """Adds up what each stage of `keeping` takes while it is entered; slows it a little."""

    def __init__(self, keeping: Keeping, store: Store) -> None:
        """Watch `keeping`, which writes to `store`."""
        self._keeping = keeping
        self._store = store
        self._spent = {stage: _Spent() for stage in (*STAGES, WHOLE)}
        self._undo: list[Callable[[], None]] = []
        self._network_cpu_s = 0.0
        self._wall_s = 0.0

    def __enter__(self) -> Self:
        """Begin to watch."""
        self._wrap(keeping_module, "decode", "decode")
        self._wrap(QualityGate, "admit_all", "gate")
        self._wrap(self._store.readings, "add", "insert")
        self._wrap(self._keeping, "_take_in", "book")
        self._wrap(self._keeping, "keep", WHOLE)
        execute = self._store.db.execute
        commit = self._timed(execute, "commit")
        self._set(
            self._store.db,
            "execute",
            lambda sql, *more: (commit if sql == "COMMIT" else execute)(sql, *more),
        )
        self._network_cpu_s -= time.process_time() - time.thread_time()
        self._wall_s -= time.perf_counter()
        return self

    def __exit__(self, *_: object) -> None:
        """Leave everything as it was."""
        self._wall_s += time.perf_counter()
        self._network_cpu_s += time.process_time() - time.thread_time()
        for undo in self._undo:
            undo()

    def watched(self, line: Line) -> Line:
        """Return `line` with its acknowledging watched."""
        return _WatchedLine(self._timed(line.ack, "ack"))

    def report(self, messages: int, bare_s: float) -> list[str]:
        """Return the stages as a table, per message."""
        per_us = 1e6 / messages
        named = [self._spent[stage] for stage in STAGES]
        whole = self._spent[WHOLE]
        rows = [
            (words, f"{spent.cpu_s * per_us:.1f}", f"{spent.wall_s * per_us:.1f}")
            for words, spent in zip(STAGES.values(), named, strict=True)
        ]
        rows.append(
            (
                OTHER,
                f"{(whole.cpu_s - sum(s.cpu_s for s in named)) * per_us:.1f}",
                f"{(whole.wall_s - sum(s.wall_s for s in named)) * per_us:.1f}",
            )
        )
        rows.append(("network thread (paho)", f"{self._network_cpu_s * per_us:.1f}", "beside them"))
        rows.append(("waiting for messages", "", f"{(self._wall_s - whole.wall_s) * per_us:.1f}"))
        return [
            (
                "Where the time goes, in one more run with every stage watched (which slows it): "
                "microseconds a message. The two threads share one interpreter: while one computes "
                "the other waits, so a stage's wall time holds much of the network thread's. The "
                f"bare loop takes {bare_s * per_us:.1f} in all."
            ),
            "\n".join(grid([("stage", "processor", "wall"), *rows])),
        ]

    def _wrap(self, owner: object, name: str, stage: str) -> None:
        self._set(owner, name, self._timed(getattr(owner, name), stage))

    def _set(self, owner: object, name: str, value: object) -> None:
        own = vars(owner).get(name)
        undo = partial(delattr, owner, name) if own is None else partial(setattr, owner, name, own)
        self._undo.append(undo)
        setattr(owner, name, value)

    def _timed(self, work: Callable[P, R], stage: str) -> Callable[P, R]:
        spent = self._spent[stage]

        def timed(*arguments: P.args, **words: P.kwargs) -> R:
            wall_s, cpu_s = time.perf_counter(), time.thread_time()
            try:
                return work(*arguments, **words)
            finally:
                spent.cpu_s += time.thread_time() - cpu_s
                spent.wall_s += time.perf_counter() - wall_s

        return timed


class _WatchedLine:
    """A line of which only the acknowledging is handed on."""

    def __init__(self, ack: Callable[[Iterable[Arrived]], None]) -> None:
        self.ack = ack
