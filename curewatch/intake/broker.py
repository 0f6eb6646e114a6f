"""How to reach the broker, and what its refusals mean to a person."""

from __future__ import annotations

import socket
import ssl
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from curewatch.errors import BadInput
from curewatch.intake.tls import tls_hint

if TYPE_CHECKING:
    from paho.mqtt.reasoncodes import ReasonCode

_DAY_S = 86_400
_HIGHEST_PORT = 65_535
_UNSUPPORTED_VERSION, _BAD_IDENTIFIER, _BAD_PASSWORD, _NOT_AUTHORISED = 132, 133, 134, 135
_TAKEN_OVER = 142  # MQTT 5.0, section 2.4, like the four above


@dataclass(frozen=True, slots=True)
class BrokerAccess:
    """Where the broker is and how we present ourselves.

    Attributes
    ----------
        host: name or address.
        port: TCP port.
        client_id: one fixed name; the broker keeps our session under it.
        username: None when the broker asks for none.
        password: the password, never logged.
        protocol: '5' or '3.1.1'.
        keepalive_s: a dead line is noticed after one and a half times this [s].
        session_expiry_s: how long the broker keeps our session while we are away [s] (MQTT 5).
        receive_maximum: unacknowledged messages at most; more than one commit holds (MQTT 5).
        tls: context for an encrypted line, None for a plain one.
    """

    host: str
    port: int = 1883
    client_id: str = "curewatch"
    username: str | None = None
    password: str | None = field(default=None, repr=False)
    protocol: Literal["5", "3.1.1"] = "5"
    keepalive_s: int = 30
    session_expiry_s: int = 60 * _DAY_S
    receive_maximum: int = 2000
    tls: ssl.SSLContext | None = None

    def __post_init__(self) -> None:
        """Refuse what the client library would fail on in its own thread."""
        try:
            usable = bool(self.host.strip()) and bool(self.host.encode("idna"))
        except UnicodeError:
            usable = False
        if not usable:
            raise BadInput(f"broker host '{self.host}' is not a host name or address")
        if not 1 <= self.port <= _HIGHEST_PORT:
            raise BadInput(f"broker port {self.port} is not within 1 to {_HIGHEST_PORT}; try 1883")
        if self.protocol not in ("5", "3.1.1"):
            raise BadInput(f"broker protocol '{self.protocol}' is neither '5' nor '3.1.1'")

    @property
    def place(self) -> str:
        """Host and port as people write them."""
        return f"{self.host}:{self.port}"


def refused_hint(reason: ReasonCode, access: BrokerAccess) -> str:
    """Return what to do about the broker refusing the connection."""
    match reason.value:
        case code if code in (_BAD_PASSWORD, _NOT_AUTHORISED):
            return "check the broker's user name and password in the configuration"
        case code if code == _UNSUPPORTED_VERSION:
            other = "3.1.1" if access.protocol == "5" else "5"
            return f"set the broker's protocol to '{other}' in the configuration"
        case code if code == _BAD_IDENTIFIER:
            return f"the broker does not allow the client id '{access.client_id}'"
    return "see the broker's own log"


def unreachable_hint(error: BaseException | None) -> str:
    """Return what went wrong on the way to the broker and what to do about it."""
    match error:
        case ConnectionRefusedError():
            return "nothing listens there; is the broker running, and is the port right?"
        case socket.gaierror():
            return "no such host; check the broker's host in the configuration"
        case ssl.SSLError():
            return tls_hint(error)
        case ConnectionResetError():
            return (
                "it closed the line at once; see that broker.port is the one for the kind of line "
                "that broker.tls says, encrypted or plain"
            )
        case TimeoutError():
            return "no answer; check the address, the network and any firewall"
    return f"{error or 'unknown reason'}; check the network"


def ended_hint(reason: ReasonCode, *, again: bool) -> str:
    """Return what to do about a line that broke, empty when that is only to wait.

    Not every broker says that another client took our place; lines that break `again` and again
    soon after they opened say so too.
    """
    if reason.value == _TAKEN_OVER or again:
        return "; another client may be using our client id: is a second daemon running?"
    return ""
