"""The daemon: whether it runs."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.cli.doctor.finding import Finding, State
from curewatch.storage.lock import daemon_of

if TYPE_CHECKING:
    from pathlib import Path

AREA = "daemon"


def runs(path: Path) -> bool:
    """Whether a daemon uses the database at `path`, as far as can be seen."""
    try:
        return daemon_of(path) is not None
    except OSError:
        return False


def finding(path: Path) -> Finding:
    """Say whether a daemon uses the database at `path`."""
    try:
        process = daemon_of(path)
    except OSError as error:
        fix = "run as the daemon's user or one of its group"
        return Finding(AREA, State.LOOK, f"its lock cannot be read: {error.strerror}", fix)
    if process is None:
        return Finding(
            AREA,
            State.LOOK,
            "it is not running: nothing is kept and nobody is told",
            "curewatch run, or where it is a service: systemctl start curewatch",
        )
    return Finding(AREA, State.OK, f"it runs as process {process}")
