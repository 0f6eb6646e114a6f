"""Hanging a new piece."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING
from urllib.parse import quote

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from curewatch.entries.hanging import NewPiece, hang
from curewatch.entries.times import past_ms
from curewatch.errors import BadInput
from curewatch.finish_plain import shelf_rows
from curewatch.shop.typed import MOST_COATS
from curewatch.web.entering import Done, Sent, key_of, new_key, once
from curewatch.web.forms import Typed
from curewatch.web.piece_entry import Faulty, count_of
from curewatch.web.room import Room
from curewatch.web.speech import say
from curewatch.web.views.piece import blame

if TYPE_CHECKING:
    from curewatch.opened import Opened
    from curewatch.web.desk import Counter

router = APIRouter(include_in_schema=False)


@dataclass(frozen=True, slots=True)
class Offered:
    """What the form offers: finishes, those in use first, and rooms."""

    finishes: tuple[tuple[str, str], ...]
    rooms: tuple[str, ...]


def look(counter: Counter) -> Offered:
    """Gather it, in the daemon's thread."""
    used = {piece.finish for piece in counter.shop.pieces.values()}
    rows = [(name, found.title) for name, found, _, _ in shelf_rows(counter.settings) if found]
    rows.sort(key=lambda row: (row[0] not in used, row[0]))
    return Offered(tuple(rows), tuple(counter.shop.rooms))


@router.get("/piece/new")
def new(request: Request) -> Response:
    """Show the form."""
    room: Room = request.app.state.room
    room.reader(request)
    return _page(request, Typed(request.query_params))


@router.post("/piece/new")
def hang_it(request: Request, form: Sent) -> Response:
    """Hang it, and show it."""
    room: Room = request.app.state.room
    room.writer(request, str(form.get("token", "")))
    typed = Typed(form)

    def deed(counter: Counter) -> Done:
        return once(counter, key_of(form), lambda at: _hang(typed, at))

    try:
        entered = room.desk.enter(deed)
    except BadInput as error:
        blame(typed, error)
        return _page(request, typed, status=422)
    return RedirectResponse(f"/piece/{quote(typed.text('tag') or '')}?done={entered.key}", 303)


def _hang(typed: Typed, at: Opened) -> Done:
    tag, finish = typed.needed("tag"), typed.needed("finish")
    coats = count_of(typed, "coats", usual=MOST_COATS)
    at_ms = past_ms(at, typed.text("at"))
    if typed.faults:
        raise Faulty("; ".join(typed.faults.values()))
    room = typed.text("room")
    new_piece = NewPiece(finish, at_ms, typed.text("title") or "", room, coats)
    profile = hang(at, [tag], new_piece)
    where = say("log.hung_where", room=room) if room else ""
    said = say("log.hung_said", tag=tag, where=where, finish=profile.title)
    said = said if profile.tried else f"{said} {say('piece.untried')}"
    return Done(said, (("piece", tag),))


def _page(request: Request, typed: Typed, *, status: int = 200) -> Response:
    room: Room = request.app.state.room
    moment, offered = room.ask(look)
    facts = {
        "offered": offered,
        "typed": typed.given,
        "faults": typed.faults,
        "new_key": new_key,
    }
    return room.render(request, "piece_new.html", facts, moment=moment, status=status)
