"""A line between two programs that a test can cut and mend."""

from __future__ import annotations

import contextlib
import socket
import threading
from typing import Self


class Cable:
    """Listens on a port of its own and passes bytes on to another, until it is cut."""

    def __init__(self, port: int) -> None:
        """Lead to `port` of this machine."""
        self._to = port
        self._whole = threading.Event()
        self._whole.set()
        self._ends: list[socket.socket] = []
        self._door = socket.create_server(("127.0.0.1", 0))
        self.port = int(self._door.getsockname()[1])
        threading.Thread(target=self._take_in, daemon=True).start()

    def __enter__(self) -> Self:
        """Use as a context that ends."""
        return self

    def __exit__(self, *_exception: object) -> None:
        """End."""
        with contextlib.suppress(OSError):
            self._door.shutdown(socket.SHUT_RDWR)
        self._door.close()
        self.cut()

    def cut(self) -> None:
        """Break what runs through it, and let nothing through until it is mended."""
        self._whole.clear()
        for end in self._ends:
            with contextlib.suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)
            end.close()
        self._ends.clear()

    def mend(self) -> None:
        """Let it through again."""
        self._whole.set()

    def _take_in(self) -> None:
        while True:
            try:
                near, _ = self._door.accept()
            except OSError:
                return
            if not self._whole.is_set():
                near.close()
                continue
            try:
                far = socket.create_connection(("127.0.0.1", self._to))
            except OSError:
                near.close()
                continue
            self._ends += [near, far]
            for one, other in ((near, far), (far, near)):
                threading.Thread(target=_pass_on, args=(one, other), daemon=True).start()


def _pass_on(one: socket.socket, other: socket.socket) -> None:
    with contextlib.suppress(OSError):
        while some := one.recv(65536):
            other.sendall(some)
    for end in (one, other):
        with contextlib.suppress(OSError):
            end.shutdown(socket.SHUT_RDWR)
