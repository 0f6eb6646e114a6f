"""The clock: whether 'now' can be believed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.cli.doctor.finding import Finding, State
from curewatch.clock import ClockTrust, SystemClock

if TYPE_CHECKING:
    from curewatch.settings import Settings

AREA = "clock"


def finding(settings: Settings, newest_ms: int | None) -> Finding:
    """Say whether the clock is right, as far as can be known; `newest_ms` is a stored reading's."""
    if settings.clock.source == "readings":
        live = bool(settings.sensors())
        return Finding(
            AREA,
            State.FAULT if live else State.LOOK,
            "now is the newest reading's time, for a record: silent sensors would stop the clock",
            'set clock.source = "system"',
        )
    match SystemClock(newest_stored_ms=newest_ms).trust():
        case ClockTrust.SET:
            return Finding(AREA, State.OK, "the system clock is set and kept right")
        case ClockTrust.UNKNOWN:
            return Finding(
                AREA,
                State.LOOK,
                "whether the system clock is kept right cannot be known here; it is plausible",
                "see that a time service runs, such as systemd-timesyncd",
            )
        case ClockTrust.NOT_SET:
            return Finding(
                AREA,
                State.FAULT,
                "the system clock is not set: readings wait and nothing is raised",
                "see that a time service runs and reaches the network: timedatectl status",
            )
