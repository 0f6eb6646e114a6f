"""Two sites, each with a daemon and a broker; their brokers bridged, one server for both."""

from __future__ import annotations

import json
import threading
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

from curewatch.clock import system_ms
from tests.broker.cable import Cable
from tests.broker.metric_server import MetricServer, needs_server
from tests.broker.mosquitto import Mosquitto
from tests.broker.test_mirror import INFLUX, behind, stored
from tests.crash.daemon_process import DaemonProcess, wait_for, write_config

if TYPE_CHECKING:
    from paho.mqtt.client import MQTTMessage


pytestmark = [pytest.mark.broker, pytest.mark.crash]
BRIDGE = Path(__file__).parents[2] / "deploy" / "bridge.conf"
EVENTS = 400  # alerts' messages while the line is cut


@dataclass
class Listener:
    """Hears everything of a broker: the newest retained of each topic, and every event."""

    port: int
    standing: dict[str, str] = field(default_factory=dict)
    events: list[str] = field(default_factory=list)
    _ready: threading.Event = field(default_factory=threading.Event)

    def __post_init__(self) -> None:
        """Begin to listen."""
        self._client = Client(CallbackAPIVersion.VERSION2, client_id=f"listener-{self.port}")
        self._client.on_message = self._hear
        self._client.on_subscribe = lambda *_: self._ready.set()
        self._client.connect("127.0.0.1", self.port)
        self._client.subscribe("curewatch/#", qos=1)
        self._client.loop_start()
        assert self._ready.wait(10.0)

    def _hear(self, _client: Client, _data: object, message: MQTTMessage) -> None:
        text = message.payload.decode()
        if message.topic.endswith("/alert"):
            self.events.append(text)
        else:
            self.standing[message.topic] = text

    def of(self, site: str) -> dict[str, str]:
        """Return what stands of a site: its rooms, its pieces, its alerts, its daemon."""
        own = [f"curewatch/{site}/{what}" for what in ("room/", "piece/", "alerts", "daemon")]
        return {
            topic: text
            for topic, text in self.standing.items()
            if any(topic.startswith(start) for start in own) and not topic.endswith("/marker")
        }

    def stop(self) -> None:
        """Stop listening."""
        self._client.disconnect()
        self._client.loop_stop()


def bridge(port: int, site: str) -> str:
    """Return the shipped file for a site, as two brokers of one machine need it."""
    lines = BRIDGE.read_text("utf-8").replace("yard", site).splitlines()
    changed = {
        "address": f"address 127.0.0.1:{port}",
        "restart_timeout": "restart_timeout 1",  # tried again sooner than a shop would
    }
    left_out = ("bridge_cafile",)  # no encryption on the loopback
    kept = []
    for line in lines:
        word = line.partition(" ")[0]
        if word not in left_out:
            kept.append(changed.get(word, line))
    return "\n".join(kept)


def configured(folder: Path, broker: Mosquitto, server: MetricServer, site: str) -> Path:
    token = folder / "token"
    token.write_text("an invented token\n", "utf-8")
    token.chmod(0o600)
    config = write_config(folder, broker.port, sensors=("rack",))
    text = config.read_text("utf-8").replace('name = "trial"', f'name = "{site}"')
    config.write_text(text + INFLUX.format(url=server.url, token=token), "utf-8")
    return config


def publish(broker: Mosquitto, topic: str, messages: list[Any], *, retain: bool = False) -> None:
    client = Client(CallbackAPIVersion.VERSION2)
    client.max_inflight_messages_set(500)
    client.connect("127.0.0.1", broker.port)
    client.loop_start()
    waits = [client.publish(topic, json.dumps(one), qos=1, retain=retain) for one in messages]
    for wait in waits:
        wait.wait_for_publish(20.0)
    client.disconnect()
    client.loop_stop()


def readings(first: float, count: int) -> list[dict[str, float]]:
    now_ms = system_ms()
    return [
        {"temperature": first + n * 0.01, "humidity": 50.0, "at": now_ms - (count - n) * 60_000}
        for n in range(count)
    ]


def test_both_sites_come_back_by_their_names_and_a_cut_line_loses_nothing(tmp_path: Path) -> None:
    needs_server()
    head, barn = tmp_path / "head", tmp_path / "barn"
    head.mkdir()
    barn.mkdir()
    with (
        Mosquitto(head) as head_broker,
        Cable(head_broker.port) as cable,
        Mosquitto(barn, extra=bridge(cable.port, "barn")) as barn_broker,
        MetricServer(tmp_path / "points") as server,
    ):
        configs = {
            "head": configured(head, head_broker, server, "head"),
            "barn": configured(barn, barn_broker, server, "barn"),
        }
        at_head, at_barn = Listener(head_broker.port), Listener(barn_broker.port)

        def the_same() -> bool:
            return len(at_barn.of("barn")) == 3 and at_head.of("barn") == at_barn.of("barn")

        with DaemonProcess(configs["head"]), DaemonProcess(configs["barn"]) as other:
            publish(head_broker, "shop/rack", readings(20.0, 30))
            publish(barn_broker, "shop/rack", readings(10.0, 30))
            wait_for(the_same, "the barn's states at the head office", other.log)
            assert at_head.standing["curewatch/barn/bridge"] == "1"
            assert not any(topic.endswith("barn/daemon/marker") for topic in at_head.standing)
            assert not any(topic.startswith("curewatch/head") for topic in at_barn.standing)

            cable.cut()
            wait_for(lambda: at_head.standing["curewatch/barn/bridge"] == "0", "the will")
            events = [{"number": n} for n in range(EVENTS)]
            publish(barn_broker, "curewatch/barn/alert", events)
            publish(barn_broker, "shop/rack", readings(10.3, 1))
            wait_for(lambda: not the_same(), "a state that is not there yet", other.log)
            barn_broker.stop()  # what waits for the line outlives the broker's own restart
            barn_broker.start()
            cable.mend()
            wait_for(lambda: at_head.standing["curewatch/barn/bridge"] == "1", "the line")
            wait_for(lambda: len(at_head.events) >= EVENTS, "every event", other.log)
            numbers = [json.loads(text).get("number") for text in at_head.events]
            assert sorted(set(numbers)) == list(range(EVENTS))
            at_barn.stop()
            at_barn = Listener(barn_broker.port)
            wait_for(the_same, "the same states at both", other.log)
            for site, folder in (("head", head), ("barn", barn)):
                database = folder / "shop.db"
                wait_for(partial(_all_there, server, site, database), f"all of {site}", other.log)
            assert len(by_site(server, "barn")) == 62
        at_head.stop()
        at_barn.stop()


def _all_there(server: MetricServer, site: str, database: Path) -> bool:
    """Whether a site's readings are all there, and no others; the server shows them in a while."""
    return behind(database) == 0 and by_site(server, site) == stored(database)


def by_site(server: MetricServer, site: str) -> dict[tuple[str, str, int], float]:
    found: dict[tuple[str, str, int], float] = {}
    for labels, points in server.points("curewatch_reading_.*").items():
        tags = dict(labels)
        name = tags["__name__"].removeprefix("curewatch_reading_")
        if tags["site"] == site:
            found |= {(tags["sensor"], name, at_ms): value for at_ms, value in points.items()}
    return found
