"""Storage: the file is whole, writable and not swollen, and somebody is writing to it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from curewatch.cli.doctor.finding import MIB, Finding, State, count
from curewatch.shop.clocks import MS_PER_H
from curewatch.shop.words import span

if TYPE_CHECKING:
    from collections.abc import Iterator

    from curewatch.cli.doctor.finding import Open
    from curewatch.storage import Store

AREA = "storage"
OLD_READING_H = 3.0
BACKUPS = Path("/var/lib/curewatch-backups")  # where deploy/install.sh has them laid
OLD_BACKUP_DAYS = 3.0
SWOLLEN_MIB = 64  # eight times what the log is cut to when it is written back


def absent(path: Path) -> Finding:
    """Say that there is no database."""
    return Finding(AREA, State.LOOK, f"there is no database at {path} yet", "curewatch run")


def whole(store: Store) -> Iterator[Finding]:
    """Look whether the file can be written and is sound; a damaged one ends in a fault."""
    path = store.db.path
    store.db.execute("BEGIN IMMEDIATE")
    store.db.execute("ROLLBACK")
    yield Finding(AREA, State.OK, f"{path}: writable, schema {store.db.schema_number()}")
    wrong = store.db.quick_check()
    if wrong:
        fix = "stop the daemon and restore the newest backup: curewatch restore"
        yield Finding(AREA, State.FAULT, f"it is damaged: {'; '.join(wrong[:3])}", fix)
        return
    yield Finding(AREA, State.OK, "SQLite's own check finds nothing wrong")
    yield log_finding(path)


def log_finding(path: Path) -> Finding:
    """Say how large the write-ahead log beside the database is."""
    log = path.with_name(f"{path.name}-wal")
    mib = log.stat().st_size / MIB if log.is_file() else 0.0
    if mib <= SWOLLEN_MIB:
        return Finding(AREA, State.OK, f"its write-ahead log has {mib:.1f} MiB")
    return Finding(
        AREA,
        State.LOOK,
        f"its write-ahead log has grown to {mib:.0f} MiB: something has kept it open for reading",
        "end curewatch commands that hang, then: systemctl restart curewatch",
    )


def backups(wall_ms: int, folder: Path = BACKUPS) -> Iterator[Finding]:
    """Say how old the newest nightly backup is, where the folder of them is."""
    try:
        kept = [part.stat().st_mtime for part in folder.glob("curewatch-*.db")]
        there = folder.is_dir()
    except OSError:
        return  # who may not look cannot tell
    if not there:
        return
    old_days = OLD_BACKUP_DAYS + 1.0 if not kept else (wall_ms / 1000.0 - max(kept)) / 86_400.0
    if old_days > OLD_BACKUP_DAYS:
        what = f"no backup of the last {OLD_BACKUP_DAYS:.0f} days lies in {folder}"
        fix = "systemctl status curewatch-backup.timer; journalctl -u curewatch-backup"
        yield Finding(AREA, State.LOOK, what, fix)
        return
    what = (
        f"{count(len(kept), 'backup')} in {folder}, the newest {span(max(old_days, 0.0) * 24)} old"
    )
    yield Finding(AREA, State.OK, what, "carry one to another machine: this card may die")


def newest(opened: Open) -> Finding:
    """Say how old the newest reading is."""
    newest_ms = opened.store.readings.newest_ms()
    if newest_ms is None:
        return Finding(AREA, State.LOOK, "no reading is kept yet", "see to sensors and broker")
    age_h = (opened.now_ms - newest_ms) / MS_PER_H
    old = age_h > OLD_READING_H
    return Finding(
        AREA,
        State.LOOK if old else State.OK,
        f"the newest reading is {span(age_h)} old",
        "see to daemon, broker and sensors" if old else "",
    )
