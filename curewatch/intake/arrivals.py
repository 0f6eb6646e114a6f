"""What the line to the broker hands out: messages as they came, deliveries, and its own state."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections import deque

    from paho.mqtt.client import MQTTMessageInfo


@dataclass(frozen=True, slots=True)
class Arrived:
    """One message as it came.

    Attributes
    ----------
        generation: the connection it came on, counted from 1; 0 for what this machine read itself.
        mid: its packet number on that connection.
        qos: 0 or 1.
        topic: its topic, empty when that was not text.
        payload: its bytes.
        retained: whether the broker repeated it at subscription.
        received_s: monotonic instant of arrival [s].
        received_ms: the same on the caller's clock, UTC epoch [ms].
        backlog: whether it may have waited at the broker; its arrival then says nothing.
    """

    generation: int
    mid: int
    qos: int
    topic: str
    payload: bytes
    retained: bool
    received_s: float
    received_ms: int
    backlog: bool


@dataclass(frozen=True, slots=True)
class IntakeState:
    """How the line stands.

    Attributes
    ----------
        connected: whether the broker has accepted us.
        subscribed: whether it has granted at least one topic on this connection.
        generation: connections so far.
        last_packet_age_s: since anything but a keep-alive answer came [s]; None before that.
        refusals: topics the broker did not grant, each with its reason.
        trouble: what is wrong, in words; None when nothing is.
        unacknowledged: messages received on this connection and not acknowledged.
        oldest_unacknowledged_s: age of the oldest of them [s].
        in_doubt: whether arrivals may be a backlog.
        dropped: QoS 0 messages dropped because the caller did not take them.
        callback_faults: exceptions caught in the network thread.
        network_alive: whether that thread runs.
    """

    connected: bool
    subscribed: bool
    generation: int
    last_packet_age_s: float | None
    refusals: tuple[str, ...]
    trouble: str | None
    unacknowledged: int
    oldest_unacknowledged_s: float
    in_doubt: bool
    dropped: int
    callback_faults: int
    network_alive: bool


class Delivery:
    """One message of our own on its way to the broker."""

    def __init__(self, info: MQTTMessageInfo, refused: deque[int]) -> None:
        """Follow the message `info` stands for."""
        self._info = info
        self._refused = refused

    @property
    def settled(self) -> bool:
        """Whether the broker has taken or refused it."""
        return bool(self._info.is_published())

    def wait(self, timeout_s: float) -> bool:
        """Return whether the broker has taken it within `timeout_s`."""
        try:
            self._info.wait_for_publish(timeout_s)
        except (RuntimeError, ValueError):  # the line broke, or its queue is full
            return False
        return self._info.is_published() and self._info.mid not in self._refused
