"""Listening at a real broker: what is shown, what is proposed, and that it works once pasted."""

from __future__ import annotations

import json
import threading
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from jsonschema import Draft202012Validator
from paho.mqtt import publish as send

from curewatch.cli.main import main
from tests.broker.mosquitto import Mosquitto
from tests.broker.running import await_it, daemon, say, stored

if TYPE_CHECKING:
    from collections.abc import Iterator

pytestmark = pytest.mark.broker
SCHEMA = Path(__file__).parents[2] / "docs" / "schemas" / "sensor-scan.schema.json"
SENT = {
    "shop/loft/climate": json.dumps({"temperature": 21.5, "humidity": 48, "battery": 90}),
    "shop/loft/wood/temperature": "20,5",
    "shop/packs": json.dumps(
        [
            {"bn": "urn:dev:mac:0a:", "n": "temp", "u": "K", "v": 294.65},
            {"n": "rh", "u": "%RH", "v": 50},
        ]
    ),
    "shop/loggers/7/climate": json.dumps({"t": 21.5}),
    "shop/lamp": json.dumps({"state": "on"}),
    "curewatch/yard/daemon": json.dumps({"temperature": 21.5}),
}


@pytest.fixture
def config(tmp_path: Path, broker: Mosquitto) -> Path:
    """Write a shop with one room, one known sensor and a kind."""
    path = tmp_path / "curewatch.toml"
    path.write_text(
        f'[site]\nname = "yard"\ntimezone = "UTC"\n[storage]\npath = "shop.db"\n'
        f'[broker]\nhost = "127.0.0.1"\nport = {broker.port}\n[clock]\ncommit_window_s = 0.05\n'
        '[kernel]\nsysfs = "sys"\n[[room]]\nname = "loft"\n'
        '[[kind]]\nname = "logger"\ntopic = "shop/loggers/{id}/climate"\ntemperature = "/t"\n'
        '[[sensor]]\nid = "known"\nroom = "loft"\ntopic = "shop/known"\ntemperature = ""\n'
    )
    return path


@contextmanager
def speaking(broker: Mosquitto, sent: dict[str, str]) -> Iterator[None]:
    """Let sensors speak, again and again, while the test listens."""
    stop = threading.Event()

    def speak() -> None:
        every = [{"topic": topic, "payload": said} for topic, said in sent.items()]
        while not stop.wait(0.05):
            send.multiple(every, hostname="127.0.0.1", port=broker.port)

    thread = threading.Thread(target=speak)
    thread.start()
    try:
        yield
    finally:
        stop.set()
        thread.join()


def scanned(config: Path, capsys: pytest.CaptureFixture[str], *more: str) -> str:
    """Return what a scan says."""
    capsys.readouterr()
    assert main(["--config", str(config), "sensor", "scan", "--listen", "1", *more]) == 0
    return capsys.readouterr().out


def test_what_is_proposed_works_as_it_is_once_pasted(
    broker: Mosquitto, config: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with speaking(broker, SENT):
        answer = json.loads(scanned(config, capsys, "--json"))
        assert not (config.parent / "shop.db").exists()
        config.write_text(config.read_text() + "\n" + answer["proposed"] + "\n")
        with daemon(config):
            found = await_it(lambda: s if len(s := stored(config)) >= 6 else None)
    assert found == {
        ("loft-climate", "temperature"): 21.5,
        ("loft-climate", "humidity"): 0.48,
        ("wood-temperature", "temperature"): 20.5,
        ("mac-0a", "temperature"): pytest.approx(21.5),
        ("mac-0a", "humidity"): 0.5,
        ("7", "temperature"): 21.5,
    }


def test_an_older_broker_is_listened_to_as_well(
    broker: Mosquitto, config: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = config.read_text()
    config.write_text(text.replace("[broker]\n", '[broker]\nprotocol = "3.1.1"\n'))
    say(broker, "shop/loft/climate", SENT["shop/loft/climate"], retain=True)
    answer = json.loads(scanned(config, capsys, "--json"))
    assert [one["topic"] for one in answer["broker"]["topics"]] == ["shop/loft/climate"]


def test_the_answer_holds_to_its_schema_and_shows_what_was_heard(
    broker: Mosquitto, config: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    say(broker, "shop/kept", "21.5", retain=True)
    with speaking(broker, {**SENT, "shop/known": "21.5", "shop/odd": "\ud7ff"}):
        answer = json.loads(scanned(config, capsys, "--json"))
    Draft202012Validator(json.loads(SCHEMA.read_text())).validate(answer)
    topics = {one["topic"]: one for one in answer["broker"]["topics"]}
    assert topics["shop/kept"]["retained"]
    assert not topics["shop/known"]["retained"]
    assert topics["shop/known"]["known_as"] == ["known"]
    assert {"at": "/humidity", "kind": "number", "value": "48"} in topics["shop/loft/climate"][
        "shape"
    ]
    assert "curewatch/yard/daemon" not in topics
    assert 'topic = "shop/known"' not in answer["proposed"]
    assert 'topic = "shop/lamp"' not in answer["proposed"]


def test_people_are_told_what_is_kept_and_what_each_number_would_be(
    broker: Mosquitto, config: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    say(broker, "shop/kept/temperature", "21.5", retain=True)
    with speaking(broker, {"shop/loft/climate": SENT["shop/loft/climate"]}):
        said = scanned(config, capsys)
    assert "retained" in said
    assert "# shop/loft/climate: temperature 21.50 degC, humidity 48.0 %" in said
    assert "# heard only as a message the broker keeps" in said
    assert 'room = "loft"' in said


def test_fewer_topics_may_be_asked_for(
    broker: Mosquitto, config: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with speaking(broker, SENT):
        answer = json.loads(scanned(config, capsys, "--topic", "shop/loft/#", "--json"))
    assert {t["topic"] for t in answer["broker"]["topics"]} == {
        "shop/loft/climate",
        "shop/loft/wood/temperature",
    }


def test_a_broker_that_is_away_is_told_and_chips_are_listed_all_the_same(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with Mosquitto(tmp_path) as broker:
        port = broker.port
    path = tmp_path / "curewatch.toml"
    path.write_text(f'[site]\ntimezone = "UTC"\n[broker]\nhost = "127.0.0.1"\nport = {port}\n')
    answer = json.loads(scanned(path, capsys, "--json"))
    assert "nothing listens there" in answer["broker"]["trouble"]
    assert answer["broker"]["topics"] == []


def test_a_scan_leaves_no_session_and_the_daemon_its_line(
    broker: Mosquitto, config: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with daemon(config) as watching:
        scanned(config, capsys)
        assert watching.line.state().generation == 1
    broker.save()
    assert b"-scan" not in (broker.folder / "mosquitto.db").read_bytes()


def test_a_wrong_password_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "curewatch.toml"
    (tmp_path / "word").write_text("wrong\n")
    (tmp_path / "word").chmod(0o600)
    with Mosquitto(tmp_path, users={"shop": "right"}) as broker:
        path.write_text(
            f'[site]\ntimezone = "UTC"\n[broker]\nhost = "127.0.0.1"\nport = {broker.port}\n'
            'username = "shop"\npassword_file = "word"\n'
        )
        answer = json.loads(scanned(path, capsys, "--json"))
    assert "check the broker's user name and password" in answer["broker"]["trouble"]
