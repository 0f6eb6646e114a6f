"""The page's application: its views, its door, and how errors look."""

from __future__ import annotations

from importlib import resources
from typing import TYPE_CHECKING

from fastapi import FastAPI, Request
from fastapi.responses import JSONResponse, PlainTextResponse, RedirectResponse, Response
from starlette.middleware.gzip import GZipMiddleware
from starlette.staticfiles import StaticFiles

from curewatch import __version__
from curewatch.errors import BadInput, CurewatchError
from curewatch.web import live
from curewatch.web.access import Access, NotAllowed, is_our_host
from curewatch.web.room import Room
from curewatch.web.views import VIEWS

if TYPE_CHECKING:
    from collections.abc import Awaitable, Callable

    from curewatch.settings import Settings
    from curewatch.web.desk import Desk

HEADERS = {
    "Content-Security-Policy": "default-src 'self'; frame-ancestors 'none'; form-action 'self'; "
    "base-uri 'none'; object-src 'none'",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
}
API = "/api/"


def build(desk: Desk, settings: Settings) -> FastAPI:
    """Return the application that shows what `desk` answers."""
    page = settings.page
    app = FastAPI(
        title="curewatch",
        version=__version__,
        summary="What the shop's rooms and pieces are doing, as every command says it with --json.",
        openapi_url="/api/v1/openapi.json",
        docs_url=None,
        redoc_url=None,
    )
    app.state.room = Room(desk, settings, Access(desk, open_reading=page.open_reading))
    app.add_middleware(GZipMiddleware, minimum_size=800)
    _guard(app, page.names)
    look = resources.files("curewatch.web") / "look"
    app.mount("/look", StaticFiles(directory=str(look)), name="look")
    app.include_router(live.router)
    for view in VIEWS:
        app.include_router(view)
    _tell_errors(app)
    return app


def _guard(app: FastAPI, names: tuple[str, ...]) -> None:
    """Turn away requests under a strange name, and forms from strange pages; add the headers."""

    @app.middleware("http")
    async def guard(
        request: Request, call_next: Callable[[Request], Awaitable[Response]]
    ) -> Response:
        host = request.headers.get("host", "")
        if not is_our_host(host, names):
            return PlainTextResponse(
                f"This page is not served as {host}: add the name to [page] names.\n", 421
            )
        origin = request.headers.get("origin")
        if request.method not in ("GET", "HEAD") and origin not in (
            None,
            f"{request.url.scheme}://{host}",
        ):
            return PlainTextResponse("This form came from another page.\n", 403)
        response = await call_next(request)
        for name, value in HEADERS.items():
            response.headers.setdefault(name, value)
        kept = request.url.path.startswith("/look/")
        response.headers.setdefault("Cache-Control", "max-age=3600" if kept else "no-store")
        return response


def _tell_errors(app: FastAPI) -> None:
    """Say errors in words: as JSON under the API, as a page elsewhere."""

    @app.exception_handler(NotAllowed)
    def not_allowed(request: Request, _: NotAllowed) -> Response:
        if request.url.path.startswith(API):
            return JSONResponse({"error": "the shop's passphrase is needed"}, 401)
        back = request.url.path if request.method == "GET" else "/"
        return RedirectResponse(f"/enter?back={back}", 303)

    @app.exception_handler(CurewatchError)
    def explained(request: Request, error: CurewatchError) -> Response:
        status = 422 if isinstance(error, BadInput) else 503
        if request.url.path.startswith(API):
            return JSONResponse({"error": str(error)}, status)
        room: Room = request.app.state.room
        return room.render(request, "error.html", {"error": str(error)}, status=status)
