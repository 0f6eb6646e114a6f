"""The page of the real daemon process: under load, at its end, and with its port taken."""

from __future__ import annotations

import json
import socket
import threading
import time
from typing import TYPE_CHECKING

import httpx
import pytest
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

from curewatch.clock import system_ms
from curewatch.storage import Store
from tests.broker.mosquitto import Mosquitto
from tests.crash.daemon_process import DaemonProcess, wait_for, write_config

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

pytestmark = [pytest.mark.broker, pytest.mark.crash]
SENSORS = 25
PER_SECOND = 20  # messages of each, two readings in each: 1000 readings a second
LASTS_S = 6.0
BEGINS_MS = 3_600_000  # so long ago their times begin
PAGE = "[page]\nserve = true\nopen_reading = true\nport = {port}\n"


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as probe:
        return int(probe.getsockname()[1])


def configured(folder: Path, broker: Mosquitto, port: int) -> Path:
    names = tuple(f"s{number}" for number in range(SENSORS))
    config = write_config(folder, broker.port, sensors=names)
    config.write_text(config.read_text("utf-8") + PAGE.format(port=port), "utf-8")
    return config


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Mosquitto]:
    with Mosquitto(tmp_path) as running:
        yield running


class Load(threading.Thread):
    """Sends 1000 readings a second until it is told to end."""

    def __init__(self, port: int) -> None:
        super().__init__()
        self._port = port
        self.over = threading.Event()
        self.sent = 0

    def run(self) -> None:
        """Send them."""
        client = Client(CallbackAPIVersion.VERSION2)
        client.max_inflight_messages_set(500)
        client.max_queued_messages_set(0)
        client.connect("127.0.0.1", self._port)
        client.loop_start()
        begun_s, began_ms = time.monotonic(), system_ms() - BEGINS_MS
        last = None
        while not self.over.is_set():
            step = self.sent // SENSORS
            for sensor in range(SENSORS):
                at_ms = began_ms + step * 1000 // PER_SECOND
                content = {"temperature": 20.0 + step % 50 * 0.01, "humidity": 50.0, "at": at_ms}
                last = client.publish(f"shop/s{sensor}", json.dumps(content), qos=1)
                self.sent += 1
            self.over.wait(max(begun_s + (step + 1) / PER_SECOND - time.monotonic(), 0.0))
        assert last is not None
        last.wait_for_publish(60.0)
        client.disconnect()
        client.loop_stop()


def test_the_page_answers_while_a_thousand_readings_a_second_come_in(
    tmp_path: Path, broker: Mosquitto
) -> None:
    port = free_port()
    config = configured(tmp_path, broker, port)
    load = Load(broker.port)
    with DaemonProcess(config) as daemon, httpx.Client(timeout=10.0) as visitor:
        load.start()
        waits = []
        until_s = time.monotonic() + LASTS_S
        while time.monotonic() < until_s:
            begun_s = time.monotonic()
            answer = visitor.get(f"http://127.0.0.1:{port}/")
            waits.append(time.monotonic() - begun_s)
            assert answer.status_code == 200
            assert "drying" in answer.text
        load.over.set()
        load.join(60.0)
        assert load.sent >= 0.8 * LASTS_S * SENSORS * PER_SECOND, "this machine cannot send it"
        with Store.open(tmp_path / "shop.db", read_only=True) as store:
            wait_for(
                lambda: sum(store.readings.counts().values()) == 2 * load.sent,
                "all readings",
                daemon.log,
                timeout_s=60.0,
            )
        assert len(waits) > 5
        assert max(waits) < 5.0  # half of what the page itself waits for


def test_sigterm_ends_it_within_five_seconds_with_a_stream_open(
    tmp_path: Path, broker: Mosquitto
) -> None:
    port = free_port()
    with DaemonProcess(configured(tmp_path, broker, port)) as daemon:
        url = f"http://127.0.0.1:{port}/live"
        with httpx.stream("GET", url, timeout=20.0) as stream:
            lines = stream.iter_lines()
            assert next(lines) == "event: state"
            ending = daemon.terminate()
            list(lines)  # it is closed in order
        assert ending < 5.0
        assert "everything acknowledged is kept" in daemon.log.read_text("utf-8")


def test_a_port_that_is_taken_is_said_and_the_daemon_goes_on(
    tmp_path: Path, broker: Mosquitto
) -> None:
    with socket.create_server(("127.0.0.1", 0)) as other:
        port = int(other.getsockname()[1])
        with DaemonProcess(configured(tmp_path, broker, port)) as daemon:
            said = daemon.log.read_text("utf-8")
            assert f"127.0.0.1 port {port} cannot be listened on" in said
            assert "ready: subscribed" in said
            assert daemon.terminate() < 5.0
