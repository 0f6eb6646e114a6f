"""A real broker takes the shipped settings: it keeps what it must and lets in whom it may."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import paho.mqtt.client as mqtt
import pytest
from paho.mqtt.enums import CallbackAPIVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

pytestmark = pytest.mark.broker
SHIPPED = Path(__file__).parents[2] / "deploy" / "mosquitto"
PASSWORDS = {"curewatch": "daemon-word", "booth-air": "sensor-word", "display": "display-word"}
BACKLOG = 3000  # well above the broker's own default of 1000


def _program(name: str) -> str:
    found = shutil.which(name, path=f"{os.environ.get('PATH', '')}:/usr/sbin:/usr/local/sbin")
    if found is None:
        lacking = f"{name} is missing: apt-get install mosquitto"
        if os.environ.get("CI"):
            pytest.fail(lacking)
        pytest.skip(lacking)
    return found


@dataclass
class Broker:
    """A broker with the shipped settings on a port of its own."""

    port: int
    directory: Path
    process: subprocess.Popen[bytes] | None = None
    clients: list[Client] = field(default_factory=list)

    def start(self) -> None:
        """Start it and wait until it listens."""
        with (self.directory / "broker.log").open("ab") as log:
            self.process = subprocess.Popen(
                [_program("mosquitto"), "-c", self.directory / "main.conf"], stderr=log
            )
        until_s = time.monotonic() + 20.0
        while self.process.poll() is None and time.monotonic() < until_s:
            with socket.socket() as line:
                if line.connect_ex(("127.0.0.1", self.port)) == 0:
                    return
            time.sleep(0.02)  # a broker says nowhere that it is ready
        pytest.fail(f"the broker did not start: {(self.directory / 'broker.log').read_text()}")

    def stop(self) -> None:
        """End it in order."""
        if self.process is not None:
            self.process.terminate()
            self.process.wait(20.0)
            self.process = None


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Broker]:
    """Return a broker with the shipped settings; only paths and the port are put in place."""
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    conf = (SHIPPED / "curewatch.conf").read_text(encoding="utf-8")
    for old, new in (
        ("listener 1883 127.0.0.1\n", f"listener {port} 127.0.0.1\n"),
        ("/etc/mosquitto/curewatch.passwd", f"{tmp_path}/curewatch.passwd"),
        ("/etc/mosquitto/curewatch.acl", f"{tmp_path}/curewatch.acl"),
    ):
        assert conf.count(old) == 1
        conf = conf.replace(old, new)
    (tmp_path / "conf.d").mkdir()
    (tmp_path / "conf.d" / "curewatch.conf").write_text(conf, encoding="utf-8")
    shutil.copy(SHIPPED / "curewatch.acl", tmp_path / "curewatch.acl")
    (tmp_path / "main.conf").write_text(  # as the distribution's own main file
        f"user root\npersistence true\npersistence_location {tmp_path}/\nlog_dest stderr\n"
        f"include_dir {tmp_path}/conf.d\n"
    )
    words = tmp_path / "curewatch.passwd"
    words.touch(0o600)
    for name, word in PASSWORDS.items():
        subprocess.run([_program("mosquitto_passwd"), "-b", words, name, word], check=True)
    here = Broker(port, tmp_path)
    here.start()
    yield here
    for client in here.clients:
        client.leave()
    here.stop()


@dataclass
class Client:
    """A client that notes what it is told."""

    name: str
    line: mqtt.Client
    reasons: list[str]
    got: list[tuple[str, bytes]]

    def until(self, what: Callable[[], bool]) -> bool:
        """Let the network run until `what` holds; False when it does not come about."""
        until_s = time.monotonic() + 20.0
        while not what():
            if time.monotonic() > until_s:
                return False
            self.line.loop(0.05)
        return True

    def leave(self) -> None:
        """Say good-bye and close the line."""
        self.line.disconnect()
        self.until(lambda: self.line.socket() is None)


def _client(broker: Broker, name: str | None, *, clean: bool = True, word: str = "") -> Client:
    line = mqtt.Client(CallbackAPIVersion.VERSION2, f"test-{name}", protocol=mqtt.MQTTv5)
    client = Client(name or "", line, [], [])
    line.on_connect = lambda _c, _u, _f, reason, _p: client.reasons.append(str(reason))
    line.on_message = lambda _c, _u, message: client.got.append(
        (message.topic, bytes(message.payload))
    )
    if name is not None:
        line.username_pw_set(name, word or PASSWORDS[name])
    kept = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]
    kept.SessionExpiryInterval = 3600
    line.connect("127.0.0.1", broker.port, clean_start=clean, properties=None if clean else kept)
    broker.clients.append(client)
    assert client.until(lambda: bool(client.reasons))
    return client


def _subscribed(client: Client, topic: str) -> None:
    answered: list[int] = []
    client.line.on_subscribe = lambda _c, _u, mid, _r, _p: answered.append(mid)
    client.line.subscribe(topic, qos=1)
    assert client.until(lambda: bool(answered))


def _published(client: Client, topic: str, payloads: list[bytes]) -> None:
    sent = [client.line.publish(topic, payload, qos=1) for payload in payloads]
    assert client.until(lambda: all(one.is_published() for one in sent))


@pytest.mark.parametrize(("name", "word"), [(None, ""), ("curewatch", "wrong")])
def test_nobody_gets_in_without_name_and_password(
    name: str | None, word: str, broker: Broker
) -> None:
    assert _client(broker, name, word=word).reasons == ["Not authorized"]


def test_the_daemon_hears_a_sensor_and_a_sensor_cannot_speak_for_another(broker: Broker) -> None:
    daemon = _client(broker, "curewatch")
    _subscribed(daemon, "shop/#")
    sensor = _client(broker, "booth-air")
    _published(sensor, "shop/loft/probe", [b"forged"])
    _published(sensor, "shop/booth/climate", [b"true"])
    assert daemon.until(lambda: bool(daemon.got))
    assert daemon.got == [("shop/booth/climate", b"true")]


def test_the_daemon_writes_and_reads_its_own_topics_and_a_display_reads_them(
    broker: Broker,
) -> None:
    display = _client(broker, "display")
    _subscribed(display, "#")
    daemon = _client(broker, "curewatch")
    _subscribed(daemon, "curewatch/#")
    _published(_client(broker, "booth-air"), "shop/booth/climate", [b"not for a display"])
    _published(daemon, "curewatch/millrace/daemon", [b"running"])
    assert display.until(lambda: bool(display.got))
    assert daemon.until(lambda: bool(daemon.got))
    for client in (display, daemon):
        assert client.got == [("curewatch/millrace/daemon", b"running")]


def test_a_backlog_waits_for_a_daemon_that_is_away_and_outlives_the_broker(broker: Broker) -> None:
    daemon = _client(broker, "curewatch", clean=False)
    _subscribed(daemon, "shop/#")
    daemon.leave()
    sensor = _client(broker, "booth-air")
    wanted = [str(number).encode() for number in range(BACKLOG)]
    _published(sensor, "shop/booth/climate", wanted)
    broker.stop()
    broker.start()
    back = _client(broker, "curewatch", clean=False)
    assert back.until(lambda: len(back.got) >= BACKLOG), len(back.got)
    assert [payload for _, payload in back.got] == wanted


def test_a_message_beyond_any_sensor_is_not_let_in(broker: Broker) -> None:
    daemon = _client(broker, "curewatch")
    _subscribed(daemon, "shop/#")
    sensor = _client(broker, "booth-air")
    ended: list[str] = []
    sensor.line.on_disconnect = lambda _c, _u, _f, reason, _p: ended.append(str(reason))
    sensor.line.publish("shop/booth/climate", b"x" * 65_536, qos=1)
    assert daemon.until(lambda: bool(daemon.got))  # what our intake takes, the broker takes
    sensor.line.publish("shop/booth/climate", b"x" * 140_000, qos=1)
    assert sensor.until(lambda: bool(ended))
    assert ended == ["Packet too large"]
    assert len(daemon.got) == 1


@pytest.mark.parametrize(
    "line",
    ["max_inflight_messages 1000", "autosave_interval 30", "persistent_client_expiration 60d"],
)
def test_what_takes_too_long_to_try_is_at_least_there(line: str) -> None:
    assert line in (SHIPPED / "curewatch.conf").read_text(encoding="utf-8").splitlines()
