"""The start with months of readings, against a bare scan of the same rows."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from curewatch.storage import Store
from tests.bench.measured import Goal, Row, Section, ratios, seconds
from tests.bench.scene import DAY_MS, HOUR_MS, MINUTE_MS, Layout, hang_pieces, store_climate

if TYPE_CHECKING:
    from collections.abc import Sequence

LAYOUT = Layout(rooms=4, sensors=4)
FULL_DAYS, DAYS = 90, 20
EVERY_MS = 10_000
REPEATS = 3
NOW_MS = 1_760_000_000_000 // MINUTE_MS * MINUTE_MS
WORKS = ("imports", "scan", "start")


def measure() -> Section:
    """Measure starts and scans in processes of their own, turn about."""
    days = FULL_DAYS if os.environ.get("BENCH_FULL") else DAYS
    with TemporaryDirectory() as name:
        folder = Path(name)
        settings = LAYOUT.settings(folder)
        with Store.open(settings.storage.path) as store:
            rows = store_climate(
                store,
                LAYOUT.sensor_names(),
                NOW_MS - days * DAY_MS,
                NOW_MS,
                every_ms=EVERY_MS,
            )
            first_ms = NOW_MS - days * DAY_MS + 5 * HOUR_MS  # so all of the record is asked for
            hang_pieces(store, settings, count=4, first_ms=first_ms, last_ms=NOW_MS)
        told: dict[str, list[dict[str, float]]] = {work: [] for work in WORKS}
        for repeat in range(REPEATS + 1):
            for work in WORKS:
                answer = in_child(work, folder / "shop.toml")
                if repeat:  # the first brings the file into memory
                    told[work].append(answer)
    assert all(answer["rows"] == rows for answer in told["scan"])
    scan, start = column(told["scan"], "took_s"), column(told["start"], "took_s")
    return Section(
        title="The start",
        what=(
            f"{days} days of readings every 10 s in {LAYOUT.rooms} rooms, {rows:,} rows"
            + (f" (BENCH_FULL=1 takes {FULL_DAYS} days)" if days < FULL_DAYS else "")
            + ", the file in the system's memory. Ours: open, assemble the shop, read every "
            "room's record onto the minute grid, and a first look at one piece a room, which "
            "builds their clocks. Baseline: a Python loop over every row of the same table as "
            "SQLite hands them out, nothing done with them. Each in a process of its own; the "
            "interpreter and the imports are timed apart."
        ),
        rows=[
            Row(
                "start over scan", ratios(start, scan), "", Goal(2.0), seconds(start), seconds(scan)
            ),
            Row(
                "interpreter and imports",
                column(told["imports"], "took_s"),
                " s",
                ours=seconds(column(told["imports"], "took_s")),
            ),
            Row("largest resident memory of the start", column(told["start"], "peak_mb"), " MB"),
            Row("of the scan", column(told["scan"], "peak_mb"), " MB"),
        ],
        notes=[parts(told["start"])],
    )


def parts(starts: Sequence[dict[str, float]]) -> str:
    """Say what the start's time is made of."""
    named = {"open and assemble": "assemble_s", "read the record": "feed_s", "first look": "look_s"}
    said = [f"{words} {seconds(column(starts, key))}" for words, key in named.items()]
    return f"The start is made of: {', '.join(said)}."


def column(answers: Sequence[dict[str, float]], key: str) -> list[float]:
    """Return one figure of every answer."""
    return [answer[key] for answer in answers]


def in_child(work: str, config: Path) -> dict[str, float]:
    """Run one work in a process of its own; return what it measured."""
    done = subprocess.run(
        [sys.executable, "-m", "tests.bench.start_child", work, str(config), str(NOW_MS)],
        capture_output=True,
        text=True,
        check=True,
    )
    answer: dict[str, float] = json.loads(done.stdout)
    return answer
