"""Nothing the broker was told is safe is lost, whenever the daemon is killed."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from curewatch.shop.reading import Quantity
from curewatch.storage import Store
from tests.broker.mosquitto import Mosquitto
from tests.crash.daemon_process import DaemonProcess, wait_for, write_config
from tests.crash.publisher import STEP_MS, value

SENSORS, TIMES, START_MS = 25, 2000, 1_760_000_000_000
KILLS = 5


def stored(path: Path) -> int:
    """Return how many readings are kept."""
    with Store.open(path, read_only=True) as store:
        return sum(store.readings.counts().values())


@pytest.mark.crash
@pytest.mark.timeout(300)
def test_fifty_thousand_messages_survive_five_kills_each_stored_exactly_once(
    tmp_path: Path,
) -> None:
    names = tuple(f"s{number}" for number in range(SENSORS))
    with Mosquitto(tmp_path) as broker:
        config = write_config(tmp_path, broker.port, sensors=names)
        path = tmp_path / "shop.db"
        with DaemonProcess(config) as daemon:
            publisher = subprocess.Popen(
                [
                    sys.executable,
                    Path(__file__).with_name("publisher.py"),
                    *map(str, (broker.port, SENSORS, TIMES, START_MS)),
                ]
            )
            whole = SENSORS * TIMES * 2
            for kill in range(KILLS):
                wait_for(
                    lambda kill=kill: stored(path) >= whole * (kill + 1) // (KILLS + 2),
                    f"share {kill + 1} of the readings",
                    daemon.log,
                    timeout_s=120,
                )
                daemon.kill()
                daemon.start()
            assert publisher.wait(120) == 0
            wait_for(lambda: stored(path) >= whole, "all readings", daemon.log, timeout_s=120)
            daemon.terminate()
        assert daemon.starts == KILLS + 1
    _everything_is_there(path)


def _everything_is_there(path: Path) -> None:
    with Store.open(path, read_only=True) as store:
        series = store.readings.block(0, START_MS * 2)
        refused = {row.reason for row in store.rejections.summary()}
    for sensor in range(SENSORS):
        wanted = [value(sensor, time) for time in range(TIMES)]
        times = [START_MS + time * STEP_MS for time in range(TIMES)]
        for quantity, values in (
            (Quantity.TEMPERATURE, [temp_c for temp_c, _ in wanted]),
            (Quantity.HUMIDITY, [rh_pct / 100.0 for _, rh_pct in wanted]),
        ):
            at_ms, kept = series[f"s{sensor}", quantity]
            assert at_ms.tolist() == times
            assert kept.tolist() == pytest.approx(values, abs=1e-12)
    assert refused <= {"duplicate"}  # what came again after a kill was recognised


@pytest.mark.crash
def test_the_daemon_ends_in_order_within_five_seconds(tmp_path: Path) -> None:
    with (
        Mosquitto(tmp_path) as broker,
        DaemonProcess(write_config(tmp_path, broker.port, sensors=("s0",), window=5.0)) as daemon,
    ):
        assert daemon.terminate() < 5.0
        assert "stopped" in daemon.log.read_text()


@pytest.mark.crash
def test_a_second_daemon_on_the_same_database_is_refused(tmp_path: Path) -> None:
    with Mosquitto(tmp_path) as broker:
        config = write_config(tmp_path, broker.port, sensors=("s0",))
        with DaemonProcess(config):
            second = subprocess.run(
                [sys.executable, "-m", "curewatch", "run", "--config", str(config)],
                capture_output=True,
                text=True,
                check=False,
                timeout=30,
            )
    assert second.returncode == 1
    assert "a daemon uses it already" in " ".join(second.stderr.split())
