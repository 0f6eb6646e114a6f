"""The line to the broker: takes messages in, and acknowledges what the caller has kept.

The network thread only queues. The caller takes messages, commits them, and calls `ack` in the
order of arrival; until then the broker keeps them under our persistent session and delivers them
again after any break. Acknowledgements that belong to an earlier connection are not sent: packet
numbers are reused, and a late one could acknowledge a message nobody has stored.

No lock of ours is held around publishing, and no exception leaves a callback: either would stop
the network thread while the line still looks up.
"""

from __future__ import annotations

import json
import logging
import queue
import secrets
import sys
import threading
import time
from collections import deque
from typing import TYPE_CHECKING, Any

from paho.mqtt.client import Client, ConnectFlags, DisconnectFlags, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion, MQTTErrorCode, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.subscribeoptions import SubscribeOptions

from curewatch.errors import BadInput, TransportError
from curewatch.intake.arrivals import Arrived, Delivery, IntakeState
from curewatch.intake.backlog import BacklogWatch
from curewatch.intake.broker import BrokerAccess, ended_hint, refused_hint, unreachable_hint
from curewatch.intake.mapping import topic_fault
from curewatch.intake.thinned import ThinnedLog

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

    from paho.mqtt.reasoncodes import ReasonCode

LOG = logging.getLogger(__name__)

_LONGEST_RETRY_S = 60
_CONNECT_TIMEOUT_S = 3.0
_STOP_S = 3.0
_FAREWELL_S = 1.0
_OWN_QUEUE = 1000  # messages of our own that may wait for the broker
_UNACKNOWLEDGEABLE = 20_000  # QoS 0 messages that may wait for the caller; no broker limits them
_SHORT_LINE_S = 10.0  # a line that ends so soon was ended by someone
_SHORT_LINES = 2  # so many in a row are no accident
_CALLBACKS = (
    "on_connect",
    "on_connect_fail",
    "on_disconnect",
    "on_subscribe",
    "on_publish",
    "on_message",
)
_FAILURE = 128  # MQTT 5.0, section 2.4: reason codes from here on are failures


class MqttIntake:
    """The daemon's one connection to the broker, for messages in and out."""

    def __init__(
        self,
        access: BrokerAccess,
        topics: Iterable[str],
        *,
        site: str,
        now_ms: Callable[[], int],
        hello: Mapping[str, object] | None = None,
    ) -> None:
        """Prepare the line; nothing is sent before `start`.

        Parameters
        ----------
        access
            Where the broker is.
        topics
            Topic filters to subscribe to.
        site
            The site's name, a level of our own topics.
        now_ms
            The clock that stamps arrivals, UTC epoch [ms].
        hello
            What else the daemon says of itself beside its presence, fit for JSON.
        """
        self.presence_topic = f"curewatch/{site}/daemon"
        self._marker_topic = f"{self.presence_topic}/marker"
        self._topics = tuple(dict.fromkeys((*topics, self._marker_topic)))
        if not site or set(site) & set("/+#"):
            raise BadInput(f"site '{site}' cannot be part of a topic; leave out / + #")
        for topic in self._topics:
            fault = topic_fault(topic)
            if fault:
                raise BadInput(f"topic {fault}")
        self._access = access
        self._now_ms = now_ms
        self._hello = {"presence": "running", **(hello or {})}
        self._queue: queue.SimpleQueue[Arrived | None] = queue.SimpleQueue()
        self._watch = BacklogWatch()
        self._line = ThinnedLog(LOG)
        self._lock = threading.RLock()
        self._open: dict[int, Arrived] = {}  # received and not acknowledged, in order of arrival
        self._generation = 0
        self._connected = False
        self._subscribed = threading.Event()
        self._refusals: tuple[str, ...] = ()
        self._refused: deque[int] = deque(maxlen=_OWN_QUEUE)
        self._last_packet_s: float | None = None
        self._connected_s = 0.0
        self._short_lines = 0
        self._dropped = 0
        self._callback_faults = 0
        self._marker_due: int | None = None
        self._run = secrets.token_hex(4)  # tells our markers from those of an earlier run
        self._started = False
        self._client = self._new_client()

    def start(self) -> None:
        """Begin to connect, and go on trying for ever; returns at once."""
        if self._access.protocol == "5":
            session = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]  # the library's own
            session.SessionExpiryInterval = self._access.session_expiry_s
            session.ReceiveMaximum = self._access.receive_maximum
            self._client.connect_async(
                self._access.host,
                self._access.port,
                self._access.keepalive_s,
                clean_start=False,  # the default would wipe the session at each start
                properties=session,
            )
        else:
            self._client.connect_async(
                self._access.host, self._access.port, self._access.keepalive_s
            )
        self._started = True
        self._client.loop_start()

    def wait_subscribed(self, timeout_s: float) -> bool:
        """Return whether the broker has granted a topic within `timeout_s`."""
        return self._subscribed.wait(timeout_s)

    def take(self, max_messages: int, timeout_s: float) -> list[Arrived]:
        """Return messages in order of arrival.

        Waits up to `timeout_s` for the first and takes what else is there, `max_messages` at most.
        """
        taken: list[Arrived] = []
        try:
            one = self._queue.get(timeout=timeout_s)
            while one is not None:
                taken.append(one)
                if len(taken) == max_messages:
                    break
                one = self._queue.get_nowait()
        except queue.Empty:
            if not taken:
                self._revive()
        return taken

    def put(self, arrived: Arrived) -> None:
        """Queue what came another way than from the broker, from any thread."""
        self._queue.put(arrived)

    def wake(self) -> None:
        """Let `take` return at once with what is there, from any thread."""
        self._queue.put(None)

    def ack(self, messages: Iterable[Arrived]) -> None:
        """Tell the broker that `messages`, in order of arrival, are kept for good."""
        now_s = time.monotonic()
        marker = None
        with self._lock:
            due = [message for message in messages if message.qos and self._is_open(message)]
            if due:  # before the receipts leave: the broker answers them with what it held back
                oldest_s = min(message.received_s for message in due)
                marker = self._watch.acknowledged(now_s, oldest_s=oldest_s)
            for message in due:
                self._acknowledge(message.mid)
            self._acknowledge_markers()
        self._send_marker(marker)

    def publish(self, topic: str, payload: bytes | str, *, retain: bool, qos: int) -> Delivery:
        """Send a message of our own.

        Raises
        ------
        TransportError
            When there is no line or its queue is full (a retry can help), or the message cannot
            be sent at all.
        """
        if not self._connected:
            raise TransportError(
                f"{topic}: no connection to the broker at {self._access.place}", retry=True
            )
        try:
            info = self._client.publish(topic, payload, qos=qos, retain=retain)
        except ValueError as error:
            raise TransportError(f"{topic!r} cannot be published: {error}", retry=False) from error
        if info.rc != MQTTErrorCode.MQTT_ERR_SUCCESS:
            raise TransportError(f"{topic}: not sent, {info.rc.name.lower()}", retry=True)
        return Delivery(info, self._refused)

    def state(self) -> IntakeState:
        """Return how the line stands now."""
        now_s = time.monotonic()
        with self._lock:
            oldest = next(iter(self._open.values()), None)
            return IntakeState(
                connected=self._connected,
                subscribed=self._subscribed.is_set(),
                generation=self._generation,
                last_packet_age_s=(
                    None if self._last_packet_s is None else now_s - self._last_packet_s
                ),
                refusals=self._refusals,
                trouble=self._line.trouble,
                unacknowledged=len(self._open),
                oldest_unacknowledged_s=0.0 if oldest is None else now_s - oldest.received_s,
                in_doubt=self._watch.in_doubt,
                dropped=self._dropped,
                callback_faults=self._callback_faults,
                network_alive=self._network_alive(),
            )

    def stop(self) -> None:
        """Say goodbye and end the line; what is not acknowledged comes again next time."""
        self._started = False
        if self._connected:
            try:
                self._say_presence({"presence": "gone"}).wait(_FAREWELL_S)
            except TransportError as error:
                LOG.debug("no farewell: %s", error)
        self._client.disconnect()
        ending = threading.Thread(target=self._client.loop_stop, daemon=True)
        ending.start()
        ending.join(_STOP_S)  # a broker that does not answer must not hold the daemon
        for name in _CALLBACKS:  # nothing refers back to us: the client closes its sockets at once
            setattr(self._client, name, None)
        self._connected = False
        self._subscribed.clear()

    def _new_client(self) -> Client:
        """Return a client with its callbacks set: what came before they are would be lost."""
        version = MQTTProtocolVersion.MQTTv5
        clean_session = None
        if self._access.protocol == "3.1.1":
            version, clean_session = MQTTProtocolVersion.MQTTv311, False
        client = Client(
            CallbackAPIVersion.VERSION2,
            client_id=self._access.client_id,
            clean_session=clean_session,
            protocol=version,
            manual_ack=True,
        )
        client.connect_timeout = _CONNECT_TIMEOUT_S
        client.max_queued_messages_set(_OWN_QUEUE)
        client.reconnect_delay_set(1, _LONGEST_RETRY_S)
        client.will_set(self.presence_topic, json.dumps({"presence": "gone"}), qos=1, retain=True)
        if self._access.username is not None:
            client.username_pw_set(self._access.username, self._access.password)
        if self._access.tls is not None:
            client.tls_set_context(self._access.tls)
        client.on_connect = self._guarded(self._on_connect)
        client.on_connect_fail = self._guarded(self._on_connect_fail)
        client.on_disconnect = self._guarded(self._on_disconnect)
        client.on_subscribe = self._guarded(self._on_subscribe)
        client.on_publish = self._guarded(self._on_publish)
        client.on_message = self._guarded(self._on_message)
        return client

    def _guarded(self, callback: Callable[..., None]) -> Callable[..., None]:
        """Return `callback` so that no exception of it reaches the network thread."""

        def guarded(*arguments: Any) -> None:  # noqa: ANN401 - whatever the library passes
            try:
                callback(*arguments)
            except Exception:
                self._callback_faults += 1
                if self._callback_faults in (1, 10, 100, 1000):
                    LOG.exception("fault %d in the broker's line", self._callback_faults)

        return guarded

    def _on_connect(
        self,
        client: Client,
        _userdata: object,
        flags: ConnectFlags,
        reason: ReasonCode,
        _properties: Properties | None,
    ) -> None:
        now_s = time.monotonic()
        if reason.is_failure:
            hint = refused_hint(reason, self._access)
            self._trouble(f"the broker at {self._access.place} refuses us: {reason}; {hint}")
            return
        with self._lock:
            self._generation += 1
            self._open.clear()
            self._connected = True
            self._last_packet_s = self._connected_s = now_s
        self._line.recovered(f"connected to the broker at {self._access.place} again")
        self._marker_due = self._watch.connected(now_s, session_present=flags.session_present)
        if self._access.protocol == "5":
            client.subscribe([(topic, SubscribeOptions(qos=1)) for topic in self._topics])
        else:
            client.subscribe([(topic, 1) for topic in self._topics])
        self._say_presence(self._hello)

    def _on_connect_fail(self, _client: Client, _userdata: object) -> None:
        # the library calls this while it handles the exception and does not pass it on
        hint = unreachable_hint(sys.exc_info()[1])
        self._trouble(f"the broker at {self._access.place} is not reached: {hint}")

    def _on_disconnect(
        self,
        _client: Client,
        _userdata: object,
        _flags: DisconnectFlags,
        reason: ReasonCode,
        _properties: Properties | None,
    ) -> None:
        with self._lock:
            was_connected, self._connected = self._connected, False
            self._subscribed.clear()
        if was_connected and reason.is_failure:  # a refusal has been told already
            is_short = time.monotonic() - self._connected_s < _SHORT_LINE_S
            self._short_lines = self._short_lines + 1 if is_short else 0
            hint = ended_hint(reason, again=self._short_lines >= _SHORT_LINES)
            self._trouble(f"the line to the broker at {self._access.place} broke: {reason}{hint}")

    def _on_subscribe(
        self,
        _client: Client,
        _userdata: object,
        _mid: int,
        codes: list[ReasonCode],
        _properties: Properties | None,
    ) -> None:
        self._last_packet_s = time.monotonic()
        refused = [
            (topic, code)
            for topic, code in zip(self._topics, codes, strict=False)
            if code.value >= _FAILURE
        ]
        self._refusals = tuple(f"{topic}: {code}" for topic, code in refused)
        for refusal in self._refusals:
            LOG.warning("the broker does not grant %s; check its access list", refusal)
        asked = set(self._topics) - {self._marker_topic}
        if asked - {topic for topic, _ in refused} or not asked:
            self._subscribed.set()
        self._send_marker(self._marker_due)

    def _on_publish(
        self,
        _client: Client,
        _userdata: object,
        mid: int,
        reason: ReasonCode,
        _properties: Properties | None,
    ) -> None:
        self._last_packet_s = time.monotonic()
        if reason.is_failure:
            self._refused.append(mid)
            self._trouble(f"the broker refuses a message of ours: {reason}; check its access list")

    def _on_message(self, _client: Client, _userdata: object, message: MQTTMessage) -> None:
        now_s = time.monotonic()
        self._last_packet_s = now_s
        topic = _topic_of(message)
        is_marker = topic == self._marker_topic
        if not is_marker and message.qos == 0 and self._queue.qsize() >= _UNACKNOWLEDGEABLE:
            self._dropped += 1
            return
        arrived = Arrived(
            generation=self._generation,
            mid=message.mid,
            qos=message.qos,
            topic=topic,
            payload=bytes(message.payload),
            retained=message.retain,
            received_s=now_s,
            received_ms=self._now_ms(),
            backlog=not is_marker and self._may_have_waited(now_s),
        )
        if message.qos:
            with self._lock:
                self._open[message.mid] = arrived
        if is_marker:
            self._marker_returned(arrived.payload)
        else:
            self._queue.put(arrived)

    def _may_have_waited(self, now_s: float) -> bool:
        marker_was_lost = self._watch.marker_lost
        in_doubt = self._watch.arrived(now_s)
        if self._watch.marker_lost and not marker_was_lost:
            LOG.warning(
                "our own message on %s does not come back; grant the daemon reading and writing "
                "there, or messages after each break count as of unknown time for longer",
                self._marker_topic,
            )
        return in_doubt

    def _is_open(self, message: Arrived) -> bool:
        return (
            self._connected and message.generation == self._generation and message.mid in self._open
        )

    def _acknowledge(self, mid: int) -> None:
        if self._open.pop(mid, None) is not None:  # once, however often it was handed back
            self._client.ack(mid, 1)

    def _acknowledge_markers(self) -> None:
        """Acknowledge markers whose turn it is (MQTT 5.0, section 4.6: in order of arrival)."""
        while self._connected and self._open:
            mid, first = next(iter(self._open.items()))
            if first.topic != self._marker_topic:
                return
            self._acknowledge(mid)

    def _send_marker(self, number: int | None) -> None:
        if number is None or not self._connected:
            return
        self._client.publish(self._marker_topic, f"{self._run}:{number}", qos=1)

    def _marker_returned(self, payload: bytes) -> None:
        run, _, number = payload.decode("utf-8", "replace").partition(":")
        if run == self._run and number.isdecimal():
            self._watch.returned(int(number))
        with self._lock:
            self._acknowledge_markers()

    def _say_presence(self, presence: Mapping[str, object]) -> Delivery:
        return self.publish(self.presence_topic, json.dumps(presence), retain=True, qos=1)

    def _trouble(self, words: str) -> None:
        self._line.say(words, time.monotonic())

    def _network_alive(self) -> bool:
        name = f"paho-mqtt-client-{self._access.client_id}"  # as the library names it
        return any(thread.name == name for thread in threading.enumerate())

    def _revive(self) -> None:
        """Begin again with a new client should the network thread ever have ended by itself."""
        if not self._started or self._network_alive():
            return
        self._trouble("the network thread had ended; the line is opened anew")
        with self._lock:
            self._connected = False
            self._subscribed.clear()
            self._client = self._new_client()
        self.start()


def _topic_of(message: MQTTMessage) -> str:
    try:
        return message.topic
    except UnicodeDecodeError:
        return ""  # belongs to no mapping; still to be acknowledged, or it would come for ever
