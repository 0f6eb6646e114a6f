"""The daemon with ten sensors and nothing to do: memory, processor, and what it writes."""

from __future__ import annotations

import json
import os
import re
import statistics
import threading
import time
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Self

import numpy as np
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

from curewatch.clock import system_ms
from curewatch.settings import load_settings
from curewatch.storage import Store
from tests.bench.measured import Goal, Row, Section
from tests.bench.scene import DAY_MS, MINUTE_MS, Layout, climate, hang_pieces, store_climate
from tests.broker.mosquitto import Mosquitto
from tests.crash.daemon_process import DaemonProcess, wait_for

if TYPE_CHECKING:
    from collections.abc import Iterator

LAYOUT = Layout(rooms=4, sensors=10)
DAYS, PIECES = 14, (0, 10)
WINDOWS, WINDOW_S = 3, 60.0
EVERY_S = 10.0
MB, PAGE_B = 1e6, 4096
DAY_MB = 86_400 / MB  # from bytes a second


@dataclass(frozen=True, slots=True)
class Standing:
    """What a process has used so far."""

    at_s: float
    cpu_s: float
    resident_b: int
    written_b: int

    @classmethod
    def of(cls, pid: int) -> Standing:
        """Read it from the system."""
        process = Path("/proc", str(pid))
        fields = (process / "stat").read_text().rpartition(")")[2].split()
        ticks = int(fields[11]) + int(fields[12])
        return cls(
            at_s=time.monotonic(),
            cpu_s=ticks / os.sysconf("SC_CLK_TCK"),
            resident_b=number_in(process / "status", "VmRSS") * 1024,
            written_b=number_in(process / "io", "write_bytes"),
        )


def number_in(file: Path, key: str) -> int:
    """Return the number that stands behind a key."""
    found = re.search(rf"^{key}:\s+(\d+)", file.read_text(), re.MULTILINE)
    assert found is not None, key
    return int(found[1])


def measure() -> Section:
    """Measure real daemons over some minutes of ordinary readings, side by side."""
    with TemporaryDirectory() as name, ExitStack() as stack:
        shops = [Idle(Path(name) / f"{count}", count) for count in PIECES]
        for shop in shops:
            stack.enter_context(shop.running())
        seen = [[shop.standing()] for shop in shops]
        for _ in range(WINDOWS):
            time.sleep(WINDOW_S)  # the span is what is measured, nothing is awaited
            for shop, standings in zip(shops, seen, strict=True):
                standings.append(shop.standing())
    rows, written_mb = [], []
    for count, standings in zip(PIECES, seen, strict=True):
        spans = list(pairwise(standings))
        cpu_pct = [100.0 * (b.cpu_s - a.cpu_s) / (b.at_s - a.at_s) for a, b in spans]
        resident_mb = [one.resident_b / MB for one in standings[1:]]
        written_mb.append(
            [(b.written_b - a.written_b) / (b.at_s - a.at_s) * DAY_MB for a, b in spans]
        )
        about = f"{count or 'no'} pieces"
        rows += [
            Row(f"resident memory, {about}", resident_mb, " MB", Goal(80.0, unit=" MB")),
            Row(f"share of one core, {about}", cpu_pct, " %", Goal(1.0, unit=" %")),
            Row(f"written to the disk, {about}, as a day's worth", written_mb[-1], " MB"),
        ]
    every_min = checkpoint_min(statistics.fmean(written_mb[0]))
    return Section(
        title="The idle daemon",
        what=(
            f"`curewatch run` as a process of its own with a real broker, {LAYOUT.sensors} sensors "
            f"in {LAYOUT.rooms} rooms sending one message each every {EVERY_S:.0f} s, {DAYS} days "
            f"of history at one reading a minute ({shops[0].rows:,} rows); {WINDOWS} windows of "
            f"{WINDOW_S:.0f} s, after the start. Commit window 5 s. Once with nothing hung, once "
            f"with {PIECES[-1]} pieces sprayed over the whole of the history, whose clocks are "
            "then kept. A MB is a million bytes."
        ),
        rows=rows,
        notes=[
            (
                "Written is what the kernel counts for the process, taken as if the window were a "
                "whole day. The log's checkpoints, which copy its pages into the database about "
                f"once every {every_min:.0f} min, can fall outside all windows; they at most "
                "double it."
            )
        ],
    )


class Idle:
    """A shop whose daemon has little to do."""

    def __init__(self, folder: Path, pieces: int) -> None:
        """Make its history."""
        folder.mkdir()
        self._broker = Mosquitto(folder)
        self._config = LAYOUT.write_config(folder, self._broker.port)
        settings = load_settings(self._config)
        self._path, now_ms = settings.storage.path, system_ms()
        start_ms = (now_ms - DAYS * DAY_MS) // MINUTE_MS * MINUTE_MS
        names = LAYOUT.sensor_names()
        with Store.open(self._path) as store:
            self.rows = store_climate(store, names, start_ms, now_ms, every_ms=MINUTE_MS)
            span = {"first_ms": start_ms + DAY_MS, "last_ms": now_ms - DAY_MS}
            hang_pieces(store, settings, count=pieces, **span)
        self._pid = 0

    @contextmanager
    def running(self) -> Iterator[None]:
        """Run broker, daemon and sensors; see at the end that all was kept."""
        with (
            self._broker,
            DaemonProcess(self._config) as daemon,
            Sensors(self._broker.port) as sensors,
        ):
            self._pid = daemon.pid
            wait_for(lambda: sensors.sent > LAYOUT.sensors, "the first messages", daemon.log)
            yield
            said = sensors.sent - LAYOUT.sensors  # the newest may still be on their way
            daemon.terminate()
        with Store.open(self._path, read_only=True) as store:
            kept = sum(store.readings.counts().values())
        assert kept >= said * 2, f"{kept} readings of {said} messages are kept"

    def standing(self) -> Standing:
        """Return what its daemon has used so far."""
        return Standing.of(self._pid)


def checkpoint_min(per_day_mb: float) -> float:
    """Return how long it takes to write the thousand pages after which SQLite copies them [min]."""
    return 1000 * PAGE_B / MB / max(per_day_mb, 1e-3) * 1440


class Sensors:
    """Sensors that speak in turn, each every ten seconds."""

    def __init__(self, port: int) -> None:
        """Speak to the broker on `port`."""
        self.sent = 0
        self._client = Client(CallbackAPIVersion.VERSION2)
        self._client.connect("127.0.0.1", port)
        self._end = threading.Event()
        self._thread = threading.Thread(target=self._speak, daemon=True)

    def __enter__(self) -> Self:
        """Begin to speak."""
        self._client.loop_start()
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        """Fall silent."""
        self._end.set()
        self._thread.join()
        self._client.disconnect()
        self._client.loop_stop()

    def _speak(self) -> None:
        names = LAYOUT.sensor_names()
        while not self._end.wait(EVERY_S / len(names)):
            place, at_ms = self.sent % len(names), system_ms()
            temp_c, rh_frac = climate(np.array([at_ms]), place)
            text = {"t": float(temp_c[0]), "h": 100.0 * float(rh_frac[0]), "at": at_ms}
            self._client.publish(f"shop/{names[place]}", json.dumps(text), qos=1)
            self.sent += 1
