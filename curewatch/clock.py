"""The one source of 'now', and whether it can be believed.

A small computer without a clock of its own wakes up with a wrong time and learns the right one
from the network. Until then nothing may be stamped and nothing decided.
"""

from __future__ import annotations

import time
from enum import StrEnum
from pathlib import Path
from typing import Protocol

DAY_MS = 86_400_000
SLACK_MS = 10 * 60_000  # a sensor's own clock may be ahead by as much as intake lets pass
TIMESYNC_DIRECTORY = Path("/run/systemd/timesync")
BUILT_MS = 1_767_225_600_000  # 2026-01-01: no honest clock is before the program's own year


class ClockTrust(StrEnum):
    """Whether the system clock is known to be right."""

    SET = "set"
    NOT_SET = "not-set"
    UNKNOWN = "unknown"  # nothing here can tell; believed as long as it is plausible


class Clock(Protocol):
    """Where 'now' comes from."""

    def now_ms(self) -> int | None:
        """Return UTC epoch [ms], None while it is not known."""

    def heard(self, newest_ms: int) -> None:
        """Take note of the newest reading's own time [ms]."""


class SystemClock:
    """The system's clock, refused while it is known or seen to be wrong."""

    def __init__(
        self, *, newest_stored_ms: int | None = None, timesync: Path = TIMESYNC_DIRECTORY
    ) -> None:
        """Compare with the newest stored reading [ms]; `timesync` is where systemd tells."""
        self._newest_ms = newest_stored_ms or 0
        self._timesync = timesync

    def trust(self) -> ClockTrust:
        """Return whether the clock is known to be right just now."""
        if system_ms() < max(BUILT_MS, self._newest_ms - SLACK_MS):
            return ClockTrust.NOT_SET
        if (self._timesync / "synchronized").exists():
            return ClockTrust.SET
        return ClockTrust.NOT_SET if self._timesync.is_dir() else ClockTrust.UNKNOWN

    def now_ms(self) -> int | None:
        """Return UTC epoch [ms], None while the clock is not set."""
        return None if self.trust() is ClockTrust.NOT_SET else system_ms()

    def heard(self, newest_ms: int) -> None:
        """Nothing: stored readings are compared at the start only."""


class NewestReadingClock:
    """The newest reading's own time: for replays and the demo, faster than life.

    A jump of more than a day needs a second reading to agree, so that one wrong stamp does not
    carry the shop into the future.
    """

    def __init__(self, newest_stored_ms: int | None = None) -> None:
        """Go on from the newest stored reading [ms]."""
        self._now_ms = newest_stored_ms
        self._claimed_ms: int | None = None

    def now_ms(self) -> int | None:
        """Return the newest agreed time [ms], None before the first reading."""
        return self._now_ms

    def heard(self, newest_ms: int) -> None:
        """Take a reading's time in."""
        if self._now_ms is None or newest_ms - self._now_ms <= DAY_MS:
            self._now_ms = max(self._now_ms or 0, newest_ms)
            self._claimed_ms = None
        elif self._claimed_ms is not None and abs(newest_ms - self._claimed_ms) <= DAY_MS:
            self._now_ms, self._claimed_ms = newest_ms, None
        else:
            self._claimed_ms = newest_ms


class StepWatch:
    """Notices when the system clock is stepped, by comparing it with the monotonic one."""

    def __init__(self) -> None:
        """Start comparing now."""
        self._offset_s = time.time() - time.monotonic()  # noqa: TID251 - this module is the clock

    def step_s(self) -> float:
        """Return by how much the clock was stepped since last asked [s]; drift is nothing."""
        offset_s = time.time() - time.monotonic()  # noqa: TID251 - this module is the clock
        step = offset_s - self._offset_s
        self._offset_s = offset_s
        return step


def system_ms() -> int:
    """Return the system's UTC epoch [ms], believed or not."""
    return time.time_ns() // 1_000_000
