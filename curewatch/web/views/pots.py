"""Mixed pots: those that stand, mixing one, and what became of one."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated
from urllib.parse import quote

from fastapi import APIRouter, Path, Query, Request
from fastapi.responses import RedirectResponse, Response

from curewatch.entries import pots as entries
from curewatch.entries.lots import lot_said
from curewatch.errors import BadInput
from curewatch.finish_plain import shelf_rows
from curewatch.shop.typed import HardlyMeant
from curewatch.web.api import no_such
from curewatch.web.entering import (
    Done,
    Sent,
    done_under,
    key_of,
    new_key,
    once,
    opened,
    shown_done,
    take_back,
)
from curewatch.web.forms import Typed
from curewatch.web.piece_entry import EARLIER_MIN, Entry, Faulty, stop_at_faults, when_ms
from curewatch.web.piece_ties import hold_it, release_it
from curewatch.web.plainly import without_commands
from curewatch.web.pot_facts import PotNow, pot_now, pots_now
from curewatch.web.room import Room
from curewatch.web.speech import say
from curewatch.web.workroom import back_room

if TYPE_CHECKING:
    from curewatch.opened import Opened
    from curewatch.shop.quarantine import Quarantine
    from curewatch.web.desk import Counter

router = APIRouter(include_in_schema=False)
Name = Annotated[str, Path(min_length=1, max_length=32)]
Key = Annotated[str, Query(max_length=120)]
FIELDS = (
    *("name", "finish", "lot", "room", "at", "who", "crosslinker_pct", "crosslinker_lot"),
    *("reducer_pct", "retarder_pct", "thinner", "tint", "note", "why"),
)


@dataclass(frozen=True, slots=True)
class Board:
    """What the view of all pots shows: to spray from, set aside, the others; what a form offers.

    `finishes` come with their title, those with a pot life and in use first; `name` is free for
    the next pot, `room` is where the last one stood.
    """

    standing: tuple[PotNow, ...]
    aside: tuple[PotNow, ...]
    over: tuple[PotNow, ...]
    finishes: tuple[tuple[str, str], ...]
    lots: tuple[str, ...]
    rooms: tuple[str, ...]
    name: str
    room: str
    done: Done | None


@dataclass(frozen=True, slots=True)
class OnePot:
    """What the view of one pot shows: how it stands, what was sprayed from it, what holds it."""

    now: PotNow
    pieces: tuple[tuple[str, int], ...]
    cautions: tuple[str, ...]
    holds: tuple[Quarantine, ...]
    done: Done | None


def look(counter: Counter, key: str) -> Board:
    """Gather the facts of all pots, in the daemon's thread."""
    found = pots_now(counter)
    used = {piece.finish for piece in counter.shop.pieces.values()}
    shelf = [(name, one) for name, one, _, _ in shelf_rows(counter.settings) if one]
    shelf.sort(key=lambda row: (row[1].pot_life_h is None, row[0] not in used, row[0]))
    stock = counter.store.stock.all()
    lots = dict.fromkeys(
        [one.pot.lot for one in found] + [s.lot for s in stock if s.part == "finish"]
    )
    last = next((one.pot.room for one in found if one.pot.room), None)
    return Board(
        standing=tuple(one for one in found if one.holds and one.held is None),
        aside=tuple(one for one in found if one.holds and one.held is not None),
        over=tuple(one for one in found if not one.holds),
        finishes=tuple((name, one.title) for name, one in shelf),
        lots=tuple(lots),
        rooms=tuple(counter.shop.rooms),
        name=entries.free_name(opened(counter)),
        room=last or next(iter(counter.shop.rooms), ""),
        done=shown_done(counter, key),
    )


def look_at(counter: Counter, name: str, key: str) -> OnePot:
    """Gather the facts of one pot, in the daemon's thread."""
    batches = counter.store.batches
    try:
        pot = batches.get(name)
    except BadInput:
        raise no_such("pot", name, (one.name for one in batches.all())) from None
    now = pot_now(counter, pot)
    names = {("batch", pot.name), ("lot", pot.lot), ("lot", pot.crosslinker_lot)}
    targets = {(what, target.casefold()) for what, target in names if target}
    return OnePot(
        now=now,
        pieces=batches.pieces_of(pot.name),
        cautions=(entries.NEVER_MORE, *entries.cautions(now.finish)),
        holds=tuple(
            hold
            for hold in counter.store.quarantines.standing()
            if (hold.what, hold.target.casefold()) in targets
        ),
        done=shown_done(counter, key),
    )


@router.get("/pots")
def pots(request: Request, done: Key = "") -> Response:
    """Show those of the last week, and the form for a new one."""
    room: Room = request.app.state.room
    room.reader(request)
    return _page(request, Typed(request.query_params), done=done)


@router.post("/pots")
def mix(request: Request, form: Sent) -> Response:
    """Enter a pot just mixed, and show it."""
    room: Room = request.app.state.room
    visitor = room.writer(request, str(form.get("token", "")))
    typed = Typed(form)

    def deed(counter: Counter) -> Done:
        entry = Entry(typed, (), visitor.who, counter)
        return once(counter, key_of(form), lambda at: _mix(entry, at))

    try:
        entered = room.desk.enter(deed)
    except BadInput as error:
        _blame(typed, error)
        return _page(request, typed, status=422)
    return RedirectResponse(f"{entered.to}?done={entered.key}", 303)


@router.get("/pot/{name}")
def pot(request: Request, name: Name, done: Key = "") -> Response:
    """Show one."""
    room: Room = request.app.state.room
    room.reader(request)
    return _one(request, name, done=done)


@router.post("/pot/{name}")
def enter(request: Request, name: Name, form: Sent) -> Response:
    """Enter what became of it, and show it again."""
    room: Room = request.app.state.room
    visitor = room.writer(request, str(form.get("token", "")))
    typed = Typed(form)

    def deed(counter: Counter) -> Done:
        entry = Entry(typed, (), visitor.who, counter)
        return once(counter, key_of(form), lambda at: _become(entry, at, name))

    try:
        entered = room.desk.enter(deed)
    except BadInput as error:
        _blame(typed, error)
        return _one(request, name, typed=typed, status=422)
    return RedirectResponse(f"{entered.to or f'/pot/{quote(name)}'}?done={entered.key}", 303)


def _mix(entry: Entry, at: Opened) -> Done:
    typed, at_ms = entry.typed, when_ms(entry, at)
    name, finish, lot = (typed.needed(field) for field in ("name", "finish", "lot"))
    shares = [typed.number(f"{part}_pct") for part in entries.PARTS]
    stop_at_faults(typed)
    new = entries.NewPot(
        name=name,
        finish=finish,
        lot=lot,
        at_ms=at_ms,
        room=typed.text("room"),
        crosslinker_pct=shares[0],
        reducer_pct=shares[1],
        retarder_pct=shares[2],
        crosslinker_lot=typed.text("crosslinker_lot") or "",
        thinner=typed.text("thinner") or "",
        tint=typed.text("tint") or "",
        note=typed.text("note") or "",
        who=entry.by,
        really=typed.really,
    )
    mixed, _ = entries.mix(at, new)
    said = entries.mixed_said(at.words, at.now_ms, mixed)
    return Done(
        say("pots.mixed_said", pot=mixed.name, mixed=said),
        (("pot", mixed.name),),
        to=f"/pot/{quote(mixed.name)}",
    )


def _become(entry: Entry, at: Opened, name: str) -> Done:
    """Enter that a pot is gone, was never mixed, or is set aside; or take such an entry back."""
    typed = entry.typed
    match typed.given.get("deed"):
        case "gone":
            at_ms = when_ms(entry, at)
            stop_at_faults(typed)
            found = entries.gone(at, name, at_ms)
            when = at.words.at(at_ms, at.now_ms)
            return Done(say("pots.gone_said", pot=found.name, at=when), (("gone", found.name),))
        case "void":
            why = typed.needed("why")
            stop_at_faults(typed)
            found, pieces = entries.void_pot(at, name, why)
            untold = say("pots.void_pieces", tags=", ".join(pieces)) if pieces else ""
            said = say("pots.void_said", pot=found.name, why=why, pieces=untold)
            return Done(said.strip(), to="/pots")
        case "hold":
            what, _, target = (typed.text("target") or f"batch {name}").partition(" ")
            return hold_it(entry, at, what, target)
        case "release":
            return release_it(entry, at)
        case "undo":
            done = done_under(entry.counter, typed.text("of") or "")
            if done is None:
                raise BadInput(say("log.nothing_to_undo"))
            return take_back(at, done, entry.who)
        case _:
            raise BadInput(say("log.what"))


def _blame(typed: Typed, error: BadInput) -> None:
    if not isinstance(error, Faulty):
        plain = without_commands(str(error))
        kind = HardlyMeant if isinstance(error, HardlyMeant) else BadInput
        typed.blame(kind(plain), FIELDS, section="pots")


def _page(request: Request, typed: Typed, *, done: str = "", status: int = 200) -> Response:
    room: Room = request.app.state.room
    moment, board = room.ask(lambda counter: look(counter, done))
    facts = {
        "board": board,
        "typed": typed.given,
        "faults": typed.faults,
        "new_key": new_key,
        "earlier": EARLIER_MIN,
    }
    return room.render(request, "pots.html", facts, moment=moment, status=status)


def _one(
    request: Request,
    name: str,
    *,
    done: str = "",
    typed: Typed | None = None,
    status: int = 200,
) -> Response:
    room: Room = request.app.state.room
    moment, found = room.ask(lambda counter: look_at(counter, name, done))
    with back_room(room) as (_, at):  # the record of the rooms its lot stood in
        remarks = lot_said(at, found.now.pot)
    facts = {
        "found": found,
        "pot": found.now.pot,
        "remarks": remarks,
        "typed": {} if typed is None else typed.given,
        "faults": {} if typed is None else typed.faults,
        "form": "" if typed is None else typed.given.get("deed"),
        "new_key": new_key,
        "earlier": EARLIER_MIN,
    }
    return room.render(request, "pot.html", facts, moment=moment, status=status)
