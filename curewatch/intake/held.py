"""Messages that wait for the clock to be set, without filling the memory however long that takes.

A broker stops sending at its window of unacknowledged messages, so those are few. What it does not
hold back, and what this machine reads itself, is thinned once it is too much: every second message
goes, so the record stays as long and becomes coarser.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Iterable

    from curewatch.intake.arrivals import Arrived

MOST_HELD: Final = 20_000  # some 10 MB


class Held:
    """Messages in order of arrival."""

    def __init__(self, most: int = MOST_HELD) -> None:
        """Hold at most `most` messages that no broker would send again."""
        self._most = most
        self._messages: list[Arrived] = []
        self._newest = 0
        self.let_go = 0

    def __bool__(self) -> bool:
        """Tell whether anything waits."""
        return bool(self._messages)

    def add(self, messages: Iterable[Arrived]) -> None:
        """Let `messages`, which came after all before them, wait too."""
        fresh = list(messages)
        self._messages += fresh
        self._newest = max([self._newest, *(message.generation for message in fresh)])
        free = [place for place, one in enumerate(self._messages) if self._is_free(one)]
        while len(free) > self._most:
            going = set(free[1::2])
            self._messages = [m for place, m in enumerate(self._messages) if place not in going]
            self.let_go += len(going)
            free = [place for place, one in enumerate(self._messages) if self._is_free(one)]

    def all(self) -> list[Arrived]:
        """Return everything that waits."""
        return list(self._messages)

    def clear(self) -> None:
        """Forget everything, once it is kept."""
        self._messages.clear()

    def _is_free(self, message: Arrived) -> bool:
        """Tell whether the broker will not wait for its acknowledgement."""
        return message.qos == 0 or message.generation < self._newest
