"""The mirror against a real server: every row comes back, whatever was killed meanwhile."""

from __future__ import annotations

import itertools
import json
import subprocess
import sys
from typing import TYPE_CHECKING

import pytest

from curewatch.clock import system_ms
from curewatch.shop.reading import Quantity, Reading
from curewatch.storage import Store
from tests.broker.metric_server import MetricServer, needs_server
from tests.broker.mosquitto import Mosquitto
from tests.crash.daemon_process import DaemonProcess, wait_for, write_config

if TYPE_CHECKING:
    from pathlib import Path

pytestmark = [pytest.mark.broker, pytest.mark.crash]
INFLUX = """
[influx]
url = "{url}"
org = "yard"
bucket = "shop"
token_file = "{token}"
every_s = 1
"""
ROWS = 22_000  # more than one claim takes
STEP_MS = 7_000
FIELD = {Quantity.TEMPERATURE: "temperature_c", Quantity.HUMIDITY: "humidity_frac"}


def configured(folder: Path, broker: Mosquitto, server: MetricServer) -> Path:
    token = folder / "token"
    token.write_text("an invented token\n", "utf-8")
    token.chmod(0o600)
    config = write_config(folder, broker.port, sensors=("rack", "wall"))
    text = config.read_text("utf-8") + INFLUX.format(url=server.url, token=token)
    config.write_text(text, "utf-8")
    return config


def series(sensor: str, first_ms: int, rows: int) -> list[Reading]:
    """Return readings of two quantities whose values no other instant repeats.

    The server keeps fifteen digits; sensors say fewer.
    """
    pairs = itertools.product(range(rows // 2), FIELD)
    return [
        Reading(
            sensor,
            quantity,
            first_ms + step * STEP_MS,
            round((20.0, 0.5)[kind - 1] + step * 1e-5, 6),
        )
        for step, (kind, quantity) in ((s, (int(q), q)) for s, q in pairs)
    ]


def stored(database: Path) -> dict[tuple[str, str, int], float]:
    with Store.open(database, read_only=True) as store:
        return {
            (r.sensor, FIELD[r.quantity], r.at_ms): r.value for r in store.readings.rows(0, 1 << 62)
        }


def mirrored(server: MetricServer) -> dict[tuple[str, str, int], float]:
    found: dict[tuple[str, str, int], float] = {}
    for labels, points in server.points("curewatch_reading_.*").items():
        tags = dict(labels)
        assert tags["site"] == "trial"
        field = tags["__name__"].removeprefix("curewatch_reading_")
        found |= {(tags["sensor"], field, at_ms): value for at_ms, value in points.items()}
    return found


def status(config: Path) -> dict[str, object]:
    words = [sys.executable, "-m", "curewatch", "status", "--json", "--config", str(config)]
    answer = subprocess.run(words, check=True, capture_output=True, text=True)
    mirror = json.loads(answer.stdout)["mirror"]
    assert isinstance(mirror, dict)
    return mirror


def behind(database: Path) -> int:
    with Store.open(database, read_only=True) as store:
        return store.mirror_marks.behind().rows


def test_every_row_comes_back_after_kills_absence_late_rows_and_a_backfill(tmp_path: Path) -> None:
    needs_server()
    database = tmp_path / "shop.db"
    now_ms = system_ms() // 1000 * 1000
    first_ms = now_ms - ROWS * STEP_MS
    server = MetricServer(tmp_path / "points")
    with Mosquitto(tmp_path) as broker, server:
        config = configured(tmp_path, broker, server)
        with Store.open(database) as store:
            store.readings.add(series("rack", first_ms, ROWS))

        def all_there() -> bool:  # the server shows what it has taken in a while
            return behind(database) == 0 and mirrored(server) == stored(database)

        with DaemonProcess(config) as daemon:
            interrupted = False
            for _ in range(3):  # killed while it sends
                wait_for(lambda: len(mirrored(server)) > 0, "a first write", daemon.log)
                daemon.kill()
                interrupted |= 0 < len(mirrored(server)) < ROWS
                daemon.start()
            assert interrupted, "no kill came while rows were under way"
            wait_for(all_there, "all rows", daemon.log, timeout_s=60.0)

            server.stop()
            with Store.open(database) as other:  # late: far behind what was sent
                other.readings.add(series("wall", first_ms + 1, 400), announce=True)
            wait_for(lambda: status(config)["last_error"], "the failure", daemon.log)
            told = status(config)
            assert told["behind_rows"] >= 400  # type: ignore[operator]  # a number
            assert told["behind_s"] > 1000.0  # type: ignore[operator]  # a number
            assert "cannot be reached" in str(told["last_error"])
            daemon.kill()
            server.start()
            daemon.start()
            wait_for(all_there, "late rows", daemon.log, timeout_s=60.0)
            assert status(config)["last_error"] is None

        fresh = MetricServer(tmp_path / "fresh", port=server.port)
        server.stop()
        with fresh, DaemonProcess(config) as daemon:
            since = str((first_ms + 1000 * STEP_MS) // 1000 * 1000)
            words = [sys.executable, "-m", "curewatch", "mirror", "backfill"]
            moment = subprocess.run(
                [*words, "--from", iso(int(since)), "--config", str(config)],
                check=False,
                capture_output=True,
                text=True,
            )
            assert moment.returncode == 0, moment.stderr
            asked = {key: v for key, v in stored(database).items() if key[2] >= int(since)}
            wait_for(
                lambda: behind(database) == 0 and mirrored(fresh) == asked,
                "the backfill",
                daemon.log,
                timeout_s=60.0,
            )


def iso(at_ms: int) -> str:
    from curewatch.shop.plain import instant  # noqa: PLC0415 - used here alone

    said = instant(at_ms)
    assert said is not None
    return said
