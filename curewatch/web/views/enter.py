"""The door: giving the shop's passphrase, and leaving again."""

from __future__ import annotations

import math
from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import RedirectResponse, Response

from curewatch.web.access import COOKIE, COOKIE_LASTS_S, NotAllowed, WaitFirst
from curewatch.web.room import Room

router = APIRouter(include_in_schema=False)


@router.get("/enter")
def door(request: Request, back: str = "/") -> Response:
    """Show the door."""
    return _door(request, back)


@router.post("/enter")
def enter(
    request: Request,
    passphrase: Annotated[str, Form(max_length=400)],
    who: Annotated[str, Form(max_length=40)] = "",
    back: Annotated[str, Form(max_length=300)] = "/",
    looks: Annotated[str, Form(max_length=10)] = "",
) -> Response:
    """Let somebody in who knows the passphrase; with `looks` to look and no more."""
    room: Room = request.app.state.room
    address = request.client.host if request.client else ""
    try:
        cookie = room.access.enter(passphrase, who=who.strip(), address=address, looks=bool(looks))
    except WaitFirst as wait:
        return _door(request, back, looks=bool(looks), wait_s=wait.seconds, status=429)
    except NotAllowed:
        return _door(request, back, looks=bool(looks), wrong=True, status=403)
    answer = RedirectResponse(_inside(back), 303)
    keep_cookie(request, answer, cookie)
    return answer


def keep_cookie(request: Request, answer: Response, cookie: str) -> None:
    """Let the browser keep a cookie as long as browsers do, from now on."""
    answer.set_cookie(
        COOKIE,
        cookie,
        max_age=COOKIE_LASTS_S,
        httponly=True,
        samesite="lax",  # a link in a notice must not meet a stranger; forms carry a token
        secure=request.url.scheme == "https",
    )


@router.post("/leave")
def leave(request: Request, token: Annotated[str, Form(max_length=100)]) -> Response:
    """Forget the telephone that asks."""
    room: Room = request.app.state.room
    room.writer(request, token)
    room.access.leave(request.cookies[COOKIE])
    answer = RedirectResponse("/", 303)
    answer.delete_cookie(COOKIE)
    return answer


def _door(
    request: Request,
    back: str,
    *,
    looks: bool | None = None,
    wrong: bool = False,
    wait_s: float = 0.0,
    status: int = 200,
) -> Response:
    room: Room = request.app.state.room
    facts = {
        "back": _inside(back),
        "looks": _inside(back).startswith("/wall") if looks is None else looks,
        "wrong": wrong,
        "wait_s": wait_s,
        "has_passphrase": room.access.has_passphrase(),
    }
    answer = room.render(request, "enter.html", facts, status=status)
    if wait_s:
        answer.headers["Retry-After"] = str(math.ceil(wait_s))
    return answer


def _inside(back: str) -> str:
    """Return a place of this page to go to, never another machine's."""
    safe = back.startswith("/") and not back.startswith("//") and "\\" not in back
    return back if safe and back.isprintable() else "/"
