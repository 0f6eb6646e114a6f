"""Every form of message sensors send, through a real broker into a real daemon's storage."""

from __future__ import annotations

import json
import subprocess
from typing import TYPE_CHECKING

import pytest

from curewatch.clock import system_ms
from curewatch.storage import Store
from tests.broker.mosquitto import installed
from tests.broker.running import await_it, daemon, say, stored

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from curewatch.daemon import Daemon
    from tests.broker.mosquitto import Mosquitto

pytestmark = pytest.mark.broker
SENSORS = """
[[sensor]]
id = "flat"
room = "loft"
topic = "shop/flat"
temperature = "/temperature"
humidity = "/humidity"
surface_temperature = "/wood"
[[sensor]]
id = "nested"
room = "loft"
topic = "shop/nested"
temperature = "/data/0/air/t"
[[sensor]]
id = "bare"
room = "loft"
topic = "shop/bare/temperature"
temperature = ""
[[sensor]]
id = "bare"
room = "loft"
topic = "shop/bare/humidity"
humidity = ""
[[sensor]]
id = "comma"
room = "loft"
topic = "shop/comma"
temperature = "/t"
numbers_as_strings = true
decimal_comma = true
[[sensor]]
id = "undeclared"
room = "loft"
topic = "shop/undeclared"
temperature = "/t"
[[sensor]]
id = "named-unit"
room = "loft"
topic = "shop/named-unit"
temperature = "/t/value"
temperature_unit = "/t/unit"
[[sensor]]
id = "packs"
room = "loft"
topic = "shop/packs"
format = "senml"
temperature = "urn:dev:mac:0a:temp"
humidity = "urn:dev:mac:0a:rh"
[[sensor]]
id = "scale"
room = "loft"
topic = "shop/scale"
mass = "/kg"
mass_unit = "kg"
[[sensor]]
id = "vane"
room = "loft"
topic = "shop/vane"
air_speed = "/speed"
air_speed_unit = "km/h"
[[sensor]]
id = "fan"
room = "loft"
topic = "shop/fan"
fan_on = ""
[[kind]]
name = "air"
topic = "shop/loggers/{id}/climate"
presence = "shop/loggers/{id}/presence"
temperature = "/t"
[[sensor]]
id = "logger-one"
room = "loft"
kind = "air"
heard_as = "1"
"""
PACK = [
    {"bn": "urn:dev:mac:0a:", "bu": "Cel", "n": "temp", "v": 21.5, "t": -2},
    {"n": "rh", "u": "%", "v": 0.48},
    {"n": "pressure", "u": "Pa", "v": 101325},
]


@pytest.fixture
def config(tmp_path: Path, broker: Mosquitto) -> Path:
    """Write a shop with a sensor of each form."""
    path = tmp_path / "curewatch.toml"
    path.write_text(
        f'[site]\nname = "yard"\ntimezone = "UTC"\n[storage]\npath = "shop.db"\n'
        f'[broker]\nhost = "127.0.0.1"\nport = {broker.port}\n[clock]\ncommit_window_s = 0.05\n'
        f'[[room]]\nname = "loft"\n{SENSORS}'
    )
    return path


@pytest.fixture
def running(config: Path) -> Iterator[Daemon]:
    """Run the daemon."""
    with daemon(config) as watching:
        yield watching


def test_every_form_is_stored_in_our_own_units(
    running: Daemon, broker: Mosquitto, config: Path
) -> None:
    assert running.line.state().connected
    say(broker, "shop/flat", json.dumps({"temperature": 21.5, "humidity": 48, "wood": 20.5}))
    say(broker, "shop/nested", json.dumps({"data": [{"air": {"t": 21.5}}]}))
    say(broker, "shop/bare/temperature", b"21.5")
    say(broker, "shop/bare/humidity", b"48")
    say(broker, "shop/comma", json.dumps({"t": "21,5"}))
    say(broker, "shop/undeclared", json.dumps({"t": "21,5"}))
    say(broker, "shop/named-unit", json.dumps({"t": {"value": 70.7, "unit": "[degF]"}}))
    say(broker, "shop/packs", json.dumps(PACK))
    say(broker, "shop/scale", json.dumps({"kg": 0.12}))
    say(broker, "shop/vane", json.dumps({"speed": 1.8}))
    say(broker, "shop/fan", b"ON")
    say(broker, "shop/loggers/1/climate", json.dumps({"t": 21.5}))
    expected = {
        ("flat", "temperature"): 21.5,
        ("flat", "humidity"): 0.48,
        ("flat", "surface_temperature"): 20.5,
        ("nested", "temperature"): 21.5,
        ("bare", "temperature"): 21.5,
        ("bare", "humidity"): 0.48,
        ("comma", "temperature"): 21.5,
        ("named-unit", "temperature"): 21.5,
        ("packs", "temperature"): 21.5,
        ("packs", "humidity"): 0.48,
        ("scale", "mass"): 120.0,
        ("vane", "air_speed"): 0.5,
        ("fan", "fan_on"): 1.0,
        ("logger-one", "temperature"): 21.5,
    }

    def all_of_it() -> dict[tuple[str, str], float] | None:
        found = stored(config)
        return found if len(found) >= len(expected) else None

    assert await_it(all_of_it) == {key: pytest.approx(v) for key, v in expected.items()}
    with Store.open(config.parent / "shop.db") as store:
        refused = [(row.sensor, row.reason) for row in store.rejections.summary()]
    assert refused == [("undeclared", "not-a-number")]


def test_a_sensor_that_dies_is_gone_as_soon_as_the_broker_sends_its_will(
    running: Daemon, broker: Mosquitto, config: Path
) -> None:
    say(broker, "shop/loggers/1/climate", json.dumps({"t": 21.5}))
    await_it(lambda: stored(config) or None)
    program = installed("mosquitto_sub", "mosquitto-clients")
    will = "--will-topic shop/loggers/1/presence --will-payload offline --will-retain --will-qos 1"
    line = f"-h 127.0.0.1 -p {broker.port} -t none -i logger-1"
    sensor = subprocess.Popen([program, *line.split(), *will.split()])
    await_it(lambda: "as logger-1" in broker.log() or None)
    before_ms = system_ms()
    sensor.kill()
    sensor.wait()
    since = await_it(lambda: running.shop.gone.get("logger-one"))
    assert 0 <= since - before_ms < 20_000
    say(broker, "shop/loggers/1/climate", json.dumps({"t": 21.6}))
    await_it(lambda: True if not running.shop.gone else None)


def test_a_will_the_broker_keeps_is_known_again_after_a_restart(
    broker: Mosquitto, config: Path
) -> None:
    say(broker, "shop/loggers/1/presence", b"offline", retain=True)
    with daemon(config) as watching:
        await_it(lambda: watching.shop.gone.get("logger-one"))


def test_a_sensor_without_a_place_is_shown_and_never_placed(
    running: Daemon, broker: Mosquitto, config: Path
) -> None:
    assert running.line.state().connected
    say(broker, "shop/loggers/new/climate", json.dumps({"t": 21.5}))

    def told() -> object:
        with Store.open(config.parent / "shop.db") as store:
            return store.meta.get("newcomers")

    assert '"new"' in str(await_it(told))
    assert stored(config) == {}
