from __future__ import annotations

import socket
import threading
from typing import TYPE_CHECKING, Literal

import pytest

from curewatch.intake.broker import BrokerAccess
from curewatch.intake.mqtt import MqttIntake
from curewatch.intake.trial import try_line
from tests.broker.mosquitto import Mosquitto

if TYPE_CHECKING:
    from pathlib import Path

    Version = Literal["5", "3.1.1"]

pytestmark = pytest.mark.broker
both = pytest.mark.parametrize("protocol", ["5", "3.1.1"])
PASSWORD = "made-up"  # noqa: S105 - of a broker that lives for a test
SOON_S = 10.0


def access(broker: Mosquitto, protocol: Version = "5", password: str = PASSWORD) -> BrokerAccess:
    return BrokerAccess(
        "127.0.0.1", broker.port, username="shop", password=password, protocol=protocol
    )


@both
def test_a_message_goes_round(broker: Mosquitto, protocol: Version) -> None:
    found = try_line(access(broker, protocol), ["shop/#"], site="yard", timeout_s=SOON_S)
    assert found.accepted
    assert found.refusals == ()
    assert found.trouble == ""
    assert found.round_trip_s is not None
    assert 0.0 < found.round_trip_s < SOON_S


@both
def test_a_wrong_password_is_told_at_once(tmp_path: Path, protocol: Version) -> None:
    with Mosquitto(tmp_path, users={"shop": PASSWORD}) as broker:
        found = try_line(access(broker, protocol, "wrong"), [], site="yard", timeout_s=SOON_S)
        assert not found.accepted
        assert "check the broker's user name and password" in found.trouble
        assert try_line(access(broker, protocol), [], site="yard", timeout_s=SOON_S).accepted


@both
def test_the_daemon_keeps_its_line_and_its_presence(broker: Mosquitto, protocol: Version) -> None:
    daemon = MqttIntake(access(broker, protocol), ["shop/#"], site="yard", now_ms=lambda: 0)
    daemon.start()
    try:
        assert daemon.wait_subscribed(SOON_S)
        try_line(access(broker, protocol), ["shop/#"], site="yard", timeout_s=SOON_S)
        state = daemon.state()
        assert (state.connected, state.generation) == (True, 1)
    finally:
        daemon.stop()
    sent = [line for line in broker.log().splitlines() if "curewatch-doctor" in line]
    assert sent  # it did connect under a name of its own


@both
def test_no_session_is_left_at_the_broker(broker: Mosquitto, protocol: Version) -> None:
    try_line(access(broker, protocol), ["shop/#"], site="yard", timeout_s=SOON_S)
    broker.save()
    held = (broker.folder / "mosquitto.db").read_bytes()
    assert b"curewatch-doctor" not in held
    kept = MqttIntake(access(broker, protocol), ["shop/#"], site="yard", now_ms=lambda: 0)
    kept.start()
    assert kept.wait_subscribed(SOON_S)
    kept.stop()
    broker.save()
    assert b"curewatch" in (broker.folder / "mosquitto.db").read_bytes()  # so it would be seen


def test_an_access_list_that_forbids_our_own_topic_is_found_out(tmp_path: Path) -> None:
    rules = "topic readwrite shop/#\n"  # mosquitto 2.0.11 grants the subscription all the same
    with Mosquitto(tmp_path, access_list=rules) as broker:
        found = try_line(access(broker), ["shop/#"], site="yard", timeout_s=1.0)
    assert found.accepted
    assert found.round_trip_s is None
    assert "read and write curewatch/yard/#" in found.trouble


def test_a_broker_that_is_away_is_told_with_the_reason() -> None:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    found = try_line(BrokerAccess("127.0.0.1", port), [], site="yard", timeout_s=1.0)
    assert not found.accepted
    assert "nothing listens there" in found.trouble


def test_something_that_takes_connections_and_says_nothing_is_no_broker() -> None:
    with socket.create_server(("127.0.0.1", 0)) as mute:
        port = mute.getsockname()[1]
        found = try_line(BrokerAccess("127.0.0.1", port), [], site="yard", timeout_s=0.5)
    assert not found.accepted
    assert "does not answer" in found.trouble
    assert not any("curewatch-doctor" in thread.name for thread in threading.enumerate())
