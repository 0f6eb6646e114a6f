"""One start or one scan in a process of its own. Run as a program: WORK CONFIG NOW_MS."""

from __future__ import annotations

import json
import os
import re
import sys
import time
from pathlib import Path

from curewatch.assembly import assemble, record_start_ms
from curewatch.daemon import watch_shop  # noqa: F401 - its imports belong to the start
from curewatch.room_feed import RoomFeed
from curewatch.settings import load_settings
from curewatch.shop.watch import Watch
from curewatch.storage import Store


def start(config: Path, now_ms: int) -> dict[str, float]:
    """Do what the daemon does before its first round."""
    begun = time.perf_counter()
    settings = load_settings(config)
    with Store.open(settings.storage.path) as store:
        shop = assemble(settings, store, now_ms)
        assembled = time.perf_counter()
        RoomFeed(store, shop).load(record_start_ms(shop.pieces.values(), now_ms))
        fed = time.perf_counter()
        watch = Watch(shop, store.alerts.active())
        watch.step(now_ms)
        ended = time.perf_counter()
        assert len(watch.pieces_now) == len(shop.pieces)
    return {
        "took_s": ended - begun,
        "assemble_s": assembled - begun,
        "feed_s": fed - assembled,
        "look_s": ended - fed,
    }


def scan(config: Path, _now_ms: int) -> dict[str, float]:
    """Let SQLite hand out every row."""
    with Store.open(load_settings(config).storage.path, read_only=True) as store:
        count = 0
        begun = time.perf_counter()
        with store.db.cursor("SELECT at_ms, sensor, quantity, value FROM reading") as rows:
            for _ in rows:
                count += 1
        return {"took_s": time.perf_counter() - begun, "rows": count}


def imports(_config: Path, _now_ms: int) -> dict[str, float]:
    """Say how long this process has lived: the interpreter and the imports above."""
    fields = Path("/proc/self/stat").read_text().rpartition(")")[2].split()
    begun_s = int(fields[19]) / os.sysconf("SC_CLK_TCK")
    return {"took_s": time.clock_gettime(time.CLOCK_BOOTTIME) - begun_s}


def peak_mb() -> float:
    """Return the largest resident memory of this program [MB].

    getrusage's would hold the starting process's too, from before this program was loaded.
    """
    found = re.search(r"VmHWM:\s+(\d+)", Path("/proc/self/status").read_text())
    assert found is not None
    return int(found[1]) * 1024 / 1e6


if __name__ == "__main__":
    answer = {"start": start, "scan": scan, "imports": imports}[sys.argv[1]](
        Path(sys.argv[2]), int(sys.argv[3])
    )
    answer["peak_mb"] = peak_mb()
    print(json.dumps(answer))  # noqa: T201 - its one answer, read by the bench
