"""Writing a plan's calendar to a file, without harm to one that is somebody else's."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

from curewatch.errors import BadInput, StorageError
from curewatch.planning.calendar import calendar_bytes, is_ours

if TYPE_CHECKING:
    from pathlib import Path

    from curewatch.planning import Known
    from curewatch.shop.day_plan import DayPlan


def write_calendar(path: Path, found: DayPlan, known: Known) -> None:
    """Write a plan's calendar; a file that is not one of ours is left alone.

    Raises
    ------
    BadInput
        When something else lies at `path`.
    StorageError
        When it cannot be written.
    """
    _check_ours(path)
    text = calendar_bytes(found, known)
    beside = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        beside.write_bytes(text)
        beside.replace(path)
    except OSError as error:
        beside.unlink(missing_ok=True)
        raise StorageError(f"{path} could not be written: {error.strerror}") from error


def _check_ours(path: Path) -> None:
    """Refuse to write over a file that this program did not make."""
    try:
        if not path.exists():
            return
        ours = path.is_file() and is_ours(path.read_bytes())
    except OSError as error:
        raise StorageError(f"{path} could not be read: {error.strerror}") from error
    if not ours:
        raise BadInput(
            f"{path} exists and is no calendar of curewatch's: it is left as it is; name another "
            "file with --ics"
        )
