"""What can be learnt of a broker's keeping: its terms, what it says of itself, and a real trial.

Client ids of their own are used, so that the daemon is not put off the line. What asks for a
session lets it go again; a session of the trial that is cut short is gone within two minutes.
"""

from __future__ import annotations

import ssl
import threading
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

if TYPE_CHECKING:
    from collections.abc import Iterator

    from paho.mqtt.client import ConnectFlags
    from paho.mqtt.reasoncodes import ReasonCode

    from curewatch.intake.broker import BrokerAccess

DAY_S = 86_400
TIMEOUT_S = 5.0
TRIAL_EXPIRY_S = 120
MESSAGES = 1500  # more than the 1000 that a usual broker keeps where nothing is set
SAYING_S = 1.0  # retained messages follow the grant at once
VERSION = "$SYS/broker/version"
DROPPED = "$SYS/broker/publish/messages/dropped"


@dataclass(frozen=True, slots=True)
class Terms:
    """What a broker grants, by its answer to a connection (MQTT 5.0, section 3.2.2.3).

    Attributes
    ----------
    session_expiry_s: how long it keeps a session [s].
    most_qos: the highest quality of service it takes.
    retains: whether it keeps retained messages.
    wildcards: whether it takes topics with + and #.
    largest_packet: in bytes; None where it names no limit.
    certificate_until_ms: until when its certificate is good [ms]; None on a plain line.
    """

    session_expiry_s: int
    most_qos: int = 2
    retains: bool = True
    wildcards: bool = True
    largest_packet: int | None = None
    certificate_until_ms: int | None = None


@dataclass(frozen=True, slots=True)
class Said:
    """What a broker says of itself, where it says anything.

    Attributes
    ----------
    version: its name and version; empty where it does not tell.
    dropped: messages dropped since it was started; None where it does not tell.
    """

    version: str = ""
    dropped: int | None = None


@dataclass(frozen=True, slots=True)
class Waited:
    """How many of the messages that were sent to an absent client reached it.

    Attributes
    ----------
    sent, came: how many.
    trouble: why nothing can be said; empty where it can.
    """

    sent: int
    came: int = 0
    trouble: str = ""


def broker_terms(access: BrokerAccess, *, timeout_s: float = TIMEOUT_S) -> Terms | None:
    """Ask for the session the daemon asks for, and let it go; None over MQTT 3.1.1."""
    if access.protocol != "5":
        return None
    wanted_s = access.session_expiry_s
    with _line(access, "terms", expiry_s=wanted_s, timeout_s=timeout_s) as line:
        if not line.up:
            return None
        granted = line.granted
        return Terms(
            session_expiry_s=int(granted.get("SessionExpiryInterval", wanted_s)),
            most_qos=int(granted.get("MaximumQoS", 2)),
            retains=bool(granted.get("RetainAvailable", 1)),
            wildcards=bool(granted.get("WildcardSubscriptionAvailable", 1)),
            largest_packet=granted.get("MaximumPacketSize"),
            certificate_until_ms=_good_until_ms(line.client.socket()),
        )


def broker_says(access: BrokerAccess, *, timeout_s: float = TIMEOUT_S) -> Said:
    """Ask what the broker publishes of itself; its access list may keep that from us."""
    with _line(access, "says", timeout_s=timeout_s, wanted=2) as line:
        if not line.up:
            return Said()
        line.subscribe((VERSION, DROPPED), timeout_s)
        line.all_came.wait(SAYING_S)
    told = {
        message.topic: bytes(message.payload).decode("utf-8", "replace") for message in line.came
    }
    dropped = told.get(DROPPED, "")
    return Said(told.get(VERSION, ""), int(dropped) if dropped.isdecimal() else None)


def broker_waits(
    access: BrokerAccess, *, site: str, messages: int = MESSAGES, timeout_s: float = TIMEOUT_S
) -> Waited:
    """Let messages wait for a client that is away, and count what it gets (MQTT 5 alone)."""
    topic = f"curewatch/{site}/doctor/waiting"
    with _line(access, "waits", timeout_s=timeout_s, expiry_s=TRIAL_EXPIRY_S, keeps=True) as line:
        if not line.up:
            return Waited(messages, trouble="the broker did not take a second client")
        line.subscribe((topic,), timeout_s)
    with _line(access, "sends", timeout_s=timeout_s) as line:
        for number in range(messages):
            last = line.client.publish(topic, str(number), qos=1)
        last.wait_for_publish(timeout_s)
        if not last.is_published():
            return Waited(messages, trouble="the broker does not confirm what is sent to it")
    with _line(
        access,
        "waits",
        timeout_s=timeout_s,
        expiry_s=TRIAL_EXPIRY_S,
        fresh=False,
        wanted=messages,
    ) as line:
        if not line.session_present:
            return Waited(messages, trouble="it forgets a client that goes away: nothing waits")
        while not line.all_came.wait(1.0) and line.more():
            pass
        line.client.unsubscribe(topic)
        return Waited(messages, len({bytes(message.payload) for message in line.came}))


@dataclass
class _Line:
    """A connection of our own, and what came over it."""

    client: Client
    wanted: int = 0
    up: bool = False
    session_present: bool = False
    granted: dict[str, Any] = field(default_factory=dict)
    came: list[MQTTMessage] = field(default_factory=list)
    answered: threading.Event = field(default_factory=threading.Event)
    subscribed: threading.Event = field(default_factory=threading.Event)
    all_came: threading.Event = field(default_factory=threading.Event)
    _seen: int = -1

    def subscribe(self, topics: tuple[str, ...], timeout_s: float) -> None:
        """Ask for topics and wait for the answer."""
        self.client.subscribe([(topic, 1) for topic in topics])
        self.subscribed.wait(timeout_s)

    def more(self) -> bool:
        """Whether anything came since last asked."""
        before, self._seen = self._seen, len(self.came)
        return self._seen > before

    def on_connect(
        self,
        _client: Client,
        _userdata: object,
        flags: ConnectFlags,
        reason: ReasonCode,
        properties: Properties | None,
    ) -> None:
        """Note what the broker grants."""
        self.up = not reason.is_failure
        self.session_present = flags.session_present
        if properties is not None:
            self.granted = dict(vars(properties))
        self.answered.set()

    def on_message(self, _client: Client, _userdata: object, message: MQTTMessage) -> None:
        """Note what came."""
        self.came.append(message)
        if self.wanted and len(self.came) >= self.wanted:
            self.all_came.set()

    def on_subscribe(self, *_answer: object) -> None:
        """Note that the broker answered."""
        self.subscribed.set()


@contextmanager
def _line(  # noqa: PLR0913 - what a line of our own may be asked for
    access: BrokerAccess,
    what: str,
    *,
    timeout_s: float,
    expiry_s: int = 0,
    keeps: bool = False,
    fresh: bool = True,
    wanted: int = 0,
) -> Iterator[_Line]:
    """Open a line and close it; its session ends with it unless it `keeps`."""
    is_5 = access.protocol == "5"
    client = Client(
        CallbackAPIVersion.VERSION2,
        client_id=f"{access.client_id}-doctor-{what}",
        clean_session=None if is_5 else True,
        protocol=MQTTProtocolVersion.MQTTv5 if is_5 else MQTTProtocolVersion.MQTTv311,
    )
    if access.username is not None:
        client.username_pw_set(access.username, access.password)
    if access.tls is not None:
        client.tls_set_context(access.tls)
    client.connect_timeout = timeout_s
    client.max_inflight_messages_set(200)
    line = _Line(client, wanted)
    client.on_connect = line.on_connect
    client.on_message = line.on_message
    client.on_subscribe = line.on_subscribe
    try:
        if is_5:
            client.connect(
                access.host,
                access.port,
                clean_start=fresh,
                properties=_expiry(PacketTypes.CONNECT, expiry_s),
            )
        else:
            client.connect(access.host, access.port)
    except (OSError, ValueError):
        yield line
        return
    client.loop_start()
    line.answered.wait(timeout_s)
    try:
        yield line
    finally:
        ends = _expiry(PacketTypes.DISCONNECT, expiry_s if keeps else 0) if is_5 else None
        client.disconnect(properties=ends)
        client.loop_stop()


def _expiry(packet: int, seconds: int) -> Properties:
    asked = Properties(packet)  # type: ignore[no-untyped-call]  # the library's own
    asked.SessionExpiryInterval = seconds
    return asked


def _good_until_ms(line: object) -> int | None:
    """Return until when the other end's certificate is good [ms]."""
    if not isinstance(line, ssl.SSLSocket):
        return None
    until = (line.getpeercert() or {}).get("notAfter")
    if not isinstance(until, str):
        return None
    ends_s = ssl.cert_time_to_seconds(until)
    return ends_s * 1000
