"""The page's application: its views, its door, and how errors look."""

from __future__ import annotations

from importlib import resources
from typing import TYPE_CHECKING
from urllib.parse import quote

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, RedirectResponse, Response
from starlette.exceptions import HTTPException
from starlette.middleware.gzip import GZipMiddleware
from starlette.staticfiles import StaticFiles

from curewatch import __version__
from curewatch.errors import BadInput, CurewatchError
from curewatch.web import api, api_air, api_bench, api_sensors, live, metrics
from curewatch.web.access import Access, NotAllowed
from curewatch.web.api import NoSuch
from curewatch.web.guard import Guard
from curewatch.web.plainly import without_commands
from curewatch.web.room import Room
from curewatch.web.speech import say
from curewatch.web.views import VIEWS

if TYPE_CHECKING:
    from curewatch.settings import Settings
    from curewatch.web.desk import Desk

LEAST_ZIPPED = 800  # bytes
NOT_FOUND, FAILED = 404, 500


def build(desk: Desk, settings: Settings) -> FastAPI:
    """Return the application that shows what `desk` answers."""
    app = FastAPI(
        title="curewatch",
        version=__version__,
        summary="What the shop's rooms and pieces are doing, as every command says it with --json.",
        description=api.DESCRIPTION,
        openapi_url=f"{api.PLACE}/openapi.json",
        docs_url=None,
        redoc_url=None,
        # Without these a view that ends with a slash would be looked for under another address.
        redirect_slashes=False,
    )
    app.state.judged = metrics.LastJudged()
    app.state.room = Room(desk, settings, Access(desk, open_reading=settings.page.open_reading))
    app.add_middleware(GZipMiddleware, minimum_size=LEAST_ZIPPED)
    app.add_middleware(Guard, names=settings.page.names, fault=_own_fault)
    look = resources.files("curewatch.web") / "look"
    app.mount("/look", StaticFiles(directory=str(look)), name="look")
    app.include_router(live.router)
    app.include_router(api.router)
    app.include_router(api_air.router)
    app.include_router(api_bench.router)
    app.include_router(api_sensors.router)
    app.include_router(metrics.health_router)
    if settings.page.metrics:
        app.include_router(metrics.metrics_router)
    for view in VIEWS:
        app.include_router(view)
    _tell_errors(app)
    return app


def _tell_errors(app: FastAPI) -> None:
    """Say errors in words: as JSON under the API, as a page elsewhere."""

    @app.exception_handler(NotAllowed)
    def not_allowed(request: Request, _: NotAllowed) -> Response:
        if api.is_api(request):
            return JSONResponse({"error": "the shop's passphrase is needed"}, 401)
        back = "/"
        if request.method == "GET":
            back = request.scope["path"] + (f"?{request.url.query}" if request.url.query else "")
        return RedirectResponse(f"/enter?back={quote(back)}", 303)

    @app.exception_handler(CurewatchError)
    def explained(request: Request, error: CurewatchError) -> Response:
        if isinstance(error, NoSuch):
            return _told(request, str(error), NOT_FOUND)
        return _told(request, str(error), 422 if isinstance(error, BadInput) else 503)

    @app.exception_handler(RequestValidationError)
    def malformed(request: Request, error: RequestValidationError) -> Response:
        faults = (
            f"{'.'.join(str(part) for part in fault['loc'][1:])}: {fault['msg']}"
            for fault in error.errors()
        )
        return _told(request, "; ".join(faults), 422)

    @app.exception_handler(HTTPException)
    def refused(request: Request, error: HTTPException) -> Response:
        said = str(error.detail)
        if error.status_code == NOT_FOUND and said == "Not Found":
            said = say("error.no_place", place=request.scope["path"][:200])
        answer = _told(request, said, error.status_code)
        answer.headers.update(error.headers or {})
        return answer


def _own_fault(request: Request) -> Response:
    return _told(request, say("error.own_fault"), FAILED)


def _told(request: Request, error: str, status: int) -> Response:
    if api.is_api(request):
        return JSONResponse({"error": error}, status)
    room: Room = request.app.state.room
    return room.render(request, "error.html", {"error": without_commands(error)}, status=status)
