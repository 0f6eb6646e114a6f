"""The same objects as every command's --json, for other programs in the shop."""

from __future__ import annotations

from difflib import get_close_matches
from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, Header, Path, Query, Request
from fastapi.responses import JSONResponse, Response

from curewatch.assembly import finish_now, shelf
from curewatch.errors import BadInput, CurewatchError
from curewatch.finish_files import shipped_names
from curewatch.finish_plain import finish_plain, pace_of, shelf_plain
from curewatch.shop.alert import AlertPhase
from curewatch.shop.assessment import assess_piece, assess_room
from curewatch.shop.build import the_build
from curewatch.shop.plain import FORMAT, alert_plain, assessment_plain, piece_plain, room_plain
from curewatch.shop.plain_compare import build_plain
from curewatch.shop.plain_entries import entries_plain
from curewatch.shop.plain_room_check import Place, place_plain
from curewatch.shop.safety import SAFETY
from curewatch.shop.spray_answer import Job, room_answer
from curewatch.shop.spray_here import conditions_of, heard_at, here_at
from curewatch.shop.standings_told import counts_standings
from curewatch.shop.thinners import thinner_named
from curewatch.shop.unmeasured import not_measured
from curewatch.storage.history_plain import entry_plain
from curewatch.web import api_shapes as shapes
from curewatch.web.deeds import take_on
from curewatch.web.room import Room
from curewatch.web.workroom import back_room

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from curewatch.opened import Opened
    from curewatch.shop.plain import Plain, PlainValue
    from curewatch.web.desk import Counter

PLACE = "/api/v1"
DESCRIPTION = (
    "Instants are ISO 8601 in UTC, temperatures degC, humidity percent, hours decimal; null means "
    "not known, never nought. Looking needs the page's cookie unless [page] open_reading is on; "
    "writing needs it always, and the visitor's token in X-Form-Token. " + SAFETY
)
STANDING = (AlertPhase.RAISED, AlertPhase.SEEN, AlertPhase.RESTING)
LARGEST_ID = 2**63 - 1
MOST_COATS = 12

router = APIRouter(prefix=PLACE)
Name = Annotated[str, Path(min_length=1, max_length=64, description="its name")]
Tag = Annotated[str, Path(min_length=1, max_length=64, description="what its label says")]


class NoSuch(CurewatchError):  # noqa: N818 - reads as the sentence it is
    """Something of a name that is not known was asked for."""


def is_api(request: Request) -> bool:
    """Whether a request wants an object rather than a page."""
    return bool(request.scope["path"].startswith("/api/"))


def no_such(what: str, name: str, known: Iterable[str]) -> NoSuch:
    """Return the error that names what may have been meant."""
    names = sorted(known)
    near = get_close_matches(name, names, n=3, cutoff=0.5)
    if near:
        hint = f"did you mean {' or '.join(near)}?"
    elif names:
        hint = f"there {'is' if len(names) == 1 else 'are'} {len(names)}, such as {names[0]}"
    else:
        hint = "there is none at all"
    return NoSuch(f"there is no {what} {name[:64]!r}: {hint}")


def _get(path: str, shape: shapes.Shape) -> Callable[[Any], Any]:
    """Return what makes a function answer GET at a path with an object of a shape."""
    return router.get(
        path, responses=shapes.answers(shape), response_class=JSONResponse, response_model=None
    )


def _answer(request: Request, question: Callable[[Counter], PlainValue]) -> JSONResponse:
    room: Room = request.app.state.room
    room.reader(request)
    return JSONResponse(room.desk.ask(question))


@_get("/assessment", shapes.ASSESSMENT)
def assessment(request: Request) -> Response:
    """Tell the whole shop: rooms, pieces, alerts that stand."""

    def look(counter: Counter) -> Plain:
        return {
            **assessment_plain(counter.assessment()),
            "site": counter.settings.site.name,
            "alerts": _standing(counter),
            "standing": counts_standings("alerts"),
        }

    return _answer(request, look)


@_get("/rooms", shapes.ROOMS)
def rooms(request: Request) -> Response:
    """Tell every room, as 'room list' does."""

    def look(counter: Counter) -> Plain:
        return {"format": FORMAT, "rooms": [room_plain(r) for r in counter.assessment().rooms]}

    return _answer(request, look)


@_get("/rooms/{name}", shapes.ROOM)
def one_room(request: Request, name: Name) -> Response:
    """Tell one room, as 'room show' does."""

    def look(counter: Counter) -> Plain:
        _known_room(counter, name)
        here = assess_room(counter.shop, name, counter.now_ms)
        pieces: list[PlainValue] = [
            piece.tag for piece in counter.shop.pieces_in(name, counter.now_ms)
        ]
        return {"format": FORMAT, **room_plain(here), "pieces": pieces, "safety": SAFETY}

    return _answer(request, look)


@_get("/pieces", shapes.PIECES)
def pieces(request: Request) -> Response:
    """Tell every piece that hangs in the shop, as 'piece list' does."""

    def look(counter: Counter) -> Plain:
        found = counter.assessment().pieces
        return {"format": FORMAT, "pieces": [piece_plain(piece) for piece in found]}

    return _answer(request, look)


@_get("/pieces/{tag}", shapes.PIECE)
def one_piece(request: Request, tag: Tag) -> Response:
    """Tell one piece that hangs in the shop, as 'piece show' does."""

    def look(counter: Counter) -> Plain:
        shop = counter.shop
        piece = shop.pieces.get(tag)
        if piece is None:
            raise no_such("piece here", tag, shop.pieces)
        now = assess_piece(shop, piece, counter.now_ms)
        finish = shop.finish_of(piece)
        on = build_plain(the_build(piece, finish, counter.now_ms, shop.words), finish)
        return {"format": FORMAT, **piece_plain(now), **entries_plain(piece, finish), "build": on}

    return _answer(request, look)


@_get("/pieces/{tag}/history", shapes.HISTORY)
def history(request: Request, tag: Tag) -> Response:
    """Tell everything ever entered about a piece, also one that left; as 'piece history' does."""

    def look(counter: Counter) -> Plain:
        try:
            entries = counter.store.pieces.history(tag)
        except BadInput:
            known = (piece.tag for piece in counter.store.pieces.load_all(left=True))
            raise no_such("piece", tag, known) from None
        return {"format": FORMAT, "piece": tag, "entries": [entry_plain(e) for e in entries]}

    return _answer(request, look)


@_get("/alerts", {**shapes.many(shapes.ALERT), "description": "The alerts that stand."})
def alerts(request: Request) -> Response:
    """Tell the alerts that stand, as 'alert list' does."""
    return _answer(request, _standing)


@_get("/finishes", shapes.FINISHES)
def finishes(request: Request) -> Response:
    """Tell the shelf, as 'finish list' does."""
    return _answer(request, lambda counter: shelf_plain(counter.settings))


@_get("/finishes/{name}", shapes.FINISH)
def one_finish(request: Request, name: Name) -> Response:
    """Tell every number of a profile, as 'finish show' does."""

    def look(counter: Counter) -> Plain:
        _known_finish(counter, name)
        finish = finish_now(counter.settings, counter.store, name)
        return finish_plain(finish, pace=pace_of(counter.settings, counter.store, finish))

    return _answer(request, look)


@_get("/check", shapes.CHECK)
def check(
    request: Request,
    *,
    room: Annotated[str, Query(min_length=1, max_length=64, description="whose air is judged")],
    finish: Annotated[str, Query(min_length=1, max_length=64, description="what is sprayed")],
    thinner: Annotated[str, Query(max_length=64, description="for lacquers")] = "",
    coats: Annotated[int, Query(ge=1, le=MOST_COATS, description="planned in one go")] = 1,
) -> Response:
    """Tell whether a room's air is fit to spray a finish, as 'check' does."""
    place: Room = request.app.state.room
    place.reader(request)
    place.desk.ask(lambda counter: _known(counter, room, finish))
    with back_room(place) as (_, opened):  # the daemon goes on meanwhile
        job = Job(
            finish_now(opened.settings, opened.store, finish),
            thinner_named(thinner) if thinner else None,
            coats,
        )
        return JSONResponse(_checked(opened, room, job))


def _checked(opened: Opened, room: str, job: Job) -> Plain:
    """Return the spray check of a room's newest climate and the hours ahead."""
    shop, now_ms = opened.shop(tags=(), rooms=[room]), opened.now_ms
    climate, fresh = heard_at(shop, room, now_ms)
    place = Place(
        here=here_at(shop, room, now_ms) if fresh else conditions_of(shop, room, None),
        words=shop.words,
        room=room,
        at_ms=None if climate is None else climate.at_ms,
        now_ms=now_ms,
        fresh=fresh,
        unmeasured=not_measured(shop, room, now_ms),
    )
    return place_plain(room_answer(shop, room, job, now_ms=now_ms), place)


@_get("/visitor", shapes.VISITOR)
def visitor(request: Request) -> Response:
    """Tell who asks, and the token that writing needs."""
    room: Room = request.app.state.room
    known = room.visitor(request)
    return JSONResponse(
        {"who": known.who, "may_write": known.may_write, "token": known.token or None}
    )


@router.post(
    "/alerts/{number}/seen",
    responses=shapes.answers(shapes.ALERT),
    response_class=JSONResponse,
    response_model=None,
)
def seen(
    request: Request,
    number: Annotated[int, Path(ge=1, le=LARGEST_ID, description="its number")],
    x_form_token: Annotated[str, Header(max_length=100, description="as /visitor tells it")] = "",
) -> Response:
    """Take an alert on, as 'alert seen' does."""
    room: Room = request.app.state.room
    who = room.writer(request, x_form_token).who

    def mark(counter: Counter) -> Plain:
        standing = {str(alert.id) for alert in counter.store.alerts.active()}
        if str(number) not in standing:
            raise no_such("standing alert", str(number), standing)
        return alert_plain(take_on(counter, number, who))

    return JSONResponse(room.desk.enter(mark))


def _standing(counter: Counter) -> list[PlainValue]:
    active = counter.store.alerts.active()
    return [alert_plain(alert) for alert in active if alert.phase in STANDING]


def _known(counter: Counter, room: str, finish: str) -> None:
    _known_room(counter, room)
    _known_finish(counter, finish)


def _known_room(counter: Counter, name: str) -> None:
    if name not in counter.shop.rooms:
        raise no_such("room", name, counter.shop.rooms)


def _known_finish(counter: Counter, name: str) -> None:
    known = {*shipped_names(), *shelf(counter.settings)}
    if name not in known:
        raise no_such("finish", name, known)
