"""Bench work for other programs: pots, a piece's record, and logging a coat."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

from fastapi import APIRouter, Header, Path, Request
from fastapi.responses import JSONResponse, Response
from pydantic import BaseModel, ConfigDict, Field

from curewatch.entries import pots as entries
from curewatch.entries.coat_answer import Answer
from curewatch.entries.coats import LikelyTwice, log_coat
from curewatch.entries.times import past_ms, stored_already
from curewatch.errors import BadInput
from curewatch.records import record_of
from curewatch.records.plain import record_plain
from curewatch.shop.piece import Coat
from curewatch.shop.plain import FORMAT
from curewatch.web import api_shapes as shapes
from curewatch.web.api import PLACE, no_such
from curewatch.web.entering import opened
from curewatch.web.room import Room
from curewatch.web.speech import say
from curewatch.web.workroom import back_room

if TYPE_CHECKING:
    from curewatch.opened import Opened
    from curewatch.web.desk import Counter

router = APIRouter(prefix=PLACE)
Tag = Annotated[str, Path(min_length=1, max_length=64, description="what its label says")]
Name = Annotated[str, Path(min_length=1, max_length=64, description="what is written on it")]
Words = Annotated[str, Field(max_length=300)]
MOST_PASSES = 100
POT = shapes.thing(
    "A mixed pot.",
    pot=shapes.TEXT,
    finish=shapes.TEXT,
    lot=shapes.TEXT,
    mixed_at=shapes.INSTANT,
    room=shapes.maybe("string", "Where it stands."),
    open={"type": "boolean", "description": "Whether one may still mean to spray from it."},
    held=shapes.maybe("string", "Why it, or a lot in it, is set aside: do not spray from it."),
    over={"type": "boolean", "description": "Whether its life has ended at the early end."},
    life_h=shapes.maybe("number", "Its life at the reference climate; null: none is counted."),
    aged_h={"type": "number", "description": "Its age at the early end [h]."},
)
POTS = shapes.thing(
    "The pots whose life goes on; one that is held is not to be sprayed from.",
    format=shapes.FORMAT,
    pots=shapes.many(POT),
)
ONE_POT = shapes.thing(
    "A pot, what is wrong with its lots, and the pieces sprayed from it.",
    format=shapes.FORMAT,
    **POT["properties"],
    remarks=shapes.many(shapes.SENTENCE),
    pieces=shapes.many(shapes.thing("A piece.", piece=shapes.TEXT)),
)
RECORD = shapes.thing(
    "A piece's record for the customer: see record.schema.json.",
    format=shapes.FORMAT,
    site=shapes.TEXT,
    time_zone=shapes.TEXT,
    made_at=shapes.INSTANT,
    piece=shapes.TEXT,
    coats=shapes.many(shapes.thing("A coat.", number={"type": "integer"}, at=shapes.INSTANT)),
    stages=shapes.many(shapes.thing("Work or a finding.", what=shapes.TEXT, at=shapes.INSTANT)),
    entries=shapes.many(shapes.thing("An entry.", what=shapes.TEXT, at=shapes.INSTANT)),
    standing=shapes.PIECE,
)
LAID = shapes.thing(
    "The coat just logged, and how the piece stands now.",
    format=shapes.FORMAT,
    coats=shapes.many(
        shapes.thing(
            "A coat.",
            piece=shapes.TEXT,
            id={"type": "integer", "minimum": 1},
            coat={"type": "integer", "minimum": 1},
            at=shapes.INSTANT,
            stood=shapes.TEXT,
            now=shapes.PIECE,
        )
    ),
)
ASKED = "It may be a coat that is logged already; who means another says 'really'."


class NewCoat(BaseModel):
    """A coat as it was laid; everything may be left out."""

    model_config = ConfigDict(extra="forbid", strict=True)

    at: Annotated[str, Field(max_length=60)] | None = Field(
        None, description="When, as people or programs write it; else now."
    )
    wet_um: Annotated[float, Field(ge=15, le=2000)] | None = Field(
        None, description="Wet film of all passes [um]; else the finish's usual coat."
    )
    passes: int = Field(1, ge=1, le=MOST_PASSES, description="Passes of the gun.")
    pot: Words | None = Field(None, description="The pot it came from.")
    who: Words = Field("", description="Who laid it; else the visitor.")
    note: Words = Field("", description="In a person's words.")
    really: bool = Field(
        default=False, description="It is another coat, however soon after one logged already."
    )


@router.get(
    "/pots",
    responses=shapes.answers(POTS),
    response_class=JSONResponse,
    response_model=None,
)
def pots(request: Request) -> Response:
    """Tell the open pots and how long each lives, as 'pot list' does."""
    room: Room = request.app.state.room
    room.reader(request)
    with back_room(room) as (_, at):
        return JSONResponse(entries.open_plain(at))


@router.get(
    "/pots/{name}",
    responses=shapes.answers(ONE_POT),
    response_class=JSONResponse,
    response_model=None,
)
def one_pot(request: Request, name: Name) -> Response:
    """Tell one pot, as 'pot show' does."""
    room: Room = request.app.state.room
    room.reader(request)
    with back_room(room) as (_, at):
        try:
            pot = at.store.batches.get(name)
        except BadInput:
            raise no_such("pot", name, (one.name for one in at.store.batches.all())) from None
        return JSONResponse(entries.shown_plain(at, pot))


@router.get(
    "/pieces/{tag}/record",
    responses=shapes.answers(RECORD),
    response_class=JSONResponse,
    response_model=None,
)
def record(request: Request, tag: Tag) -> Response:
    """Tell a piece's record, also of one that left; as 'record' does."""
    room: Room = request.app.state.room
    room.reader(request)
    with back_room(room) as (_, at):
        _known(at, tag)
        return JSONResponse(record_plain(record_of(at, tag)))


@router.post(
    "/pieces/{tag}/coats",
    responses=shapes.answers(LAID, asked=ASKED),
    response_class=JSONResponse,
    response_model=None,
)
def lay(
    request: Request,
    tag: Tag,
    new: NewCoat,
    x_form_token: Annotated[str, Header(max_length=100, description="as /visitor tells it")] = "",
) -> Response:
    """Log a coat, as 'coat' does."""
    room: Room = request.app.state.room
    who = room.writer(request, x_form_token).who

    def enter(counter: Counter) -> tuple[str, int]:
        if not counter.clock_set:
            raise BadInput(say("frame.clock_not_set"))
        at = opened(counter)
        _known(at, tag)
        at_ms = past_ms(at, new.at, option="at")
        coat = Coat(at_ms, new.wet_um, new.passes, note=new.note, who=new.who or who)
        ((piece, number),) = log_coat(at, [tag], coat, pot=new.pot, really=new.really)
        return piece.tag, number

    try:
        laid, number = room.desk.enter(enter)
    except LikelyTwice as twice:
        asked = f"{' '.join(twice.asked)} Is this another one? Then send it with really: true."
        return JSONResponse({"error": asked}, 409)
    with stored_already(f"the coat on {laid}"), back_room(room) as (_, at):
        shop = at.shop([laid])
        answer = Answer(at, shop, shop.pieces[laid], number)
        return JSONResponse({"format": FORMAT, "coats": [answer.plain()]})


def _known(at: Opened, tag: str) -> None:
    """Refuse a piece that never was, with the nearest."""
    try:
        at.store.pieces.load(tag)
    except BadInput:
        known = (piece.tag for piece in at.store.pieces.load_all(left=True))
        raise no_such("piece", tag, known) from None
