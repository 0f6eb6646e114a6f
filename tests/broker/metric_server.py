"""A real server that takes InfluxDB v2 writes and scrapes OpenMetrics, on a port of its own."""

from __future__ import annotations

import json
import signal
import socket
import ssl
import subprocess
import time
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Self

import httpx

from tests.broker.mosquitto import installed

if TYPE_CHECKING:
    from pathlib import Path

PROGRAM = "victoria-metrics"
READY_S = 20.0


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as probe:
        return int(probe.getsockname()[1])


def needs_server() -> None:
    """Skip where it is not installed; in CI that fails the run."""
    installed(PROGRAM, PROGRAM)


@dataclass
class MetricServer:
    """The server; what it took stays over a stop and a start."""

    folder: Path
    scrape: str | None = None  # a configuration of what to scrape
    port: int = field(default_factory=free_port)
    certificate: Path | None = None  # with its key beside it, as '.key': speak TLS
    _process: subprocess.Popen[bytes] | None = field(default=None, repr=False)

    @property
    def url(self) -> str:
        """Where it answers."""
        return f"{'http' if self.certificate is None else 'https'}://127.0.0.1:{self.port}"

    def __enter__(self) -> Self:
        """Start it."""
        self.start()
        return self

    def __exit__(self, *_exception: object) -> None:
        """End it."""
        self.stop()

    def start(self) -> None:
        """Start it and wait until it answers."""
        words = [
            PROGRAM,
            f"-storageDataPath={self.folder}",
            f"-httpListenAddr=127.0.0.1:{self.port}",
            "-retentionPeriod=100y",
            "-dedup.minScrapeInterval=1ms",
            "-selfScrapeInterval=0",
            "-search.latencyOffset=0s",
        ]
        if self.certificate is not None:
            words += [
                "-tls",
                f"-tlsCertFile={self.certificate}",
                f"-tlsKeyFile={self.certificate.with_suffix('.key')}",
            ]
        if self.scrape is not None:
            path = self.folder.with_suffix(".yml")
            path.write_text(self.scrape, "utf-8")
            words.append(f"-promscrape.config={path}")
        with self.folder.with_suffix(".log").open("ab") as log:
            self._process = subprocess.Popen(words, stdout=log, stderr=subprocess.STDOUT)
        until_s = time.monotonic() + READY_S
        while True:
            try:
                if self._get("health").status_code == 200:
                    return
            except httpx.TransportError:
                pass
            assert time.monotonic() < until_s, self.folder.with_suffix(".log").read_text()[-2000:]
            time.sleep(0.05)  # a foreign process can only be watched

    def stop(self) -> None:
        """End it in order."""
        self._end(signal.SIGTERM)

    def kill(self) -> None:
        """End it with SIGKILL."""
        self._end(signal.SIGKILL)

    def _end(self, how: signal.Signals) -> None:
        if self._process is not None:
            self._process.send_signal(how)
            self._process.wait(READY_S)
            self._process = None

    def _get(self, path: str, **asked: str) -> httpx.Response:
        tls = self.certificate
        vouched = True if tls is None else ssl.create_default_context(cafile=str(tls))
        return httpx.get(f"{self.url}/{path}", params=asked, timeout=30.0, verify=vouched)

    def points(self, name: str) -> dict[tuple[tuple[str, str], ...], dict[int, float]]:
        """Return every point whose name matches, by its labels and its time [ms]."""
        self._get("internal/force_flush").raise_for_status()
        asked = {"match[]": f'{{__name__=~"{name}"}}', "start": "0"}
        answer = self._get("api/v1/export", **asked)
        answer.raise_for_status()
        found: dict[tuple[tuple[str, str], ...], dict[int, float]] = {}
        for line in answer.text.splitlines():
            one = json.loads(line)
            series = found.setdefault(tuple(sorted(one["metric"].items())), {})
            for at_ms, value in zip(one["timestamps"], one["values"], strict=True):
                assert at_ms not in series, "one instant twice"
                series[at_ms] = value
        return found
