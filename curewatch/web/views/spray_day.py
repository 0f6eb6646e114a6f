"""Spray day: a day at the gun, a date worked back from, and what another climate would change."""

from __future__ import annotations

from collections import Counter as Counts
from dataclasses import dataclass
from typing import TYPE_CHECKING

from fastapi import APIRouter, Request
from fastapi.responses import Response

from curewatch.errors import BadInput
from curewatch.finish_plain import shelf_rows
from curewatch.planning import DEFAULT_COAT_MIN, ChangeWish, Known, PlanWish, planned
from curewatch.planning.asks import MOST_COATS, deadline_of, worked_back
from curewatch.planning.calendar import calendar_bytes
from curewatch.planning.said import (
    COLUMNS,
    coat_row,
    evening_said,
    finish_by_said,
    finish_by_warnings,
    plan_led,
    plan_warnings,
    pots_said,
)
from curewatch.planning.what_if import changed, check_change, in_room
from curewatch.planning.what_if_said import ends_said, source_said
from curewatch.science.evaporation import AIR_SPEED_M_S
from curewatch.shop.clocks_ahead import LEVELS
from curewatch.shop.day_plan import plan
from curewatch.shop.finish import ClockName, DryingLaw
from curewatch.shop.finish_by import GOALS
from curewatch.shop.reading import Standing
from curewatch.shop.safety import SAFETY
from curewatch.shop.what_if_cautions import Kind
from curewatch.shop.what_if_words import JOB, air_words, gain_sentence, sentence, speed_sentence
from curewatch.web.forms import Typed, in_page_words
from curewatch.web.room import Moment, Room
from curewatch.web.speech import say
from curewatch.web.views.spray_drawing import plan_drawing
from curewatch.web.workroom import back_room

if TYPE_CHECKING:
    from collections.abc import Callable

    from curewatch.opened import Opened
    from curewatch.shop.day_plan import Ask, DayPlan
    from curewatch.web.desk import Counter
    from curewatch.web.draw.svg import Svg
    from curewatch.web.speech import Speech

router = APIRouter(include_in_schema=False)
PLACE = "/spray-day"
FIELDS = (*PlanWish.__dataclass_fields__, "date", "spare_days", "goal")
CHANGES = ("climate", "cabinet", "heater", "fan")


@dataclass(frozen=True, slots=True)
class OnHook:
    """A piece that may be planned for."""

    tag: str
    title: str
    finish: str
    coats: int
    room: str


@dataclass(frozen=True, slots=True)
class Hall:
    """What the forms offer: finishes, those in use first, rooms, and the pieces that hang."""

    finishes: tuple[tuple[str, str], ...]
    rooms: tuple[str, ...]
    pieces: tuple[OnHook, ...]


@dataclass(frozen=True, slots=True)
class Answer:
    """What an answer shows: sentences, a table with its drawing, warnings, what it rests on."""

    kind: str
    said: tuple[str, ...]
    warnings: tuple[str, ...] = ()
    basis: tuple[str, ...] = ()
    columns: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    drawing: Svg | None = None


def look(counter: Counter) -> Hall:
    """Gather what the forms offer, in the daemon's thread."""
    shop, now_ms = counter.shop, counter.now_ms
    here = [p for p in shop.pieces.values() if p.left_ms is None or p.left_ms > now_ms]
    pieces = [
        OnHook(p.tag, p.title, p.finish, len(p.coats_until(now_ms)), p.room_at(now_ms) or "")
        for p in here
        if p.tag not in shop.held
    ]
    used = Counts(piece.finish for piece in here)
    rows = [(name, found.title) for name, found, _, _ in shelf_rows(counter.settings) if found]
    rows.sort(key=lambda row: (-used[row[0]], row[0]))
    return Hall(tuple(rows), tuple(shop.rooms), tuple(pieces))


@router.get(PLACE)
def spray_day(request: Request) -> Response:
    """Show the forms, and the answer to what was asked."""
    room: Room = request.app.state.room
    room.reader(request)
    typed = Typed(request.query_params)
    asked = typed.text("ask")
    _, hall = room.ask(look)
    moment, answer = _answered(room, typed, asked)
    facts = {
        "hall": hall,
        "given": request.query_params,
        "chosen": () if asked == "what-if" else typed.many("piece"),
        "faults": typed.faults,
        "asked": asked,
        "answer": answer,
        "levels": LEVELS,
        "goals": tuple(GOALS),
        "airs": tuple(AIR_SPEED_M_S),
        "most_coats": MOST_COATS,
        "coat_min": f"{DEFAULT_COAT_MIN:g}",
        "query": str(request.url.query),
        "safety": SAFETY,
    }
    return room.render(
        request, "spray_day.html", facts, moment=moment, status=422 if typed.faults else 200
    )


@router.get(f"{PLACE}.ics")
def calendar(request: Request) -> Response:
    """Hand out the plan as a calendar."""
    room: Room = request.app.state.room
    room.reader(request)
    typed = Typed(request.query_params)
    wish = plan_wish(typed)
    if typed.faults:
        raise BadInput("; ".join(typed.faults.values()))
    with back_room(room) as (_, opened):
        known, ask = planned(wish, room.settings, opened)
        found = plan(known.hooks, ask)
        if not found.coats:
            raise BadInput(say("spray.no_calendar"))
        text = calendar_bytes(found, known)
    headers = {"Content-Disposition": f'attachment; filename="spray-day-{known.finish.name}.ics"'}
    return Response(text, media_type="text/calendar; charset=utf-8", headers=headers)


def _answered(room: Room, typed: Typed, asked: str | None) -> tuple[Moment | None, Answer | None]:
    """Answer what was asked; what cannot be meant becomes a fault at its field."""
    answers: dict[str | None, Callable[[Typed, Opened, Speech], Answer | None]] = {
        "plan": _plan,
        "finish-by": _finish_by,
        "what-if": _what_if,
    }
    if asked not in answers:
        return None, None
    with back_room(room) as (moment, opened):
        try:
            return moment, answers[asked](typed, opened, room.speech(moment.now_ms))
        except BadInput as error:
            section = "spray" if asked != "what-if" else "what_if"
            fields = FIELDS if asked != "what-if" else tuple(ChangeWish.__dataclass_fields__)
            typed.blame(error, fields, section=section)
            return moment, None


def plan_wish(typed: Typed) -> PlanWish:
    """Read a plan's form; faults are kept in `typed`."""
    opens, closes = typed.text("opens"), typed.text("closes")
    if (opens is None) != (closes is None):
        typed.faults["day"] = say("spray.both_hours")
    coats, minutes = typed.whole("coats"), typed.number("coat_min")
    sure = typed.text("sure")
    if sure is not None and sure not in map(str, LEVELS):
        typed.faults["sure"] = say("spray.which_sure")
    air = typed.text("air")
    if air is not None and air not in AIR_SPEED_M_S:
        typed.faults["air"] = say("spray.which_air")
    return PlanWish(
        finish=typed.needed("finish"),
        coats=1 if coats is None else coats,
        pieces=",".join(typed.many("piece")) or None,
        room=typed.text("room"),
        temp_c=typed.number("temp_c"),
        rh_pct=typed.number("rh_pct"),
        air=air,
        start=typed.text("start"),
        day="always"
        if typed.text("always") is not None
        else None
        if opens is None or closes is None
        else f"{opens}-{closes}",
        coat_min=DEFAULT_COAT_MIN if minutes is None else minutes,
        clean_min=typed.number("clean_min") or 0.0,
        wet_um=typed.number("wet_um"),
        per_day=typed.whole("per_day"),
        scuff=typed.text("scuff") is not None,
        unfit_too=typed.text("unfit_too") is not None,
        sure=LEVELS[-1] if sure is None or "sure" in typed.faults else int(sure),
    )


def _plan(typed: Typed, opened: Opened, speech: Speech) -> Answer | None:
    wish = plan_wish(typed)
    if typed.faults:
        return None
    known, ask = planned(wish, opened.settings, opened)
    found = plan(known.hooks, ask)
    return Answer(
        "plan",
        (*plan_led(found, known, ask), *pots_said(found, ask), *evening_said(found, ask)),
        _in_words(plan_warnings(found, known)),
        (known.basis, known.doubt),
        *_coats(found, known, ask=ask, speech=speech),
    )


def _finish_by(typed: Typed, opened: Opened, speech: Speech) -> Answer | None:
    wish, date = plan_wish(typed), typed.needed("date")
    goal = typed.text("goal") or "buff"
    spare_days = typed.number("spare_days") or 0.0
    if goal not in GOALS:
        typed.faults["goal"] = say("spray.which_goal")
    if typed.faults:
        return None
    known, ask = planned(wish, opened.settings, opened)
    deadline = deadline_of(date, goal, spare_days, known=known, ask=ask)
    found = worked_back(known, ask, deadline)
    return Answer(
        "finish-by",
        _in_words(finish_by_said(found, deadline, goal, known=known, ask=ask)),
        _in_words(finish_by_warnings(found, known)),
        (known.basis, known.doubt),
        *_coats(found.plan, known, ask=ask, speech=speech),
    )


def _coats(
    found: DayPlan, known: Known, *, ask: Ask, speech: Speech
) -> tuple[tuple[str, ...], tuple[tuple[str, ...], ...], Svg | None]:
    if not found.coats:
        return (), (), None
    rows = tuple(coat_row(coat, ask) for coat in found.coats)
    return COLUMNS, rows, plan_drawing(found, known, ask, speech)


def _what_if(typed: Typed, opened: Opened, _speech: Speech) -> Answer | None:
    wish = change_wish(typed)
    if typed.faults:
        return None
    check_change(wish)
    scene = in_room(wish, opened)
    answer = changed(wish, scene)
    words, now_ms = opened.words, opened.now_ms
    said = [_cap(sentence(answer))]
    other = ClockName.CURE if answer.kind is Kind.FAN else ClockName.DRYING
    if answer.finish.drying.law is not DryingLaw.CURE and answer.finish.cure is not None:
        said.append(speed_sentence(answer, other))
    said += [f"{_cap(gain_sentence(gain))}." for gain in answer.gains]
    basis = [
        say(
            "what_if.air",
            air=air_words(answer.before, words),
            source=source_said(answer, words, now_ms),
        )
    ]
    if answer.kind is not Kind.FAN:
        basis.append(say("what_if.then", air=air_words(answer.after, words)))
    rows = tuple(
        (
            _cap(JOB[gain.name]),
            ends_said(gain.as_it_is, words, now_ms),
            ends_said(gain.then, words, now_ms),
        )
        for gain in answer.gains
    )
    marked = [
        c.text + (say("what_if.practice") if c.standing is Standing.COMMON_PRACTICE else "")
        for c in answer.cautions
    ]
    columns = tuple(say(f"what_if.{name}") for name in ("job", "as_it_is", "so")) if rows else ()
    return Answer("what-if", tuple(said), tuple(marked), tuple(basis), columns, rows)


def change_wish(typed: Typed) -> ChangeWish:
    """Read a what-if's form: of the fields only those of the change that was chosen count."""
    change = typed.text("change")
    if change not in CHANGES:
        typed.faults["change"] = say("what_if.which")
    heated = change == "heater"
    opens, closes = (typed.text(name) for name in ("on_from", "on_to"))
    room, piece = typed.text("room"), typed.text("piece")
    if room is None and piece is None:
        typed.faults["room"] = say("what_if.where")
    return ChangeWish(
        room=None if piece is not None else room,
        piece=piece,
        finish=None if piece is not None else typed.needed("finish"),
        temp_c=typed.number("temp_c") if change == "climate" else None,
        rh_pct=typed.number("rh_pct") if change == "climate" else None,
        cabinet_c=_needed_number(typed, "cabinet_c") if change == "cabinet" else None,
        heater=_needed_number(typed, "heater") if heated else None,
        hours=f"{opens or '0:00'}-{closes or '24:00'}" if heated else None,
        fan=True if change == "fan" else None,
    )


def _needed_number(typed: Typed, name: str) -> float | None:
    typed.needed(name)
    return typed.number(name)


def _in_words(lines: list[str]) -> tuple[str, ...]:
    return tuple(in_page_words(line, "spray") for line in lines)


def _cap(text: str) -> str:
    return text[:1].upper() + text[1:]
