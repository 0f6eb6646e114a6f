"""The disk: what is free, how long that lasts, and how hard a memory card is worked."""

from __future__ import annotations

import os
import shutil
import time
from dataclasses import dataclass
from typing import TYPE_CHECKING

from curewatch.cli.doctor.finding import MIB, Finding, State
from curewatch.storage.inventory import readings_between

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from curewatch.cli.doctor.finding import Open

AREA = "disk"
AREA_OF_GROWTH = "storage"  # what grows is told with what it is
LITTLE_MIB, SCARCE_MIB = 1024, 128
DAY_MS = 86_400_000
LOOKED_BACK_DAYS = 7
BYTES_A_ROW = 40  # 29 measured with eight sensors at 10 s; late rows and indices cost more
SOON_DAYS = 180
LONG_YEARS = 20.0
HARD_MIB_A_DAY = 5 * 1024  # our own figure: 9 TB in five years, much for a plain card
SECTOR = 512
LEAST_UPTIME_S = 6 * 3600
WORN_TENTHS = 9  # of ten, in steps of a tenth of its life (JEDEC eMMC 5.0; from memory)


@dataclass(frozen=True, slots=True)
class Wear:
    """What the kernel tells of the card or disk under a directory.

    Attributes
    ----------
    name: the kernel's name of it.
    written_mib_a_day: what was written to it since the start, by the day; None too soon to tell.
    life_used_tenths: tenths of its life that it says are used up; None where it says nothing.
    """

    name: str
    written_mib_a_day: float | None
    life_used_tenths: int | None


def space(path: Path) -> Iterator[Finding]:
    """Look what is free where the database lies, and whether that can be written at all."""
    folder = nearest(path.parent)
    if os.statvfs(folder).f_flag & os.ST_RDONLY:
        yield Finding(
            AREA,
            State.FAULT,
            f"{folder} is mounted read-only: nothing can be kept",
            "a worn memory card does that: copy what is there, then put in a new card",
        )
    free = shutil.disk_usage(folder).free // MIB
    state = State.OK if free >= LITTLE_MIB else State.LOOK if free >= SCARCE_MIB else State.FAULT
    fix = "" if state is State.OK else "make room: on a full disk no reading is kept"
    yield Finding(AREA, state, f"{free} MiB free at {folder}", fix)


def growth(opened: Open) -> Iterator[Finding]:
    """Say how much a day the readings grow by, and how long the disk lasts at that."""
    path = opened.settings.storage.path
    free = shutil.disk_usage(nearest(path.parent)).free
    since_ms = opened.now_ms - LOOKED_BACK_DAYS * DAY_MS
    oldest = opened.store.readings.oldest_ms()
    days = (opened.now_ms - max(since_ms, oldest or opened.now_ms)) / DAY_MS
    if days < 1.0:
        yield Finding(AREA_OF_GROWTH, State.OK, "too short a record to say how fast it grows")
        return
    rows = readings_between(opened.store.db, since_ms, opened.now_ms)
    yield lasting(free, rows * BYTES_A_ROW / days)


def lasting(free: int, bytes_a_day: float) -> Finding:
    """Say how long `free` bytes last."""
    grows = f"the readings grow by {bytes_a_day / MIB:.2f} MiB a day"
    if bytes_a_day <= 0.0:
        return Finding(
            AREA_OF_GROWTH, State.OK, "no reading came in the last days, so nothing grows"
        )
    left = free / bytes_a_day
    if left < SOON_DAYS:
        fix = "make room, or let sensors report less often; see what else fills the disk"
        return Finding(
            AREA_OF_GROWTH, State.LOOK, f"{grows}: {left:.0f} days until it is full", fix
        )
    years = min(left / 365.0, LONG_YEARS)
    more = "more than " if left / 365.0 > LONG_YEARS else ""
    return Finding(AREA_OF_GROWTH, State.OK, f"{grows}: the disk lasts {more}{years:.0f} years")


def wearing(path: Path, sysfs: Path) -> Iterator[Finding]:
    """Say how hard the card or disk is worked, where the kernel tells."""
    found = wear(nearest(path.parent).stat().st_dev, sysfs, time.monotonic())
    if found is None:
        yield Finding(AREA, State.OK, "the kernel does not tell how worn the disk is")
        return
    if found.life_used_tenths is not None and found.life_used_tenths >= WORN_TENTHS:
        yield Finding(
            AREA,
            State.LOOK,
            f"{found.name} says that {min(found.life_used_tenths, 10) * 10} % of its life is used",
            "curewatch backup to another machine today, then a new card",
        )
    if found.written_mib_a_day is None:
        yield Finding(AREA, State.OK, f"{found.name}: too soon after the start to tell its wear")
        return
    hard = found.written_mib_a_day > HARD_MIB_A_DAY
    yield Finding(
        AREA,
        State.LOOK if hard else State.OK,
        f"{found.name} was written {found.written_mib_a_day:.0f} MiB a day since the start, by "
        "all programs together",
        "find what writes so much; a longer clock.commit_window_s spares the card" if hard else "",
    )


def wear(device: int, sysfs: Path, up_s: float) -> Wear | None:
    """Read what the kernel tells of a device [st_dev]; None where it tells nothing."""
    place = sysfs / "dev" / "block" / f"{os.major(device)}:{os.minor(device)}"
    if not place.exists():
        return None
    block = place.resolve()
    if (block / "partition").exists():
        block = block.parent
    try:
        sectors = int((block / "stat").read_text("ascii").split()[6])
    except (OSError, ValueError, IndexError):
        return None
    days = up_s / 86_400.0
    daily = None if up_s < LEAST_UPTIME_S else sectors * SECTOR / MIB / days
    return Wear(block.name, daily, _life_used(block / "device" / "life_time"))


def nearest(folder: Path) -> Path:
    """Return the directory, or the nearest above it that is there and may be looked at."""
    while folder != folder.parent:
        try:
            if folder.exists():
                break
        except PermissionError:
            pass
        folder = folder.parent
    return folder


def _life_used(path: Path) -> int | None:
    """Return tenths of its life used, from a file such as '0x02 0x01'; None where it is none."""
    try:
        steps = [int(word, 16) for word in path.read_text("ascii").split()]
    except (OSError, ValueError):
        return None
    return max(steps) if steps and max(steps) > 0 else None
