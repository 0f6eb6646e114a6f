"""A piece: its verdict, what can be logged in two taps, its build, its clocks, its history."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated
from urllib.parse import quote

from fastapi import APIRouter, Path, Request
from fastapi.responses import RedirectResponse, Response

from curewatch.entries.outcomes import FINDINGS
from curewatch.errors import BadInput
from curewatch.shop.finish import ClockName
from curewatch.shop.piece import WorkKind
from curewatch.shop.plain import piece_plain
from curewatch.shop.sink import NO_FILM_MODEL
from curewatch.shop.sources import sources
from curewatch.shop.standing_said import doubt_sentence, window_sentence
from curewatch.web.entering import Sent, key_of, new_key, once
from curewatch.web.forms import Typed
from curewatch.web.piece_deeds import FIELDS, AskedTwice, Unready, carry_out
from curewatch.web.piece_entry import EARLIER_MIN, Entry, Faulty
from curewatch.web.piece_facts import PieceFacts, gather
from curewatch.web.piece_said import (
    build_said,
    draw_build,
    draw_climate,
    draw_ladder,
    history,
    steps,
)
from curewatch.web.plainly import without_commands
from curewatch.web.room import Room
from curewatch.web.speech import Speech

if TYPE_CHECKING:
    from curewatch.web.desk import Counter
    from curewatch.web.entering import Done

router = APIRouter(include_in_schema=False)
Tag = Annotated[str, Path(min_length=1, max_length=32)]


@router.get("/piece/{tag}")
def piece(request: Request, tag: Tag, done: str = "") -> Response:
    """Show it."""
    room: Room = request.app.state.room
    room.reader(request)
    return _page(request, tag, done=done)


@router.post("/piece/{tag}")
def log(request: Request, tag: Tag, form: Sent) -> Response:
    """Enter what the pressed button says, and show the piece with what was entered."""
    room: Room = request.app.state.room
    visitor = room.writer(request, str(form.get("token", "")))
    typed = Typed(form)

    def deed(counter: Counter) -> Done:
        entry = Entry(typed, (tag,), visitor.who, counter)
        return once(counter, key_of(form), lambda at: carry_out(entry, at))

    try:
        entered = room.desk.enter(deed)
    except (Unready, AskedTwice) as question:
        return _page(request, tag, typed=typed, question=question, status=409)
    except BadInput as error:
        blame(typed, error)
        return _page(request, tag, typed=typed, status=422)
    return RedirectResponse(f"{entered.to or f'/piece/{quote(tag)}'}?done={entered.key}", 303)


def blame(typed: Typed, error: BadInput) -> None:
    """Put an error where it belongs: at its field, else above the form."""
    if not isinstance(error, Faulty):
        typed.blame(BadInput(without_commands(str(error))), FIELDS, section="log")


def form_opened(typed: Typed | None) -> str:
    """Return which form was sent, so that it stands open with what was typed."""
    if typed is None:
        return ""
    for button, form in (("kind", "work"), ("to", "move"), ("finding", "outcome")):
        if typed.given.get(button) or typed.given.get("form") == form:
            return form
    deed = typed.given.get("deed")
    return deed if isinstance(deed, str) else ""


def _page(
    request: Request,
    tag: str,
    *,
    done: str = "",
    typed: Typed | None = None,
    question: Unready | AskedTwice | None = None,
    status: int = 200,
) -> Response:
    room: Room = request.app.state.room
    moment, found = room.ask(lambda counter: gather(counter, tag, done))
    speech = Speech(
        room.settings.words(), moment.now_ms, twelve_hours=room.settings.page.clock == "12"
    )
    facts = {
        "found": found,
        "piece": found.piece,
        "finish": found.finish,
        "now": found.now,
        "typed": {} if typed is None else typed.given,
        "faults": {} if typed is None else typed.faults,
        "form": form_opened(typed),
        "unready": question if isinstance(question, Unready) else None,
        "twice": question if isinstance(question, AskedTwice) else None,
        "new_key": new_key,
        "earlier": EARLIER_MIN,
        "kinds": tuple(WorkKind),
        "means": FINDINGS,
        "history": history(found.history, speech),
        "usual_wet": speech.film(found.finish.drying.wet_film_um.value),
        "zone": str(room.settings.words().zone),
        **_standing(found, speech),
    }
    return room.render(request, "piece.html", facts, moment=moment, status=status)


def _standing(found: PieceFacts, speech: Speech) -> dict[str, object]:
    """Return how the piece stands in words and drawings; nothing of one that left."""
    now = found.now
    if now is None or now.last_coat_at is None:
        return {
            "ladder": None,
            "build": None,
            "climate": (),
            "steps": (),
            "doubts": (),
            "sources": (),
        }
    return {
        "ladder": draw_ladder(now, speech),
        "steps": steps(now, speech),
        "window": "" if now.coating_done else window_sentence(now, speech.words, speech.now_ms),
        "doubts": [
            doubt_sentence(name, clock)
            for name, clock in now.clocks.items()
            if name is not ClockName.WALL
        ],
        "build": None if found.layers is None else draw_build(found.layers, now.tag, speech),
        "build_said": "" if found.layers is None else build_said(found.layers, speech),
        "sink": NO_FILM_MODEL if now.sink_back is None else now.sink_back.sentence,
        "climate": (
            ()
            if found.climate is None
            else draw_climate(found.climate, found.piece.coats, now.tag, speech)
        ),
        "sources": sources(piece_plain(now)),
    }
