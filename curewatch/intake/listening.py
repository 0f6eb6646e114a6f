"""Listening at the broker for a while, to see who speaks there; nothing is kept of it.

It uses a client id of its own, so that the daemon is not put off the line, and asks for no session,
so that the broker keeps nothing for it.
"""

from __future__ import annotations

import threading
from contextlib import suppress
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Final

from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion

from curewatch.intake.broker import refused_hint, unreachable_hint

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from paho.mqtt.client import ConnectFlags
    from paho.mqtt.properties import Properties
    from paho.mqtt.reasoncodes import ReasonCode

    from curewatch.intake.broker import BrokerAccess

MOST_TOPICS: Final = 300
_CONNECT_S: Final = 5.0
_FAILURE: Final = 128  # MQTT 5.0, section 2.4
_LARGEST_PAYLOAD: Final = 64 * 1024  # [bytes]


@dataclass(frozen=True, slots=True)
class HeardTopic:
    """What was heard on one topic.

    Attributes
    ----------
        topic: the topic.
        payload: its last message, 64 KiB of it at most.
        received_ms: when that came, UTC epoch [ms].
        messages: how many came.
        retained: whether all of them were repeated by the broker, so that nobody may speak now.
    """

    topic: str
    payload: bytes
    received_ms: int
    messages: int
    retained: bool


@dataclass(frozen=True, slots=True)
class Listening:
    """What listening brought.

    Attributes
    ----------
        topics: what was heard, in order of topic.
        left_out: messages on further topics than are listed.
        trouble: why nothing, or not all, could be heard; empty where nothing is wrong.
    """

    topics: tuple[HeardTopic, ...] = ()
    left_out: int = 0
    trouble: str = ""


def listen(
    access: BrokerAccess,
    filters: Sequence[str],
    *,
    seconds: float,
    now_ms: Callable[[], int],
    skip: str = "",
) -> Listening:
    """Listen at the broker.

    Parameters
    ----------
    access
        Where the broker is.
    filters
        Topic filters.
    seconds
        For how long [s], once the topics are granted.
    now_ms
        The clock that stamps what comes, UTC epoch [ms].
    skip
        Topics that begin so are not listed, such as one's own.
    """
    ear = _Ear(access, tuple(filters), now_ms, skip)
    ear.client.connect_timeout = _CONNECT_S
    try:
        ear.client.connect(access.host, access.port, access.keepalive_s)
    except (OSError, ValueError) as error:
        return Listening(trouble=unreachable_hint(error))
    ear.client.loop_start()
    try:
        if not ear.granted.wait(_CONNECT_S):
            return Listening(trouble=ear.trouble or "it takes connections and does not answer")
        with suppress(KeyboardInterrupt):  # who has seen enough is shown what was heard
            ear.ended.wait(seconds)
    finally:
        ear.client.disconnect()
        ear.client.loop_stop()
    return ear.said()


@dataclass
class _Ear:
    """One client and what its network thread has heard."""

    access: BrokerAccess
    filters: tuple[str, ...]
    now_ms: Callable[[], int]
    skip: str
    granted: threading.Event = field(default_factory=threading.Event)
    ended: threading.Event = field(default_factory=threading.Event)
    trouble: str = ""
    heard: dict[str, HeardTopic] = field(default_factory=dict)
    left_out: int = 0

    def __post_init__(self) -> None:
        """Make the client; nothing is sent yet."""
        is_5 = self.access.protocol == "5"
        self.client = Client(
            CallbackAPIVersion.VERSION2,
            client_id=f"{self.access.client_id}-scan",
            clean_session=None if is_5 else True,  # MQTT 5: clean by default, expiry nought
            protocol=MQTTProtocolVersion.MQTTv5 if is_5 else MQTTProtocolVersion.MQTTv311,
        )
        if self.access.username is not None:
            self.client.username_pw_set(self.access.username, self.access.password)
        if self.access.tls is not None:
            self.client.tls_set_context(self.access.tls)
        self.client.on_connect = self._on_connect
        self.client.on_subscribe = self._on_subscribe
        self.client.on_message = self._on_message

    def said(self) -> Listening:
        topics = tuple(self.heard[topic] for topic in sorted(self.heard))
        return Listening(topics, self.left_out, self.trouble)

    def _on_connect(
        self,
        client: Client,
        _userdata: object,
        _flags: ConnectFlags,
        reason: ReasonCode,
        _properties: Properties | None,
    ) -> None:
        if reason.is_failure:
            self.trouble = f"it refuses us: {reason}; {refused_hint(reason, self.access)}"
            self.ended.set()
            self.granted.set()
        else:
            client.subscribe([(topic, 0) for topic in self.filters])

    def _on_subscribe(
        self,
        _client: Client,
        _userdata: object,
        _mid: int,
        codes: list[ReasonCode],
        _properties: Properties | None,
    ) -> None:
        refused = [
            f"{topic}: {code}"
            for topic, code in zip(self.filters, codes, strict=False)
            if code.value >= _FAILURE
        ]
        if refused:
            self.trouble = (
                f"it does not grant {', '.join(refused)}; let this user read there in the broker's "
                "access list, or ask for less with --topic"
            )
        self.granted.set()

    def _on_message(self, _client: Client, _userdata: object, message: MQTTMessage) -> None:
        try:
            topic = message.topic
        except UnicodeDecodeError:
            return  # no mapping can name it
        if self.skip and topic.startswith(self.skip):
            return
        known = self.heard.get(topic)
        if known is None and len(self.heard) >= MOST_TOPICS:
            self.left_out += 1
            return
        came = HeardTopic(
            topic,
            bytes(message.payload[:_LARGEST_PAYLOAD]),
            self.now_ms(),
            1,
            retained=bool(message.retain),
        )
        if known is not None:
            retained = came.retained and known.retained
            came = replace(came, messages=known.messages + 1, retained=retained)
        self.heard[topic] = came
