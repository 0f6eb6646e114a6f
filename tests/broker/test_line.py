from __future__ import annotations

import gc
import json
import logging
import ssl
import subprocess
import sys
import threading
import time
from contextlib import ExitStack
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Literal, Protocol

import pytest
from paho.mqtt import publish as send
from paho.mqtt import subscribe

from curewatch.errors import TransportError
from curewatch.intake import Arrived, SensorMapping, TopicTable
from curewatch.intake.broker import BrokerAccess
from curewatch.intake.mqtt import MqttIntake
from tests.broker.mosquitto import Mosquitto, installed

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from paho.mqtt.client import MQTTMessage

pytestmark = pytest.mark.broker

Version = Literal["5", "3.1.1"]
both = pytest.mark.parametrize("protocol", ["5", "3.1.1"])
SOON_S = 10.0  # a bound for what takes milliseconds, or a retry of a second or two
NOW_MS = 1_700_000_000_000


class Opener(Protocol):
    """Opens a line to a broker; it is stopped at the end of the test."""

    def __call__(
        self, broker: Mosquitto, *topics: str, start: bool = True, **access: object
    ) -> MqttIntake:
        """Open it."""


@pytest.fixture
def line() -> Iterator[Opener]:
    """Open lines that are stopped at the end of the test."""
    with ExitStack() as stack:

        def opened(
            broker: Mosquitto, *topics: str, start: bool = True, **access: object
        ) -> MqttIntake:
            how = BrokerAccess("127.0.0.1", broker.port, **access)  # type: ignore[arg-type]
            intake = MqttIntake(
                how, topics or ("shop/#",), site="yard", now_ms=lambda: NOW_MS, hello={"since": 1}
            )
            stack.callback(intake.stop)
            if start:
                intake.start()
                assert intake.wait_subscribed(SOON_S)
            return intake

        yield opened


def publish(
    broker: Mosquitto, *payloads: str, topic: str = "shop/rack", retain: bool = False
) -> None:
    send.multiple([(topic, payload, 1, retain) for payload in payloads], port=broker.port)


def listen(broker: Mosquitto, topic: str) -> MQTTMessage:
    """Return the first message another client gets on `topic`."""
    message: MQTTMessage = subscribe.simple(topic, port=broker.port)  # type: ignore[no-untyped-call]
    return message


def await_true(condition: Callable[[], bool]) -> None:
    deadline = time.monotonic() + SOON_S
    while not condition():
        assert time.monotonic() < deadline, "it did not come about"
        time.sleep(0.01)  # polls another thread or process; it is not a wait of known length


def payloads(intake: MqttIntake, count: int) -> list[Arrived]:
    """Take exactly `count` messages."""
    taken: list[Arrived] = []
    while len(taken) < count:
        more = intake.take(count - len(taken), SOON_S)
        assert more, f"only {len(taken)} of {count} messages came"
        taken += more
    return taken


def texts(messages: list[Arrived]) -> list[str]:
    return [message.payload.decode() for message in messages]


@both
def test_a_message_arrives_with_its_topic_and_stamp(
    broker: Mosquitto, line: Opener, protocol: Version
) -> None:
    intake = line(broker, protocol=protocol)
    publish(broker, "21.5", topic="shop/rack/t")
    (message,) = payloads(intake, 1)
    assert (message.topic, message.payload, message.qos) == ("shop/rack/t", b"21.5", 1)
    assert (message.retained, message.backlog, message.received_ms) == (False, False, NOW_MS)
    assert 0.0 <= message.received_s <= time.monotonic()
    assert message.generation == 1


@both
def test_what_was_not_acknowledged_comes_again_after_a_restart(
    broker: Mosquitto, line: Opener, protocol: Version
) -> None:
    first = line(broker, protocol=protocol)
    publish(broker, "kept", "lost-1", "lost-2")
    taken = payloads(first, 3)
    first.ack(taken[:1])
    first.stop()
    publish(broker, "while-away")
    second = line(broker, protocol=protocol)
    again = payloads(second, 3)
    assert texts(again) == ["lost-1", "lost-2", "while-away"]
    second.ack(again)
    second.stop()
    third = line(broker, protocol=protocol)
    publish(broker, "new")
    assert texts(payloads(third, 1)) == ["new"]


def test_the_broker_sends_no_more_than_the_window_until_we_acknowledge(
    broker: Mosquitto, line: Opener
) -> None:
    intake = line(broker, receive_maximum=2)
    publish(broker, "1", "2", "3", "4")
    taken = payloads(intake, 2)
    assert intake.take(10, 0.3) == []  # nothing was acknowledged behind our back
    assert intake.state().unacknowledged == 2
    assert intake.state().oldest_unacknowledged_s > 0.0
    intake.ack(taken)
    assert texts(payloads(intake, 2)) == ["3", "4"]


@both
def test_a_backlog_is_told_from_fresh_messages(
    broker: Mosquitto, line: Opener, protocol: Version
) -> None:
    first = line(broker, protocol=protocol)
    first.stop()
    publish(broker, *map(str, range(50)))
    second = line(broker, protocol=protocol)
    waited = payloads(second, 50)
    assert all(message.backlog for message in waited)
    second.ack(waited)
    await_true(lambda: not second.state().in_doubt)
    publish(broker, "fresh")
    (fresh,) = payloads(second, 1)
    assert not fresh.backlog
    second.ack([fresh])
    await_true(lambda: second.state().unacknowledged == 0)  # the marker is acknowledged too


def test_where_the_marker_may_not_pass_a_pause_ends_the_doubt(
    tmp_path: Path, line: Opener, caplog: pytest.LogCaptureFixture
) -> None:
    with Mosquitto(tmp_path, access_list="topic readwrite shop/#\n") as broker:
        line(broker).stop()
        publish(broker, "waited")
        intake = line(broker)
        intake._watch.pause_s = 0.2  # noqa: SLF001 - the real pause is two seconds
        (waited,) = payloads(intake, 1)
        intake.ack([waited])
        assert intake.take(1, 0.5) == []
        publish(broker, "fresh")
        (fresh,) = payloads(intake, 1)
        assert (waited.backlog, fresh.backlog) == (True, False)
        assert "curewatch/yard/daemon/marker does not come back" in caplog.text


def test_a_slow_acknowledgement_brings_the_doubt_back_until_the_marker_returns(
    broker: Mosquitto, line: Opener
) -> None:
    intake = line(broker, receive_maximum=1)
    publish(broker, "in-time", "held-back")
    (first,) = payloads(intake, 1)
    intake._watch.slow_s = 0.0  # noqa: SLF001 - the real limit is half a minute
    intake.ack([first])
    intake._watch.slow_s = 30.0  # noqa: SLF001
    (second,) = payloads(intake, 1)
    assert (first.backlog, second.backlog) == (False, True)
    intake.ack([second])
    await_true(lambda: not intake.state().in_doubt)


def test_a_retained_message_is_told_as_such(broker: Mosquitto, line: Opener) -> None:
    publish(broker, "21.0", retain=True)
    intake = line(broker)
    (old,) = payloads(intake, 1)
    publish(broker, "22.0", retain=True)
    (live,) = payloads(intake, 1)
    assert (old.retained, live.retained) == (True, False)


@both
def test_a_wrong_password_is_told_once_with_what_to_do(
    tmp_path: Path, line: Opener, protocol: Version, caplog: pytest.LogCaptureFixture
) -> None:
    with Mosquitto(tmp_path, users={"shop": "right"}) as broker:
        intake = line(broker, start=False, protocol=protocol, username="shop", password="wrong")  # noqa: S106 - made up
        intake.start()
        await_true(lambda: broker.log().count("not authorised") >= 2)  # it goes on trying
        assert not intake.wait_subscribed(0.0)
        assert "user name and password" in str(intake.state().trouble)
        warned = [r for r in caplog.records if r.levelno >= logging.WARNING]
        assert len(warned) == 1
        assert "wrong" not in caplog.text


@both
def test_the_right_password_opens_the_line(tmp_path: Path, line: Opener, protocol: Version) -> None:
    with Mosquitto(tmp_path, users={"shop": "right"}) as broker:
        intake = line(broker, protocol=protocol, username="shop", password="right")  # noqa: S106 - made up
        assert intake.state().trouble is None


@pytest.mark.filterwarnings(
    "ignore:Exception ignored in. <ssl.SSLSocket"  # the client library leaves it to the collector
)
def test_an_encrypted_line_takes_messages_and_a_stranger_s_certificate_is_refused(
    tmp_path: Path, line: Opener
) -> None:
    certificate, key = own_certificate(tmp_path)
    with Mosquitto(tmp_path, extra=f"certfile {certificate}\nkeyfile {key}") as broker:
        trusting = ssl.create_default_context(cafile=str(certificate))
        intake = line(broker, tls=trusting)
        assert intake.publish("shop/rack", "21", retain=False, qos=1).wait(SOON_S)
        assert texts(payloads(intake, 1)) == ["21"]
        wary = line(broker, start=False, client_id="wary", tls=ssl.create_default_context())
        wary.start()
        await_true(lambda: "certificate" in str(wary.state().trouble))
        wary.stop()
    gc.collect()


def own_certificate(folder: Path) -> tuple[Path, Path]:
    """Return a new certificate for 127.0.0.1 and its key."""
    program = installed("openssl", "openssl")
    certificate, key = folder / "certificate.pem", folder / "key.pem"
    made = ["-newkey", "rsa:2048", "-nodes", "-days", "1", "-subj", "/CN=127.0.0.1"]
    names = ["-addext", "subjectAltName=IP:127.0.0.1"]
    subprocess.run(
        [program, "req", "-x509", *made, *names, "-keyout", key, "-out", certificate],
        check=True,
        capture_output=True,
    )
    return certificate, key


def test_a_broker_that_is_down_at_the_start_is_tried_until_it_is_up(
    tmp_path: Path, line: Opener, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.INFO)
    broker = Mosquitto(tmp_path)
    intake = line(broker, start=False)
    intake.start()
    await_true(lambda: intake.state().trouble is not None)
    assert "nothing listens there" in caplog.text
    with broker:
        assert intake.wait_subscribed(SOON_S)
        assert intake.state().trouble is None
        assert f"connected to the broker at 127.0.0.1:{broker.port} again" in caplog.text


@both
def test_over_a_restart_of_the_broker_nothing_is_lost_and_old_receipts_are_void(
    broker: Mosquitto, line: Opener, protocol: Version
) -> None:
    intake = line(broker, protocol=protocol)
    publish(broker, "before-1", "before-2")
    before = payloads(intake, 2)
    broker.stop()
    await_true(lambda: not intake.state().connected)
    intake.ack(before)  # their connection is gone
    broker.start()
    await_true(lambda: intake.state().generation == 2)
    intake.ack(before)  # and their numbers mean other messages now
    again = payloads(intake, 2)
    assert texts(again) == ["before-1", "before-2"]
    assert {message.generation for message in again} == {2}
    assert all(message.backlog for message in again)
    assert intake.state().unacknowledged >= 2
    intake.ack(again)
    await_true(lambda: intake.state().unacknowledged == 0)


def test_exact_and_wildcard_topics_find_their_mappings(broker: Mosquitto, line: Opener) -> None:
    table = TopicTable(
        [
            SensorMapping("rack", "shop/rack", temperature="/t"),
            SensorMapping("yard", "yard/+/climate", temperature=""),
        ]
    )
    intake = line(broker, *table.topics)
    publish(broker, "1", topic="yard/door/climate")
    publish(broker, "2", topic="shop/elsewhere")
    publish(broker, "3", topic="shop/rack")
    found = [
        (mapping.sensor, message.payload)
        for message in payloads(intake, 2)
        for mapping in table.for_topic(message.topic)
    ]
    assert found == [("yard", b"1"), ("rack", b"3")]


def presence(broker: Mosquitto) -> dict[str, object]:
    """Return what a client that comes now learns of the daemon, at once or when it is said."""
    told: dict[str, object] = json.loads(listen(broker, "curewatch/yard/daemon").payload)
    return told


@both
def test_the_hello_and_the_farewell_stand_for_those_who_come_later(
    broker: Mosquitto, line: Opener, protocol: Version
) -> None:
    intake = line(broker, protocol=protocol)
    assert intake.publish("curewatch/yard/next", "", retain=False, qos=1).wait(SOON_S)
    for expected in ({"presence": "running", "since": 1}, {"presence": "gone"}):
        seen = listen(broker, "curewatch/yard/daemon")
        assert seen.retain
        assert json.loads(seen.payload) == expected
        intake.stop()


@both
def test_own_messages_reach_others_and_are_confirmed(
    broker: Mosquitto, line: Opener, protocol: Version
) -> None:
    intake = line(broker, protocol=protocol)
    delivery = intake.publish("curewatch/yard/room/spray", '{"a": 1}', retain=True, qos=1)
    assert delivery.wait(SOON_S)
    seen = listen(broker, "curewatch/yard/room/spray")
    assert seen.payload == b'{"a": 1}'


def test_a_message_the_broker_refuses_is_not_called_delivered(
    tmp_path: Path, line: Opener, caplog: pytest.LogCaptureFixture
) -> None:
    with Mosquitto(tmp_path, access_list="topic readwrite shop/#\n") as broker:
        intake = line(broker)
        assert not intake.publish("elsewhere/x", "1", retain=False, qos=1).wait(SOON_S)
        assert "the broker refuses a message of ours: Not authorized" in caplog.text


def test_without_a_line_a_message_can_be_tried_again_later(tmp_path: Path, line: Opener) -> None:
    intake = line(Mosquitto(tmp_path), start=False)
    with pytest.raises(TransportError, match="no connection to the broker") as refused:
        intake.publish("curewatch/yard/room/spray", "1", retain=True, qos=1)
    assert refused.value.retry


def test_a_message_to_a_wildcard_is_refused_for_good(broker: Mosquitto, line: Opener) -> None:
    with pytest.raises(TransportError, match="cannot be published") as refused:
        line(broker).publish("curewatch/#", "1", retain=False, qos=1)
    assert not refused.value.retry


def test_a_second_daemon_under_our_name_is_named(
    broker: Mosquitto, line: Opener, caplog: pytest.LogCaptureFixture
) -> None:
    first = line(broker)
    second = line(broker)
    await_true(lambda: "is a second daemon running?" in caplog.text)
    first.stop()
    second.stop()
    troubles = [r for r in caplog.records if "second daemon" in r.getMessage()]
    assert len(troubles) <= 2  # one a line, however often they throw each other out


def test_a_broker_that_stops_answering_does_not_hold_up_the_end(
    broker: Mosquitto, line: Opener
) -> None:
    intake = line(broker)
    broker.pause()
    ended = threading.Thread(target=intake.stop)
    ended.start()
    ended.join(60.0)
    assert not ended.is_alive()


def test_a_daemon_that_is_killed_is_told_gone_by_the_broker(broker: Mosquitto) -> None:
    keeper = start_keeper(broker, "5", broker.folder / "kept")
    await_true(lambda: "curewatch (p5" in broker.log())
    await_true(lambda: presence(broker) == {"presence": "running"})
    keeper.kill()
    keeper.wait()
    await_true(lambda: presence(broker) == {"presence": "gone"})


def start_keeper(broker: Mosquitto, protocol: str, file: Path) -> subprocess.Popen[bytes]:
    root = Path(__file__).parents[2]
    keeper = Path(__file__).with_name("keeper.py")
    return subprocess.Popen([sys.executable, keeper, str(broker.port), protocol, file], cwd=root)


@both
@pytest.mark.crash
def test_nothing_is_lost_however_often_the_daemon_is_killed(
    broker: Mosquitto, protocol: Version
) -> None:
    file = broker.folder / "kept"
    file.touch()
    wanted = [f"{number:05d}" for number in range(5000)]
    keeper = start_keeper(broker, protocol, file)
    try:
        await_true(lambda: "running" in str(presence(broker)))  # it has subscribed
        sender = threading.Thread(target=publish, args=(broker, *wanted))
        sender.start()
        for goal in range(700, 4200, 700):
            await_true(partial(has, file, goal))
            keeper.kill()
            keeper.wait()
            keeper = start_keeper(broker, protocol, file)
        sender.join()
        await_true(partial(has, file, len(wanted)))
    finally:
        keeper.kill()
        keeper.wait()
    stored = kept(file)
    assert list(dict.fromkeys(stored)) == wanted  # none lost, and the first of each in order
    print(f"{len(stored) - len(wanted)} of {len(wanted)} came twice")  # noqa: T201 - a measurement


def has(file: Path, count: int) -> bool:
    return len(set(kept(file))) >= count


def kept(file: Path) -> list[str]:
    """Return the whole lines of the keeper's file; a kill may have cut one short."""
    return [
        line[:-1] for line in file.read_text().splitlines() if len(line) == 6 and line[-1] == ";"
    ]
