"""The real daemon as a process of its own, to be killed and started again."""

from __future__ import annotations

import signal
import subprocess
import sys
import time
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Self

import pytest

if TYPE_CHECKING:
    from pathlib import Path

READY_S = 30.0


@dataclass
class DaemonProcess:
    """`curewatch run` with a configuration; its log is kept over restarts."""

    config: Path
    starts: int = 0
    _process: subprocess.Popen[bytes] | None = field(default=None, repr=False)

    def __enter__(self) -> Self:
        """Start it and wait until it is ready."""
        self.start()
        return self

    def __exit__(self, *_exception: object) -> None:
        """End it, whatever state it is in."""
        if self._process is not None:
            self.kill()

    @property
    def log(self) -> Path:
        """Where it logs."""
        return self.config.with_suffix(".log")

    @property
    def pid(self) -> int:
        """Its process number."""
        assert self._process is not None
        return self._process.pid

    def start(self) -> None:
        """Start it; return once it says 'ready'."""
        self.starts += 1
        with self.log.open("ab") as log:
            self._process = subprocess.Popen(
                [sys.executable, "-m", "curewatch", "run", "--config", str(self.config)],
                stdout=log,
                stderr=subprocess.STDOUT,
            )
        wait_for(lambda: self.log.read_text().count(" ready: ") >= self.starts, "ready", self.log)

    def kill(self) -> None:
        """SIGKILL it."""
        self._end(signal.SIGKILL)

    def terminate(self) -> float:
        """SIGTERM it; return how long it took to end [s], which must be in order."""
        assert self._process is not None
        begun = time.monotonic()
        process = self._process
        self._end(signal.SIGTERM)
        assert process.returncode == 0, self.log.read_text()[-2000:]
        return time.monotonic() - begun

    def _end(self, how: signal.Signals) -> None:
        assert self._process is not None
        self._process.send_signal(how)
        self._process.wait(READY_S)
        self._process = None


def wait_for(holds: object, what: str, log: Path | None = None, timeout_s: float = READY_S) -> None:
    """Look until `holds()` is true; fail with the log's end when it does not become so."""
    assert callable(holds)
    deadline = time.monotonic() + timeout_s
    while not holds():
        if time.monotonic() > deadline:
            pytest.fail(f"waited in vain for {what}: {log.read_text()[-3000:] if log else ''}")
        time.sleep(0.02)  # a foreign process can only be watched


CONFIG = """\
[site]
name = "{site}"
[storage]
path = "{folder}/shop.db"
[broker]
host = "127.0.0.1"
port = {port}
protocol = "{protocol}"
[clock]
source = "{clock}"
commit_window_s = {window}
[[room]]
name = "drying"
longest_gap_min = 30
"""

SENSOR = """\
[[sensor]]
id = "{name}"
room = "drying"
topic = "shop/{name}"
temperature = "/temperature"
humidity = "/humidity"
time = "/at"
"""


def write_config(
    folder: Path,
    port: int,
    *,
    sensors: tuple[str, ...],
    clock: str = "system",
    protocol: str = "5",
    window: float = 0.1,
) -> Path:
    """Write a shop's configuration; return its path."""
    text = CONFIG.format(
        site="trial", folder=folder, port=port, clock=clock, protocol=protocol, window=window
    )
    config = folder / "shop.toml"
    config.write_text(text + "".join(SENSOR.format(name=name) for name in sensors))
    return config
