"""Test boards: trials, their comparisons, how a trial is done, and entering what was found."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Annotated
from urllib.parse import quote

from fastapi import APIRouter, Form, Path, Request
from fastapi.responses import RedirectResponse, Response
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData

from curewatch.boards import (
    COLUMNS,
    NO_WINNER,
    UNUSED_COLUMNS,
    cell_said,
    compared,
    measure_said,
    read_score,
    retained_said,
    unused_said,
)
from curewatch.errors import BadInput
from curewatch.shop.trial import ANGLES_DEG, GLOSS_UNITS, OWN_SCALE, PENCIL, RUBS, Quality, Scale
from curewatch.shop.trial_comparison import warnings
from curewatch.shop.trial_sheets import BOARDS, SAFETY, SHEETS
from curewatch.shop.words import span
from curewatch.web.api import no_such
from curewatch.web.forms import Typed, in_page_words
from curewatch.web.room import Room
from curewatch.web.speech import say
from curewatch.web.workroom import back_room

if TYPE_CHECKING:
    from collections.abc import Callable

    from curewatch.opened import Opened
    from curewatch.shop.trial import Trial
    from curewatch.shop.trial_comparison import Comparison
    from curewatch.shop.trial_sheets import Sheet
    from curewatch.web.desk import Counter

router = APIRouter(include_in_schema=False)
_GLOSS = re.compile(r"--unit GU --angle (\d+)")
PLACE = "/test-boards"
Token = Annotated[str, Form(max_length=100)]
Name = Annotated[str, Path(max_length=32)]
NOTHING = FormData()
UNITS = (
    OWN_SCALE,
    *(f"{GLOSS_UNITS} {angle:.0f}" for angle in ANGLES_DEG),
    PENCIL,
    RUBS,
)


@router.get(PLACE)
def trials(request: Request) -> Response:
    """Show the trials there are, and how a trial is done."""
    room: Room = request.app.state.room
    room.reader(request)
    return _trials(request, Typed(NOTHING))


def _trials(request: Request, typed: Typed) -> Response:
    room: Room = request.app.state.room
    moment, found = room.ask(lambda counter: counter.store.trials.all())
    sheets = [(str(each), SHEETS[each], steps_said(SHEETS[each])) for each in Quality]
    facts = {
        "trials": found,
        "sheets": sheets,
        "boards": BOARDS,
        "safety": SAFETY,
        "given": typed.given,
        "faults": typed.faults,
    }
    status = 422 if typed.faults else 200
    return room.render(request, "test_boards.html", facts, moment=moment, status=status)


def steps_said(sheet: Sheet) -> list[str]:
    """Say a sheet's steps with the page's fields in place of a command's options."""
    return [in_page_words(_GLOSS.sub(_gloss_said, step), "boards") for step in sheet.steps]


def _gloss_said(found: re.Match[str]) -> str:
    return f"'{say('boards.unit')}' {say('boards.unit_gloss', angle=found[1])}"


@router.post(f"{PLACE}/start")
async def start(request: Request) -> Response:
    """Begin a trial."""
    typed = Typed(await request.form())
    return await _in_thread(_start, request, typed)


def _start(request: Request, typed: Typed) -> Response:
    room: Room = request.app.state.room
    room.writer(request, typed.text("token") or "")
    name, question = typed.needed("name"), typed.needed("question")

    def begin(counter: Counter) -> None:
        counter.store.trials.start(name, question, counter.entered_ms)

    if _done(room, typed, begin, {"trial": "name"}):
        return RedirectResponse(f"{PLACE}/{quote(name)}", 303)
    return _trials(request, typed)


@router.get(PLACE + "/{name}")
def trial(request: Request, name: Name) -> Response:
    """Show one trial: its boards compared, its scores, and the forms."""
    room: Room = request.app.state.room
    room.reader(request)
    return _trial(request, name, Typed(NOTHING))


def _trial(request: Request, name: str, typed: Typed) -> Response:
    room: Room = request.app.state.room
    with back_room(room) as (moment, opened):
        here = {one.name: one for one in opened.store.trials.all()}
        if name not in here:
            raise no_such("trial", name, here)
        facts = _facts(opened, here[name])
    facts |= {
        "given": typed.given,
        "faults": typed.faults,
        "stored": request.query_params.get("stored", ""),
        "units": UNITS,
        "qualities": [str(quality) for quality in Quality],
    }
    status = 422 if typed.faults else 200
    return room.render(request, "trial.html", facts, moment=moment, status=status)


def _facts(opened: Opened, shown: Trial) -> dict[str, object]:
    found, finishes = compared(opened, shown)
    scores = [(tag, score) for tag in shown.boards for score in opened.store.trials.scores(tag)]
    hanging = opened.store.pieces.load_all()
    return {
        "trial": shown,
        "finishes": finishes,
        "measures": [_measure(one, finishes, opened) for one in found],
        "columns": COLUMNS,
        "unused_columns": UNUSED_COLUMNS,
        "no_winner": NO_WINNER,
        "scores": sorted(scores, key=lambda row: -row[1].at_ms),
        "others": [(piece.tag, piece.title) for piece in hanging if piece.tag not in shown.boards],
    }


def _measure(found: Comparison, finishes: dict[str, str], opened: Opened) -> dict[str, object]:
    words, now_ms = opened.words, opened.now_ms
    return {
        "title": measure_said(found),
        "rows": [
            {
                "age": say("boards.age", age=span(row.age_h)),
                "cells": [cell_said(cell, found, words) for cell in row.cells],
                "sentence": row.sentence,
            }
            for row in found.rows
        ],
        "unused": [unused_said(one, found, words, now_ms) for one in found.unused],
        "retained": [retained_said(one) for one in found.retained],
        "warnings": warnings(found, finishes),
    }


@router.post(PLACE + "/{name}/score")
async def score(request: Request, name: Name) -> Response:
    """Enter what was found on a board."""
    typed = Typed(await request.form())
    return await _in_thread(lambda r, t: _score(r, name, t), request, typed)


def _score(request: Request, name: str, typed: Typed) -> Response:
    room: Room = request.app.state.room
    visitor = room.writer(request, typed.text("token") or "")
    tag, value = typed.needed("tag"), typed.needed("value")
    quality, unit = typed.text("quality"), typed.text("unit") or ""
    if quality not in list(Quality):
        typed.faults["quality"] = say("boards.which_quality")
    if unit not in UNITS:
        typed.faults["unit"] = say("boards.which_unit")
    unit_word, _, angle = unit.partition(" ")
    how, who = typed.text("how") or "", typed.text("who") or visitor.who
    entry: list[int] = []

    def write(counter: Counter) -> None:
        found = read_score(
            Quality(quality or ""),
            value,
            unit=unit_word or None,
            angle_deg=float(angle) if angle else None,
            at_ms=counter.now_ms,
            how=how,
            who=who,
        )
        entry.append(counter.store.trials.score(tag, found, counter.entered_ms))

    at = {"board": "tag", "unit": "unit", "angle": "unit"}
    if _done(room, typed, write, at, otherwise="value"):
        return RedirectResponse(f"{PLACE}/{quote(name)}?stored={entry[0]}#scores", 303)
    return _trial(request, name, typed)


@router.post(PLACE + "/{name}/void")
def void(
    request: Request,
    name: Name,
    token: Token,
    number: Annotated[int, Form(ge=1, le=2**63 - 1)],
    why: Annotated[str, Form(max_length=300)] = "",
) -> Response:
    """Take a score back: it stays in the record and counts no more."""
    room: Room = request.app.state.room
    room.writer(request, token)
    reason = why.strip() or say("boards.undone")
    room.desk.enter(lambda c: c.store.trials.void_score(number, reason, c.entered_ms))
    return RedirectResponse(f"{PLACE}/{quote(name)}#scores", 303)


@router.post(PLACE + "/{name}/add")
async def add(request: Request, name: Name) -> Response:
    """Add boards to a trial."""
    typed = Typed(await request.form())
    return await _in_thread(lambda r, t: _add(r, name, t), request, typed)


def _add(request: Request, name: str, typed: Typed) -> Response:
    room: Room = request.app.state.room
    room.writer(request, typed.text("token") or "")
    tags = typed.many("board")
    if not tags:
        typed.faults["board"] = say("boards.none_ticked")

    def write(counter: Counter) -> None:
        counter.store.trials.add(name, tags, counter.entered_ms)

    if _done(room, typed, write, {}, otherwise="board"):
        return RedirectResponse(f"{PLACE}/{quote(name)}", 303)
    return _trial(request, name, typed)


@router.post(PLACE + "/{name}/scale")
async def scale(request: Request, name: Name) -> Response:
    """Set the shop's own scale for a quality."""
    typed = Typed(await request.form())
    return await _in_thread(lambda r, t: _scale(r, name, t), request, typed)


def _scale(request: Request, name: str, typed: Typed) -> Response:
    room: Room = request.app.state.room
    room.writer(request, typed.text("token") or "")
    quality = typed.text("scale_quality")
    if quality not in list(Quality):
        typed.faults["scale_quality"] = say("boards.which_quality")
    for field in ("worst", "best"):
        typed.needed(field)
    worst, best = typed.number("worst"), typed.number("best")
    words = typed.needed("words")

    def write(counter: Counter) -> None:
        ends = Scale(worst or 0.0, best or 0.0, words)
        counter.store.trials.set_scale(name, Quality(quality or ""), ends)

    if _done(room, typed, write, {}, otherwise="scale_quality"):
        return RedirectResponse(f"{PLACE}/{quote(name)}", 303)
    return _trial(request, name, typed)


def _done(
    room: Room,
    typed: Typed,
    write: Callable[[Counter], None],
    at: dict[str, str],
    *,
    otherwise: str = "",
) -> bool:
    """Carry a deed out unless the form is faulty; what storage refuses stands at a field.

    `at` says which word of the refusal points at which field.
    """
    if typed.faults:
        return False
    try:
        room.desk.enter(write)
    except BadInput as error:
        named = next((field for word, field in at.items() if word in str(error)), otherwise)
        typed.faults[named] = str(error)
        return False
    return True


async def _in_thread(
    do: Callable[[Request, Typed], Response], request: Request, typed: Typed
) -> Response:
    """Let a form be worked on in a thread: the desk's answer is waited for."""
    return await run_in_threadpool(do, request, typed)
