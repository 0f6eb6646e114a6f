"""The page's web server in a thread of the daemon."""

from __future__ import annotations

import errno
import logging
import os
import socket
import threading
from typing import TYPE_CHECKING

import uvicorn

from curewatch.web.app import build
from curewatch.web.names import page_url

if TYPE_CHECKING:
    from curewatch.settings import Settings
    from curewatch.web.desk import Desk

LOG = logging.getLogger(__name__)
GRACE_S = 2  # an open event stream would hold the end up for ever
BACKLOG = 64


class PageServer:
    """Serves the page until it is stopped; a port that is taken is told, and no fault."""

    def __init__(self, desk: Desk, settings: Settings) -> None:
        """Serve what `desk` answers as the settings' [page] says."""
        self._desk = desk
        self._place = (settings.page.host, settings.page.port)
        self._server = uvicorn.Server(
            uvicorn.Config(
                build(desk, settings),
                log_config=None,
                access_log=False,
                server_header=False,
                timeout_graceful_shutdown=GRACE_S,
                timeout_keep_alive=30,
                limit_concurrency=200,
                lifespan="off",
            )
        )
        self._thread = threading.Thread(target=self._run, name="page", daemon=True)
        self._socket: socket.socket | None = None

    def start(self) -> None:
        """Listen, and serve from a thread."""
        try:
            self._socket = _listening(*self._place)
        except OSError as error:
            LOG.error(  # noqa: TRY400 - the sentence says it all
                "the page is not served: %s port %d cannot be listened on (%s); set another "
                "[page] port and restart",
                *self._place,
                os.strerror(error.errno or 0) if error.errno in errno.errorcode else error,
            )
            return
        self._thread.start()
        LOG.info("the page is at %s", page_url(self._place[0], self.port))

    @property
    def port(self) -> int:
        """The port that is listened on."""
        return self._place[1] if self._socket is None else int(self._socket.getsockname()[1])

    def stop(self) -> None:
        """End within a few seconds, open streams or not."""
        self._desk.close()
        self._server.should_exit = True
        if self._thread.is_alive():
            self._thread.join(GRACE_S + 3.0)
        if self._socket is not None:
            self._socket.close()

    def _run(self) -> None:
        assert self._socket is not None  # noqa: S101 - started only with one
        try:
            self._server.run(sockets=[self._socket])
        except Exception:
            LOG.exception("the page's server has ended; the daemon goes on without it")


def _listening(host: str, port: int) -> socket.socket:
    """Return a socket that listens; '::' answers the older protocol, too.

    The connections inherit that small answers leave at once: asyncio sees to it only on sockets
    that were made with a protocol's number, and without it each answer takes 40 ms longer.
    """
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    both = host == "::" and socket.has_dualstack_ipv6()
    made = socket.create_server((host, port), family=family, backlog=BACKLOG, dualstack_ipv6=both)
    made.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    return made
