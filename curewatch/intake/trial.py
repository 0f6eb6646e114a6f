"""A trial of the way to the broker, for looking it over while the daemon may be running.

It uses a client id of its own, so that the daemon is not put off the line; it asks for no session,
so that the broker keeps nothing for it; and it leaves the daemon's presence message alone.
"""

from __future__ import annotations

import secrets
import threading
import time
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion, MQTTErrorCode, MQTTProtocolVersion

from curewatch.intake.broker import refused_hint, unreachable_hint

if TYPE_CHECKING:
    from collections.abc import Sequence

    from paho.mqtt.client import ConnectFlags
    from paho.mqtt.properties import Properties
    from paho.mqtt.reasoncodes import ReasonCode

    from curewatch.intake.broker import BrokerAccess

TIMEOUT_S = 5.0
_FAILURE = 128  # MQTT 5.0, section 2.4; in MQTT 3.1.1, section 3.9.3, a refused topic likewise


@dataclass(frozen=True, slots=True)
class Trial:
    """What a trial of the line found.

    Attributes
    ----------
    accepted: whether the broker took us, user name and password included.
    refusals: topics it did not grant, each with its reason.
    round_trip_s: how long a message of our own took to come back [s]; None when it did not.
    trouble: what is wrong, and what to do about it, in words; empty when nothing is.
    """

    accepted: bool
    refusals: tuple[str, ...] = ()
    round_trip_s: float | None = None
    trouble: str = ""


def try_line(
    access: BrokerAccess, topics: Sequence[str], *, site: str, timeout_s: float = TIMEOUT_S
) -> Trial:
    """Connect, ask for `topics`, and send a message round on the site's own topic.

    Parameters
    ----------
    access
        Where the broker is and how the daemon presents itself.
    topics
        The topic filters of the sensors; what they deliver is dropped.
    site
        The site's name.
    timeout_s
        How long each of the three may take [s].
    """
    attempt = _Attempt(access, tuple(dict.fromkeys(topics)), site)
    client = attempt.client
    client.connect_timeout = timeout_s
    try:
        client.connect(access.host, access.port, access.keepalive_s)
    except (OSError, ValueError) as error:
        return Trial(accepted=False, trouble=unreachable_hint(error))
    client.loop_start()
    try:
        return attempt.outcome(timeout_s)
    finally:
        client.disconnect()
        client.loop_stop()


@dataclass
class _Attempt:
    """One try: the client, and what its network thread has learnt."""

    access: BrokerAccess
    topics: tuple[str, ...]
    site: str
    answered: threading.Event = field(default_factory=threading.Event)
    granted: threading.Event = field(default_factory=threading.Event)
    returned: threading.Event = field(default_factory=threading.Event)
    refused: str = ""
    refusals: tuple[str, ...] = ()
    began_s: float = 0.0
    came_s: float = 0.0

    def __post_init__(self) -> None:
        """Make the client; nothing is sent yet."""
        self.own_topic = f"curewatch/{self.site}/doctor"
        self.word = secrets.token_hex(8).encode()
        is_5 = self.access.protocol == "5"
        self.client = Client(
            CallbackAPIVersion.VERSION2,
            client_id=f"{self.access.client_id}-doctor",
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

    def outcome(self, timeout_s: float) -> Trial:
        """Wait for each step in turn and say how far it came."""
        if not self.answered.wait(timeout_s):
            return Trial(accepted=False, trouble="it takes connections and does not answer")
        if self.refused:
            return Trial(accepted=False, trouble=self.refused)
        if not self.granted.wait(timeout_s):
            return Trial(accepted=True, trouble="it does not answer when asked for topics")
        self.began_s = time.monotonic()
        sent = self.client.publish(self.own_topic, self.word, qos=1)
        if sent.rc == MQTTErrorCode.MQTT_ERR_SUCCESS and self.returned.wait(timeout_s):
            return Trial(True, self.refusals, self.came_s - self.began_s)
        return Trial(
            accepted=True,
            refusals=self.refusals,
            trouble=f"a message of our own on {self.own_topic} does not come back; let this user "
            f"read and write curewatch/{self.site}/# in the broker's access list",
        )

    def _on_connect(
        self,
        client: Client,
        _userdata: object,
        _flags: ConnectFlags,
        reason: ReasonCode,
        _properties: Properties | None,
    ) -> None:
        if reason.is_failure:
            self.refused = f"it refuses us: {reason}; {refused_hint(reason, self.access)}"
        else:
            client.subscribe([(topic, 1) for topic in (*self.topics, self.own_topic)])
        self.answered.set()

    def _on_subscribe(
        self,
        _client: Client,
        _userdata: object,
        _mid: int,
        codes: list[ReasonCode],
        _properties: Properties | None,
    ) -> None:
        asked = (*self.topics, self.own_topic)
        self.refusals = tuple(
            f"{topic}: {code}"
            for topic, code in zip(asked, codes, strict=False)
            if code.value >= _FAILURE
        )
        self.granted.set()

    def _on_message(self, _client: Client, _userdata: object, message: MQTTMessage) -> None:
        if bytes(message.payload) == self.word:
            self.came_s = time.monotonic()
            self.returned.set()
