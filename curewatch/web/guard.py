"""What stands before every view: strange names and forms are turned away, headers are added."""

from __future__ import annotations

import logging
from typing import TYPE_CHECKING

from fastapi import Request
from fastapi.responses import PlainTextResponse, Response
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers, MutableHeaders

from curewatch.web.names import is_our_host, is_our_origin

if TYPE_CHECKING:
    from collections.abc import Callable

    from starlette.types import ASGIApp, Message, Receive, Scope, Send

LOG = logging.getLogger(__name__)
HEADERS = {
    "Content-Security-Policy": "default-src 'self'; frame-ancestors 'none'; form-action 'self'; "
    "base-uri 'none'; object-src 'none'",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
}
LOOKING = ("GET", "HEAD")
LARGEST_FORM = 64 * 1024  # bytes; what people type at a bench is shorter
LOOK = "/look/"


class Guard:
    """The page's outermost layer."""

    def __init__(
        self, app: ASGIApp, *, names: tuple[str, ...], fault: Callable[[Request], Response]
    ) -> None:
        """Let through to `app` what calls this machine by its own or one of `names`.

        `fault` says in words that something broke; what, only the log is told.
        """
        self._app = app
        self._names = names
        self._fault = fault

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Look at one request."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        begun = False

        async def with_headers(message: Message) -> None:
            nonlocal begun
            if message["type"] == "http.response.start":
                begun = True
                _add_headers(MutableHeaders(scope=message), scope["path"])
            await send(message)

        refusal = self._refusal(scope["method"], Headers(scope=scope))
        if refusal is not None:
            await refusal(scope, receive, with_headers)
            return
        try:
            await self._app(scope, receive, with_headers)
        except Exception:
            if begun:
                raise
            LOG.exception("%s %s failed", scope["method"], scope["path"])
            said = await run_in_threadpool(self._fault, Request(scope))
            await said(scope, receive, with_headers)

    def _refusal(self, method: str, headers: Headers) -> PlainTextResponse | None:
        host = headers.get("host", "")
        if not is_our_host(host, self._names):
            return PlainTextResponse(
                f"This page is not served as {host[:80]!a}: add the name to [page] names.\n", 421
            )
        if method in LOOKING:
            return None
        if not is_our_origin(headers.get("origin"), host):
            return PlainTextResponse("This form came from another page.\n", 403)
        size = headers.get("content-length", "0")
        if "transfer-encoding" in headers or not size.isdecimal():
            return PlainTextResponse("Say how long the form is.\n", 411)
        if int(size) > LARGEST_FORM:
            return PlainTextResponse("That is longer than any form here.\n", 413)
        return None


def _add_headers(headers: MutableHeaders, path: str) -> None:
    for name, value in HEADERS.items():
        headers.setdefault(name, value)
    headers.setdefault("Cache-Control", "max-age=3600" if path.startswith(LOOK) else "no-store")
