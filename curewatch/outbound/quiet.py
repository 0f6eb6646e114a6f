"""Quiet hours: the part of the day in which a notice waits until people are up."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from curewatch.errors import BadInput

if TYPE_CHECKING:
    from datetime import tzinfo

_SPAN = re.compile(r"([01]?\d|2[0-3]):([0-5]\d)\s*-\s*([01]?\d|2[0-3]):([0-5]\d)", re.ASCII)
_MINUTE_MS = 60_000
_DAY_MIN = 24 * 60
_AHEAD_MIN = 3 * _DAY_MIN  # the one loud minute of a day may be the one a clock change skips


@dataclass(frozen=True, slots=True)
class QuietHours:
    """A span of the shop's wall clock, every day; it may run over midnight.

    Attributes
    ----------
    start_min, stop_min: minutes after midnight; closed at the start, open at the end.
    """

    start_min: int
    stop_min: int

    @classmethod
    def parse(cls, text: str) -> QuietHours:
        """Read a span such as '22:00-07:00'.

        Raises
        ------
        BadInput
            When it is not one, or begins and ends at once.
        """
        found = _SPAN.fullmatch(text.strip())
        if not found:
            raise BadInput(
                f"'{text[:80]}' is not a span of the day: write it as '22:00-07:00', in hours 0 "
                "to 23"
            )
        start_h, start_min, stop_h, stop_min = map(int, found.groups())
        quiet = cls(start_h * 60 + start_min, stop_h * 60 + stop_min)
        if quiet.start_min == quiet.stop_min:
            raise BadInput(
                f"'{text}' begins and ends at the same minute: leave quiet hours out to have "
                "none, or mute the kinds nobody wants to hear of"
            )
        return quiet

    def hold(self, at_ms: int, zone: tzinfo) -> bool:
        """Tell whether it is quiet at an instant [ms]."""
        at = datetime.fromtimestamp(at_ms / 1000, tz=zone)
        since_start = (at.hour * 60 + at.minute - self.start_min) % _DAY_MIN
        return since_start < (self.stop_min - self.start_min) % _DAY_MIN

    def until_ms(self, now_ms: int, zone: tzinfo) -> int | None:
        """Return when the quiet that holds at `now_ms` ends [ms], or None when it is not quiet.

        The end is the first minute that is not quiet on the wall clock, whatever that clock does
        in between: an end which a change of the clocks skips comes at the change, and one that
        comes twice counts the first time.
        """
        if not self.hold(now_ms, zone):
            return None
        first_ms = now_ms - now_ms % _MINUTE_MS
        ahead = range(first_ms, first_ms + _AHEAD_MIN * _MINUTE_MS, _MINUTE_MS)
        return next(at_ms for at_ms in ahead if not self.hold(at_ms, zone))
