"""What was worked out of the rooms' past, kept until that past changes.

Part of the clock book's cache: deleting it loses nothing.
"""

from __future__ import annotations

from collections.abc import Hashable
from threading import Lock
from typing import TYPE_CHECKING, Generic, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

Key = TypeVar("Key", bound=Hashable)
Found = TypeVar("Found")
NEVER_MS = -(2**62)


class Memo(Generic[Found]):
    """Answers that hang on one owner's facts and on the record up to an instant, and no more."""

    def __init__(self) -> None:
        """Start with nothing kept."""
        self._kept: dict[str, tuple[tuple[object, ...], dict[str, tuple[int, Found]]]] = {}
        self._newest_ms = NEVER_MS

    def of(self, owner: str, facts: tuple[object, ...]) -> Recall[Found]:
        """Return what is kept for an owner; nothing, once its facts are others."""
        kept = self._kept.get(owner)
        if kept is None or kept[0] != facts:
            kept = self._kept[owner] = (facts, {})
        return Recall(self, kept[1])

    def forget_from(self, at_ms: int) -> None:
        """Forget what hangs on the record from an instant [ms] on."""
        if at_ms > self._newest_ms:
            return
        for _, answers in self._kept.values():
            for mark in [mark for mark, (until_ms, _) in answers.items() if until_ms >= at_ms]:
                del answers[mark]
        self._newest_ms = at_ms

    def reaches(self, until_ms: int) -> None:
        """Note that something is kept that hangs on the record up to an instant [ms]."""
        self._newest_ms = max(self._newest_ms, until_ms)


class Recall(Generic[Found]):
    """One owner's answers."""

    def __init__(self, memo: Memo[Found], answers: dict[str, tuple[int, Found]]) -> None:
        """Read and keep answers for `memo`."""
        self._memo = memo
        self._answers = answers

    def get(self, mark: str, until_ms: int, work_out: Callable[[], Found]) -> Found:
        """Return an answer that hangs on the record up to `until_ms` [ms]; work it out once."""
        kept = self._answers.get(mark)
        if kept is None:
            kept = self._answers[mark] = (until_ms, work_out())
            self._memo.reaches(until_ms)
        return kept[1]


class Latest(Generic[Found]):
    """The newest answer to each question about a room, while its facts and the record hold."""

    def __init__(self) -> None:
        """Start with nothing kept."""
        self._kept: dict[str, dict[object, tuple[tuple[object, ...], int, Found]]] = {}

    def get(
        self,
        room: str,
        question: object,
        *,
        facts: tuple[object, ...],
        until_ms: int,
        work_out: Callable[[], Found],
    ) -> Found:
        """Return an answer that hangs on `facts` and on a room's record up to `until_ms` [ms]."""
        mine = self._kept.setdefault(room, {})
        kept = mine.get(question)
        if kept is None or kept[:2] != (facts, until_ms):
            kept = mine[question] = (facts, until_ms, work_out())
        return kept[2]

    def forget_from(self, room: str, at_ms: int) -> None:
        """Forget what hangs on a room's record from an instant [ms] on."""
        mine = self._kept.get(room, {})
        for question in [question for question, kept in mine.items() if kept[1] >= at_ms]:
            del mine[question]


class Together(Generic[Key, Found]):
    """Answers that hang on their question alone; many are worked out in nearly the time of one.

    Several threads may ask at once.
    """

    def __init__(
        self, work_out: Callable[[Sequence[Key]], Iterable[Found]], *, most: int = 4096
    ) -> None:
        """Keep at most so many; the oldest are given up first."""
        self._work_out = work_out
        self._most = most
        self._kept: dict[Key, Found] = {}
        self._lock = Lock()  # of those who add and give up; who reads needs none

    def __len__(self) -> int:
        """Return how many are kept."""
        return len(self._kept)

    def of(self, key: Key) -> Found:
        """Return one answer."""
        found = self._kept.get(key)
        return self._add([key])[key] if found is None else found

    def prepare(self, keys: Iterable[Key]) -> None:
        """Work out together what is not kept of these."""
        missing = [key for key in dict.fromkeys(keys) if key not in self._kept]
        if missing:
            self._add(missing)

    def _add(self, missing: list[Key]) -> dict[Key, Found]:
        made = dict(zip(missing, self._work_out(missing), strict=True))
        with self._lock:
            self._kept |= made
            while len(self._kept) > self._most:
                del self._kept[next(iter(self._kept))]
        return made
