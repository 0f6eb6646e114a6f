"""Storage: the file is whole, writable and not swollen, and somebody is writing to it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.cli.doctor.finding import MIB, Finding, State
from curewatch.shop.clocks import MS_PER_H
from curewatch.shop.words import span

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from curewatch.cli.doctor.finding import Open
    from curewatch.storage import Store

AREA = "storage"
OLD_READING_H = 3.0
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
