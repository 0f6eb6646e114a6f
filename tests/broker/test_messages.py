"""What a real daemon says in a run: every message holds to its schema, over a broker's restart."""

from __future__ import annotations

import json
import os
import queue
import subprocess
import sys
import threading
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from jsonschema import Draft202012Validator, FormatChecker
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

from curewatch.clock import system_ms
from curewatch.shop.piece import Coat
from curewatch.storage import Store
from tests.broker.mosquitto import Mosquitto, installed
from tests.broker.test_mirror_states import hang
from tests.crash.daemon_process import DaemonProcess, wait_for, write_config

if TYPE_CHECKING:
    from paho.mqtt.client import MQTTMessage

pytestmark = [pytest.mark.broker, pytest.mark.crash]
DOCS = Path(__file__).parents[2] / "docs"
LAMP = DOCS / "examples" / "lamp.sh"
SITE = "curewatch/trial/"


class Hearer:
    """Keeps every message of the site, the newest last."""

    def __init__(self, port: int) -> None:
        """Listen at the broker on `port`; comes back by itself after a restart."""
        self.heard: list[tuple[str, bytes]] = []
        self._ready = threading.Event()
        self._client = Client(CallbackAPIVersion.VERSION2)
        self._client.reconnect_delay_set(1, 1)
        self._client.on_connect = lambda client, *_: client.subscribe(SITE + "#", qos=1)
        self._client.on_subscribe = lambda *_: self._ready.set()
        self._client.on_message = self._hear
        self._client.connect("127.0.0.1", port)
        self._client.loop_start()
        assert self._ready.wait(10.0)

    def _hear(self, _client: Client, _data: object, message: MQTTMessage) -> None:
        self.heard.append((message.topic.removeprefix(SITE), bytes(message.payload)))

    def last(self, topic: str) -> dict[str, Any]:
        """Return the newest message of a topic; nothing where there is none."""
        found: dict[str, Any] = {}
        for one, payload in self.heard:
            if one == topic and payload:
                found = json.loads(payload)
        return found

    def events(self) -> list[str]:
        """Return the phases that alerts came to."""
        return [json.loads(payload)["phase"] for topic, payload in self.heard if topic == "alert"]

    def stop(self) -> None:
        """Stop listening."""
        self._client.disconnect()
        self._client.loop_stop()


def publish(port: int, temp_c: float, minutes: range) -> None:
    client = Client(CallbackAPIVersion.VERSION2)
    client.connect("127.0.0.1", port)
    client.loop_start()
    now_ms = system_ms()
    for minute in minutes:
        said = {"temperature": temp_c, "humidity": 50.0, "at": now_ms - minute * 60_000}
        client.publish("shop/rack", json.dumps(said), qos=1).wait_for_publish(10.0)
    client.disconnect()
    client.loop_stop()


def check(heard: list[tuple[str, bytes]]) -> set[str]:
    """Hold every message to its schema; return which schemas were needed."""
    needed: set[str] = set()
    for topic, payload in heard:
        name = topic.partition("/")[0]
        if topic == "daemon/marker" or (name == "piece" and not payload):
            continue
        schema = json.loads((DOCS / "schemas" / f"{name}.schema.json").read_text("utf-8"))
        validator = Draft202012Validator(schema, format_checker=FormatChecker())
        validator.validate(json.loads(payload))
        needed.add(name)
    return needed


def seen(config: Path, number: int) -> None:
    words = ["-m", "curewatch", "alert", "seen", str(number), "--by", "Ada"]
    subprocess.run(
        [sys.executable, *words, "--config", str(config)],
        check=True,
        capture_output=True,
    )


def test_every_message_of_a_run_holds_to_its_schema_and_stands_again_after_a_restart(
    tmp_path: Path,
) -> None:
    with Mosquitto(tmp_path) as broker:
        config = write_config(tmp_path, broker.port, sensors=("rack", "wall"))
        with Store.open(tmp_path / "shop.db") as store:
            coat_ms = system_ms() - 3_600_000
            hang(store, "B1", coat_ms)
            store.pieces.coat("B1", Coat(coat_ms + 60_000), coat_ms)  # far too soon
        hearer = Hearer(broker.port)
        with DaemonProcess(config) as daemon:
            publish(broker.port, 21.0, range(90, -1, -1))
            wait_for(lambda: hearer.last("room/drying").get("fresh"), "a room", daemon.log)
            wait_for(lambda: "raised" in hearer.events(), "an alert", daemon.log)
            assert hearer.last("daemon")["presence"] == "running"
            standing = hearer.last("alerts")
            assert standing["call"] != "quiet"
            number = standing["alerts"][0]["id"]
            seen(config, number)
            wait_for(lambda: "seen" in hearer.events(), "that it was seen", daemon.log)

            before = {t: hearer.last(t) for t in ("room/drying", "piece/B1", "daemon")}
            assert all(before.values())
            broker.kill()  # before it saved anything: it starts with nothing
            (tmp_path / "mosquitto.db").unlink(missing_ok=True)
            early = hearer.heard.copy()
            hearer.heard.clear()
            broker.start()
            wait_for(
                lambda: all(hearer.last(t) for t in (*before, "alerts")), "all again", daemon.log
            )
            assert hearer.last("piece/B1")["piece"] == "B1"
            daemon.kill()
            wait_for(lambda: hearer.last("daemon")["presence"] == "gone", "its will", daemon.log)
            daemon.start()
            wait_for(lambda: hearer.last("daemon")["presence"] == "running", "it", daemon.log)
            daemon.terminate()
            wait_for(lambda: hearer.last("daemon")["presence"] == "gone", "its farewell")
        hearer.stop()
        assert check(early) == {"room", "piece", "daemon", "alerts", "alert"}
        assert check(hearer.heard) >= {"room", "piece", "daemon", "alerts"}


def test_the_lamp_of_the_example_follows_what_stands(tmp_path: Path) -> None:
    installed("mosquitto_sub", "mosquitto-clients")
    with Mosquitto(tmp_path) as broker:
        client = Client(CallbackAPIVersion.VERSION2)
        client.connect("127.0.0.1", broker.port)
        client.loop_start()

        def say(topic: str, message: dict[str, Any]) -> None:
            text = json.dumps(message, separators=(",", ":"))
            client.publish(SITE + topic, text, qos=1, retain=True).wait_for_publish(10.0)

        say("daemon", {"format": 1, "presence": "running", "version": "0.1.0"})
        lamp = subprocess.Popen(
            ["sh", str(LAMP)],
            env={**os.environ, "SITE": "trial", "PORT": str(broker.port), "EVERY": "2"},
            stdout=subprocess.PIPE,
            text=True,
            start_new_session=True,
        )
        shown: queue.SimpleQueue[str] = queue.SimpleQueue()
        assert lamp.stdout is not None
        lines = lamp.stdout

        def look() -> None:
            for line in lines:
                shown.put(line.strip())

        threading.Thread(target=look, daemon=True).start()
        try:
            assert shown.get(timeout=10.0) == "fault"  # nobody has said how alerts stand
            for call, colour in (("quiet", "off"), ("now", "red"), ("note", "amber")):
                say("alerts", {"format": 1, "call": call, "alerts": []})
                assert shown.get(timeout=10.0) == colour
            client.publish(SITE + "daemon", '{"presence": "gone"}', qos=1, retain=True)
            assert shown.get(timeout=10.0) == "fault"
            say("daemon", {"format": 1, "presence": "running"})
            assert shown.get(timeout=10.0) == "amber"
            broker.kill()
            assert shown.get(timeout=10.0) == "fault"
        finally:
            os.killpg(lamp.pid, 15)
            lamp.wait(10.0)
            lines.close()
            client.disconnect()
            client.loop_stop()
