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
from curewatch.planning.known import NO_TAG
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
from curewatch.planning.what_if_said import FEWER, ends_said, source_said, stack_said
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
from curewatch.web.pot_facts import aside_pots, standing_pots
from curewatch.web.room import Moment, Room
from curewatch.web.speech import say
from curewatch.web.views.spray_drawing import plan_drawing
from curewatch.web.workroom import back_room

if TYPE_CHECKING:
    from collections.abc import Callable

    from curewatch.opened import Opened
    from curewatch.shop.day_plan import Ask, DayPlan
    from curewatch.shop.what_if_words import WhatIf
    from curewatch.web.desk import Counter
    from curewatch.web.draw.svg import Svg
    from curewatch.web.speech import Speech

router = APIRouter(include_in_schema=False)
PLACE = "/spray-day"
PIECE = COLUMNS.index("piece")
FIELDS = (*PlanWish.__dataclass_fields__, "date", "spare_days", "goal")
CHANGES = ("climate", "cabinet", "heater", "fan", "lamp", "other_finish", "fewer_coats")
STACKS = ("other_finish", "fewer_coats")
NOT_MOVED = (Kind.FAN, Kind.OTHER_FINISH, Kind.FEWER_COATS)  # the air stays as it is


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
    """What an answer shows: sentences, a table with its drawing, warnings, what it rests on.

    `unfit`: whether the drawing holds a start that is crossed out.
    """

    kind: str
    said: tuple[str, ...]
    warnings: tuple[str, ...] = ()
    basis: tuple[str, ...] = ()
    columns: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    drawing: Svg | None = None
    unfit: bool = False


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
        "changes": CHANGES,
        "imperial": room.settings.words().imperial,
        "query": str(request.url.query),
        "safety": SAFETY,
        "standing": room.desk.ask(standing_pots),
        "aside": room.desk.ask(aside_pots),
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
    wish = plan_wish(typed, imperial=room.settings.words().imperial)
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


def plan_wish(typed: Typed, *, imperial: bool = False) -> PlanWish:
    """Read a plan's form, typed in the shop's units; faults are kept in `typed`."""
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
        really=typed.really,
        finish=typed.needed("finish"),
        coats=1 if coats is None else coats,
        pieces=",".join(typed.many("piece")) or None,
        room=typed.text("room"),
        temp_c=typed.temp_c("temp_c", imperial=imperial),
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
        wet_um=typed.film_um("wet_um", imperial=imperial),
        per_day=typed.whole("per_day"),
        scuff=typed.text("scuff") is not None,
        unfit_too=typed.text("unfit_too") is not None,
        sure=LEVELS[-1] if sure is None or "sure" in typed.faults else int(sure),
    )


def _plan(typed: Typed, opened: Opened, speech: Speech) -> Answer | None:
    wish = plan_wish(typed, imperial=speech.words.imperial)
    if typed.faults:
        return None
    known, ask = planned(wish, opened.settings, opened)
    found = plan(known.hooks, ask)
    return Answer(
        "plan",
        (*plan_led(found, known, ask), *pots_said(found, ask), *evening_said(found, ask)),
        _warned(plan_warnings(found, known), known),
        (known.basis, known.doubt),
        *_coats(found, known, ask=ask, speech=speech),
        unfit=found.unfit > 0,
    )


def _finish_by(typed: Typed, opened: Opened, speech: Speech) -> Answer | None:
    wish, date = plan_wish(typed, imperial=speech.words.imperial), typed.needed("date")
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
        _warned(finish_by_warnings(found, known), known),
        (known.basis, known.doubt),
        *_coats(found.plan, known, ask=ask, speech=speech),
        unfit=found.plan.unfit > 0,
    )


def _coats(
    found: DayPlan, known: Known, *, ask: Ask, speech: Speech
) -> tuple[tuple[str, ...], tuple[tuple[str, ...], ...], Svg | None]:
    if not found.coats:
        return (), (), None
    rows = tuple(coat_row(coat, ask) for coat in found.coats)
    if _nameless(known):
        rows = tuple(row[:PIECE] + row[PIECE + 1 :] for row in rows)
        return COLUMNS[:PIECE] + COLUMNS[PIECE + 1 :], rows, plan_drawing(found, known, ask, speech)
    return COLUMNS, rows, plan_drawing(found, known, ask, speech)


def _nameless(known: Known) -> bool:
    """Whether the plan is for a piece of no name."""
    return [hook.tag for hook in known.hooks] == [NO_TAG]


def _what_if(typed: Typed, opened: Opened, speech: Speech) -> Answer | None:
    wish = change_wish(typed, imperial=speech.words.imperial)
    if typed.faults:
        return None
    check_change(wish)
    scene = in_room(wish, opened)
    answer = changed(wish, scene)
    words, now_ms = opened.words, opened.now_ms
    said = [_cap(sentence(answer))]
    other = ClockName.CURE if answer.kind is Kind.FAN else ClockName.DRYING
    told = answer.finish.drying.law is not DryingLaw.CURE and answer.finish.cure is not None
    if told and not answer.stacks and answer.kind is not Kind.LAMP:
        said.append(speed_sentence(answer, other))
    said += [f"{_cap(gain_sentence(gain))}." for gain in answer.gains]
    if answer.kind is Kind.FEWER_COATS:
        said.append(FEWER)
    basis = [
        say(
            "what_if.air",
            air=air_words(answer.before, words),
            source=source_said(answer, words, now_ms),
        )
    ]
    if answer.kind not in NOT_MOVED:
        basis.append(say("what_if.then", air=air_words(answer.after, words)))
    if answer.stacks:
        rows = tuple(
            (_cap(JOB[stack.name]), stack_said(stack.as_it_is), stack_said(stack.then))
            for stack in answer.stacks
        )
        heads = ("stack_job", "stack", "so")
        columns = tuple(say(f"what_if.{name}") for name in heads)
        return Answer("what-if", tuple(said), _marked(answer), tuple(basis), columns, rows)
    rows = tuple(
        (
            _cap(JOB[gain.name]),
            ends_said(gain.as_it_is, words, now_ms),
            ends_said(gain.then, words, now_ms),
        )
        for gain in answer.gains
    )
    columns = tuple(say(f"what_if.{name}") for name in ("job", "as_it_is", "so")) if rows else ()
    return Answer("what-if", tuple(said), _marked(answer), tuple(basis), columns, rows)


def _marked(answer: WhatIf) -> tuple[str, ...]:
    """Return its cautions, each marked where it is common practice."""
    return tuple(
        c.text + (say("what_if.practice") if c.standing is Standing.COMMON_PRACTICE else "")
        for c in answer.cautions
    )


def change_wish(typed: Typed, *, imperial: bool = False) -> ChangeWish:
    """Read a what-if's form: of the fields only those of the change that was chosen count."""
    change = typed.text("change")
    if change not in CHANGES:
        typed.faults["change"] = say("what_if.which")
    heated = change == "heater"
    opens, closes = (typed.text(name) for name in ("on_from", "on_to"))
    room, piece = typed.text("room"), typed.text("piece")
    if room is None and piece is None:
        typed.faults["room"] = say("what_if.where")
    if change == "other_finish" and piece is not None:
        typed.faults["other_finish"] = say("what_if.piece_keeps")
    if change in STACKS and piece is None:
        typed.needed("coats")

    def needed_c(name: str) -> float | None:
        typed.needed(name)
        return typed.temp_c(name, imperial=imperial)

    return ChangeWish(
        really=typed.really,
        room=None if piece is not None else room,
        piece=piece,
        finish=None if piece is not None else typed.needed("finish"),
        temp_c=typed.temp_c("temp_c", imperial=imperial) if change == "climate" else None,
        rh_pct=typed.number("rh_pct") if change == "climate" else None,
        cabinet_c=needed_c("cabinet_c") if change == "cabinet" else None,
        heater=needed_c("heater") if heated else None,
        hours=f"{opens or '0:00'}-{closes or '24:00'}" if heated else None,
        fan=True if change == "fan" else None,
        lamp=True if change == "lamp" else None,
        coats=typed.whole("coats") if change in STACKS else None,
        other_finish=typed.needed("other_finish") if change == "other_finish" else None,
        fewer_coats=_needed_whole(typed, "fewer_coats") if change == "fewer_coats" else None,
    )


def _needed_whole(typed: Typed, name: str) -> int | None:
    typed.needed(name)
    return typed.whole(name)


def _warned(lines: list[str], known: Known) -> tuple[str, ...]:
    if _nameless(known):
        lines = [_cap(line.removeprefix(f"{NO_TAG}, ")) for line in lines]
    return _in_words(lines)


def _in_words(lines: list[str]) -> tuple[str, ...]:
    return tuple(in_page_words(line, "spray") for line in lines)


def _cap(text: str) -> str:
    return text[:1].upper() + text[1:]
