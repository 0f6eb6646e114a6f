from __future__ import annotations

import gc
import ssl
import time
from collections import deque
from contextlib import contextmanager
from typing import TYPE_CHECKING

import pytest
from paho.mqtt.client import MQTTMessageInfo
from paho.mqtt.enums import MQTTErrorCode

from curewatch.errors import BadInput, TransportError
from curewatch.intake import Delivery
from curewatch.intake import mqtt as module
from curewatch.intake.broker import BrokerAccess
from curewatch.intake.mqtt import MqttIntake
from tests.intake.scripted_broker import PUBLISH, ScriptedBroker

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

SOON_S = 10.0
PUBACK = 0x40  # MQTT 5.0, section 2.1.2


def await_true(condition: Callable[[], bool]) -> None:
    deadline = time.monotonic() + SOON_S
    while not condition():
        assert time.monotonic() < deadline, "it did not come about"
        time.sleep(0.01)  # polls another thread


@contextmanager
def line(
    port: int, *, now_ms: Callable[[], int] = lambda: 0, **access: object
) -> Iterator[MqttIntake]:
    """Open a line to one topic."""
    how = BrokerAccess("127.0.0.1", port, **access)  # type: ignore[arg-type]
    intake = MqttIntake(how, ["shop/#"], site="yard", now_ms=now_ms)
    intake.start()
    try:
        yield intake
    finally:
        intake.stop()


def message(payload: bytes, *, topic: bytes = b"shop/a", qos: int = 1, mid: int = 1) -> bytes:
    """Return a PUBLISH packet (MQTT 5.0, section 3.3)."""
    number = mid.to_bytes(2, "big") if qos else b""
    body = len(topic).to_bytes(2, "big") + topic + number + b"\0" + payload
    return bytes([PUBLISH | qos << 1, len(body)]) + body


@pytest.mark.parametrize("topics", [["shop/a+"], [""], ["shop/#/x"]])
def test_a_malformed_topic_is_refused_at_once(topics: list[str]) -> None:
    with pytest.raises(BadInput, match="topic"):
        MqttIntake(BrokerAccess("h"), topics, site="yard", now_ms=lambda: 0)


@pytest.mark.parametrize("site", ["", "a/b", "a+", "#"])
def test_a_site_that_cannot_be_part_of_a_topic_is_refused_at_once(site: str) -> None:
    with pytest.raises(BadInput, match="site"):
        MqttIntake(BrokerAccess("h"), [], site=site, now_ms=lambda: 0)


def test_before_the_start_nothing_is_connected() -> None:
    intake = MqttIntake(BrokerAccess("h"), ["a"], site="yard", now_ms=lambda: 0)
    state = intake.state()
    assert (state.connected, state.subscribed, state.network_alive) == (False, False, False)
    assert (state.generation, state.last_packet_age_s, state.trouble) == (0, None, None)
    assert intake.take(1, 0.0) == []
    intake.stop()


def test_topics_the_broker_does_not_grant_are_reported(caplog: pytest.LogCaptureFixture) -> None:
    with ScriptedBroker(suback=b"\x87\x01") as broker, line(broker.port) as intake:
        await_true(lambda: bool(intake.state().refusals))
        assert intake.state().refusals == ("shop/#: Not authorized",)
        assert not intake.wait_subscribed(0.0)
        assert "does not grant shop/#: Not authorized" in caplog.text


def test_a_marker_that_is_not_granted_does_not_keep_the_shop_waiting() -> None:
    with ScriptedBroker(suback=b"\x01\x87") as broker, line(broker.port) as intake:
        assert intake.wait_subscribed(SOON_S)
        assert intake.state().refusals == ("curewatch/yard/daemon/marker: Not authorized",)
        age_s = intake.state().last_packet_age_s
        assert age_s is not None
        assert 0.0 <= age_s < SOON_S


def test_a_topic_that_is_no_text_can_still_be_acknowledged() -> None:
    odd_message = message(b"1", topic=b"\xff\xfe")
    with ScriptedBroker(then=odd_message) as broker, line(broker.port) as intake:
        (odd,) = intake.take(1, SOON_S)
        assert (odd.topic, odd.payload) == ("", b"1")
        intake.ack([odd])
        await_true(lambda: PUBACK in broker.received)


def test_an_acknowledgement_is_sent_once() -> None:
    two = message(b"1") + message(b"2", mid=2)
    with ScriptedBroker(then=two) as broker, line(broker.port) as intake:
        first, second = intake.take(1, SOON_S) + intake.take(1, SOON_S)
        intake.ack([first, first])
        intake.ack([first, second])
        await_true(lambda: broker.received.count(PUBACK) == 2)
        assert intake.state().unacknowledged == 0


def test_a_fault_in_a_callback_does_not_end_the_line(caplog: pytest.LogCaptureFixture) -> None:
    answers = iter([1, 2])

    def clock() -> int:
        if next(answers) == 1:
            raise RuntimeError("the clock is broken")
        return 7

    two = message(b"1") + message(b"2", mid=2)
    with ScriptedBroker(then=two) as broker, line(broker.port, now_ms=clock) as intake:
        (second,) = intake.take(1, SOON_S)
        assert (second.payload, second.received_ms) == (b"2", 7)
        assert intake.state().callback_faults == 1
        assert intake.state().network_alive
        assert "the clock is broken" in caplog.text


def test_unlimited_messages_are_dropped_and_counted_when_nobody_takes_them(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(module, "_UNACKNOWLEDGEABLE", 2)
    flood = b"".join(message(b"%d" % number, qos=0) for number in range(5))
    with ScriptedBroker(then=flood + message(b"kept")) as broker, line(broker.port) as intake:
        await_true(lambda: intake.state().unacknowledged == 1)
        assert intake.state().dropped == 3
        assert [m.payload for m in intake.take(9, SOON_S)] == [b"0", b"1", b"kept"]


def test_a_line_whose_network_thread_ended_is_opened_anew(
    caplog: pytest.LogCaptureFixture,
) -> None:
    with ScriptedBroker() as broker, line(broker.port) as intake:
        assert intake.wait_subscribed(SOON_S)
        intake._client.loop_stop()  # noqa: SLF001 - as if the library had failed
        assert not intake.state().network_alive
        assert intake.take(1, 0.01) == []
        await_true(lambda: intake.state().generation == 2)
        assert intake.wait_subscribed(SOON_S)
        assert intake.state().network_alive
        assert "opened anew" in caplog.text


@pytest.mark.parametrize(
    "connack",
    [
        bytes([0x20, 2, 0, 1]),  # of a broker that knows 3.1.1 only
        bytes([0x20, 3, 0, 0x84, 0]),
    ],
)
def test_a_broker_that_knows_another_version_is_named(connack: bytes) -> None:
    with ScriptedBroker(connack=connack) as broker, line(broker.port) as intake:
        await_true(lambda: "protocol to '3.1.1'" in str(intake.state().trouble))


@pytest.mark.parametrize(
    "nonsense", [b"\x20\x00", b"\xff\xff\xff\xff\xff\xff", b"\x20\x03\x00\xee\x00"]
)
def test_nonsense_from_the_other_end_does_not_end_the_network_thread(nonsense: bytes) -> None:
    with ScriptedBroker(connack=nonsense) as broker, line(broker.port) as intake:
        await_true(lambda: broker.received.count(0x10) >= 2)  # it has tried again
        assert intake.state().network_alive
        assert not intake.state().connected


@pytest.mark.filterwarnings(
    "ignore:Exception ignored in. <ssl.SSLSocket"  # the client library leaves it to the collector
)
def test_an_encrypted_line_to_a_plain_port_is_named() -> None:
    tls = ssl.create_default_context()
    with ScriptedBroker() as broker, line(broker.port, tls=tls) as intake:
        await_true(lambda: "no encrypted line" in str(intake.state().trouble))
    gc.collect()


def test_a_full_queue_of_our_own_is_told_and_worth_another_try() -> None:
    with ScriptedBroker(confirms=False) as broker, line(broker.port) as intake:
        assert intake.wait_subscribed(SOON_S)
        sent = [_say(intake) for _ in range(900)]
        with pytest.raises(TransportError, match="not sent") as refused:
            sent.extend(_say(intake) for _ in range(200))
        assert refused.value.retry
        assert not sent[-1].wait(0.01)


def _say(intake: MqttIntake) -> Delivery:
    return intake.publish("curewatch/yard/x", "1", retain=False, qos=1)


def test_a_message_whose_line_broke_is_not_called_delivered() -> None:
    info = MQTTMessageInfo(1)
    info.rc = MQTTErrorCode.MQTT_ERR_CONN_LOST
    assert not Delivery(info, deque()).wait(0.01)


def test_what_the_broker_has_not_confirmed_is_not_called_delivered() -> None:
    with ScriptedBroker(confirms=False) as broker, line(broker.port) as intake:
        assert intake.wait_subscribed(SOON_S)
        delivery = intake.publish("curewatch/yard/x", "1", retain=False, qos=0)
        assert delivery.wait(SOON_S)  # nobody confirms QoS 0; it has left
        assert not _say(intake).wait(0.01)
