"""Repeated log lines made few: said at once, then now and then with a count, then recovery."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import logging

EVERY_S = 600.0
_KINDS = 50  # different troubles remembered


@dataclass(slots=True)
class ThinnedLog:
    """Says a trouble when it begins, then at most every ten minutes, and says its end.

    A trouble that comes back soon after it went is counted, not said again.

    Attributes
    ----------
        log: where the lines go.
        every_s: shortest time between two lines on one trouble [s].
    """

    log: logging.Logger
    every_s: float = EVERY_S
    _trouble: str | None = None
    _spoke: bool = False  # whether this trouble's coming was said, not merely counted
    _said: dict[str, _Said] = field(default_factory=dict)

    @property
    def trouble(self) -> str | None:
        """The trouble that lasts, in words; None when all is well."""
        return self._trouble

    def say(self, trouble: str, at_s: float) -> None:
        """Note `trouble` at the monotonic instant `at_s` [s]."""
        self._trouble = trouble
        said = self._said.get(trouble)
        if said is not None and at_s - said.at_s < self.every_s:
            said.times += 1
            return
        self._spoke = True
        if said is None or not said.times:
            self.log.warning("%s", trouble)
        else:
            minutes = (at_s - said.at_s) / 60.0
            self.log.warning("still, %d times in %.0f min: %s", said.times, minutes, trouble)
        if len(self._said) >= _KINDS:
            self._said.clear()
        self._said[trouble] = _Said(at_s)

    def recovered(self, news: str) -> None:
        """Say that the trouble is over, if its coming was said."""
        if self._spoke:
            self.log.info("%s", news)
        self._trouble, self._spoke = None, False


@dataclass(slots=True)
class _Said:
    """When a trouble was last said, and how often it was counted since."""

    at_s: float
    times: int = 0
