"""The other end of a line that answers in bytes written by the test, well-formed or not."""

from __future__ import annotations

import socket
import threading
from dataclasses import dataclass, field
from typing import Self

CONNECT, PUBLISH, SUBSCRIBE = 0x10, 0x30, 0x80  # MQTT 5.0, section 2.1.2
ACCEPTED = bytes([0x20, 3, 0, 0, 0])  # CONNACK: no session, success, no properties


@dataclass
class ScriptedBroker:
    """Answers CONNECT with `connack`, SUBSCRIBE with `suback` codes, and sends `then`.

    Attributes
    ----------
        connack: bytes sent for each CONNECT.
        suback: reason codes, one for each topic asked for.
        then: bytes sent after the SUBACK of the first connection.
        confirms: whether it acknowledges what it is sent.
        received: first bytes of all packets received.
    """

    connack: bytes = ACCEPTED
    suback: bytes = b"\x01\x01"
    then: bytes = b""
    confirms: bool = True
    received: list[int] = field(default_factory=list)

    def __enter__(self) -> Self:
        """Listen on a port of its own."""
        self._door = socket.create_server(("127.0.0.1", 0))
        self.port: int = self._door.getsockname()[1]
        self._thread = threading.Thread(target=self._serve)
        self._thread.start()
        return self

    def __exit__(self, *_exception: object) -> None:
        """Close the door."""
        self._door.shutdown(socket.SHUT_RDWR)
        self._door.close()
        self._thread.join()

    def _serve(self) -> None:
        while True:
            try:
                line, _ = self._door.accept()
            except OSError:
                return
            with line:
                line.settimeout(10.0)
                try:
                    while self._answer(line):
                        pass
                except OSError:
                    continue

    def _answer(self, line: socket.socket) -> bool:
        head = line.recv(1)
        if not head:
            return False
        self.received.append(head[0])
        body = _exactly(line, _length(line))
        if head[0] & 0xF0 == CONNECT:
            line.sendall(self.connack)
        elif head[0] & 0xF0 == SUBSCRIBE:
            line.sendall(bytes([0x90, 3 + len(self.suback)]) + body[:2] + b"\0" + self.suback)
            line.sendall(self.then)
            self.then = b""
        elif head[0] & 0xF0 == PUBLISH and self.confirms:
            after_topic = 2 + int.from_bytes(body[:2], "big")
            line.sendall(bytes([0x40, 2]) + body[after_topic : after_topic + 2])
        return True


def _length(line: socket.socket) -> int:
    """Return a packet's remaining length (MQTT 5.0, section 1.5.5)."""
    value, shift = 0, 0
    while True:
        (byte,) = _exactly(line, 1)
        value |= (byte & 0x7F) << shift
        if byte < 0x80:
            return value
        shift += 7


def _exactly(line: socket.socket, count: int) -> bytes:
    data = b""
    while len(data) < count:
        part = line.recv(count - len(data))
        if not part:
            raise ConnectionError
        data += part
    return data
