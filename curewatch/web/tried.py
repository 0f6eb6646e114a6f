"""What would clear a room's spray check, tried in the thread that asks and kept for all who look.

Trying takes longer than the daemon should stand still, and needs nothing of it. It is done again
when the hours ahead were judged anew, or when something else decides.
"""

from __future__ import annotations

from dataclasses import dataclass
from threading import Lock
from typing import TYPE_CHECKING

from curewatch.shop.spray_terms import Verdict

if TYPE_CHECKING:
    from curewatch.shop.spray_answer import RoomLook
    from curewatch.shop.spray_clear import Clear

KEPT = 64  # rooms by finishes that somebody looks at


@dataclass(frozen=True, slots=True)
class Trial:
    """Changes that serve, and when they were tried [ms]; none where nothing is to be cleared."""

    clears: tuple[Clear, ...]
    at_ms: int


class Tried:
    """The changes tried lately."""

    def __init__(self) -> None:
        """Keep none yet."""
        self._kept: dict[tuple[object, ...], Trial] = {}
        self._lock = Lock()

    def of(self, room: str, look: RoomLook) -> Trial:
        """Return what would clear the answer of a look at a room."""
        answer = look.answer
        now_ms = answer.now_ms or 0
        if answer.verdict is Verdict.FIT:
            return Trial((), now_ms)
        ahead, binding, finish = answer.ahead, answer.binding, answer.job.finish
        key = (
            *(room, finish.name, finish.revision),
            None if ahead is None else (ahead.judged_ms, ahead.verdict),
            answer.now.verdict,
            None if binding is None else binding.name,
        )
        with self._lock:
            found = self._kept.get(key)
        if found is None:
            found = Trial(look.tried().clears, now_ms)
            with self._lock:
                self._kept[key] = found
                while len(self._kept) > KEPT:
                    del self._kept[next(iter(self._kept))]
        return found
