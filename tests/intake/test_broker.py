import socket
import ssl

import pytest
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.reasoncodes import ReasonCode

from curewatch.errors import BadInput
from curewatch.intake.broker import BrokerAccess, ended_hint, refused_hint, unreachable_hint


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"host": " "}, "broker host"),
        ({"host": "a" * 64 + ".example"}, "broker host"),
        ({"host": "h", "port": 0}, "broker port 0"),
        ({"host": "h", "port": 65536}, "broker port 65536"),
        ({"host": "h", "protocol": "4"}, "broker protocol '4'"),
    ],
)
def test_an_unusable_address_is_refused_before_the_network_thread_sees_it(
    changes: dict[str, object], words: str
) -> None:
    with pytest.raises(BadInput, match=words):
        BrokerAccess(**changes)  # type: ignore[arg-type]


def test_the_password_is_not_shown() -> None:
    assert "secret" not in repr(BrokerAccess("h", username="u", password="secret"))  # noqa: S106 - made up


@pytest.mark.parametrize(
    ("name", "protocol", "words"),
    [
        ("Bad user name or password", "5", "password"),
        ("Not authorized", "3.1.1", "password"),
        ("Unsupported protocol version", "5", "protocol to '3.1.1'"),
        ("Unsupported protocol version", "3.1.1", "protocol to '5'"),
        ("Client identifier not valid", "5", "client id 'curewatch'"),
        ("Server busy", "5", "own log"),
    ],
)
def test_a_refusal_is_told_with_what_to_do(name: str, protocol: str, words: str) -> None:
    reason = ReasonCode(PacketTypes.CONNACK, name)
    access = BrokerAccess("h", protocol=protocol)  # type: ignore[arg-type]
    assert words in refused_hint(reason, access)


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (ConnectionRefusedError(), "nothing listens"),
        (socket.gaierror(-2, "unknown"), "no such host"),
        (TimeoutError(), "no answer"),
        (ssl.SSLCertVerificationError("self-signed"), "certificate"),
        (OSError(101, "Network is unreachable"), "Network is unreachable"),
        (None, "unknown reason"),
    ],
)
def test_an_unreachable_broker_is_told_with_what_to_do(
    error: BaseException | None, words: str
) -> None:
    assert words in unreachable_hint(error)


def test_only_a_line_someone_else_ended_speaks_of_a_second_daemon() -> None:
    taken = ReasonCode(PacketTypes.DISCONNECT, "Session taken over")
    broken = ReasonCode(PacketTypes.DISCONNECT, "Unspecified error")
    assert "second daemon" in ended_hint(taken, again=False)
    assert "second daemon" in ended_hint(broken, again=True)
    assert ended_hint(broken, again=False) == ""
