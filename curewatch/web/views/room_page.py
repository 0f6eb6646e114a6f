"""One room: its air, what may be sprayed in it, how it ran, and what it is said to do."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING, Annotated, Literal
from urllib.parse import quote, urlencode

from fastapi import APIRouter, Form, Path, Query, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import StringConstraints

from curewatch.entries.room_plans import Change, plan_room, take_back
from curewatch.errors import BadInput
from curewatch.opened import Opened
from curewatch.shop.assessment import finishes_in_use
from curewatch.shop.spray_answer import Job, RoomLook, room_look
from curewatch.web.air_facts import AirFacts, air_facts, air_lines, chart_of, edge_lines, letters
from curewatch.web.api import no_such
from curewatch.web.api_air import profile_of
from curewatch.web.draw.air_chart import air_chart
from curewatch.web.forms import in_page_words
from curewatch.web.room import Room
from curewatch.web.room_past import RoomPast, room_past
from curewatch.web.views.room_lines import lines
from curewatch.web.views.room_said import (
    fill_said,
    hours_said,
    overlaps,
    plan_said,
    tried_said,
)

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from curewatch.shop.assessment import RoomNow
    from curewatch.shop.finish import Finish
    from curewatch.shop.piece import Fill
    from curewatch.shop.room_plan import RoomPlan
    from curewatch.shop.spray_answer import SprayAnswer
    from curewatch.web.desk import Counter
    from curewatch.web.speech import Speech
    from curewatch.web.tried import Trial

router = APIRouter(include_in_schema=False)
DAY_MS = 86_400_000
SPANS = {"24h": 1, "7d": 7, "30d": 30, "whole": None}  # in days
FILLS = 6  # more than one reads
MOST_CHARTS = 8  # on one page
Name = Annotated[str, Path(min_length=1, max_length=64)]
Short = Annotated[str, Form(max_length=200)]
Wanted = Annotated[str, StringConstraints(max_length=64)]
Token = Annotated[str, Form(max_length=100)]


@dataclass(frozen=True, slots=True)
class RoomFacts:
    """What the view shows.

    Attributes
    ----------
    now: the room as it stands.
    in_use: the finishes in use, in order of their names.
    charts: the facts of an air chart for each finish that was chosen, one of those in use if none
        was; nothing where none is in use.
    past: the room's record over the chosen span.
    plans, fills: what the room is said to do; gaps filled with an assumed climate, newest first.
    tags: the pieces in it.
    """

    now: RoomNow
    in_use: tuple[Finish, ...]
    charts: tuple[AirFacts, ...]
    past: RoomPast
    plans: tuple[RoomPlan, ...]
    fills: tuple[Fill, ...]
    tags: tuple[str, ...]


def look(counter: Counter, name: str, wanted: Sequence[str], span: str) -> RoomFacts:
    """Gather the facts, in the daemon's thread.

    Raises
    ------
    NoSuch
        When there is no such room or finish.
    """
    shop, now_ms = counter.shop, counter.now_ms
    now = next((room for room in counter.assessment().rooms if room.name == name), None)
    if now is None:
        raise no_such("room", name, shop.rooms)
    in_use = {found.name: found for found in finishes_in_use(shop)}
    usual = _first_here(counter, name) or next(iter(in_use.values()), None)
    chosen = [] if usual is None else [usual]
    if wanted:
        chosen = [in_use.get(each) or profile_of(counter, each) for each in dict.fromkeys(wanted)]
    days = SPANS[span]
    return RoomFacts(
        now=now,
        in_use=tuple(in_use.values()),
        charts=_charts(counter, name, chosen),
        past=room_past(shop, name, None if days is None else now_ms - days * DAY_MS, now_ms),
        plans=tuple(
            plan
            for plan in shop.plans.get(name, ())
            if plan.stop_ms is None or plan.stop_ms > now_ms
        ),
        fills=counter.store.fills.for_room(name)[::-1][:FILLS],
        tags=tuple(piece.tag for piece in shop.pieces_in(name, now_ms)),
    )


def _first_here(counter: Counter, name: str) -> Finish | None:
    """Return the finish of a piece that hangs here."""
    here = counter.shop.pieces_in(name, counter.now_ms)
    return counter.shop.finish_of(here[0]) if here else None


def _charts(counter: Counter, name: str, finishes: Sequence[Finish]) -> tuple[AirFacts, ...]:
    """Return a chart's facts for each finish; the room's air is gathered once."""
    if not finishes:
        return ()
    first = air_facts(counter.shop, name, finishes[0], counter.now_ms)
    return tuple(replace(first, finish=finish) for finish in finishes)


def looks(counter: Counter, name: str) -> tuple[RoomLook, ...]:
    """Return the spray checks of a room with what is needed to try changes, in its thread."""
    shop, now_ms = counter.shop, counter.now_ms
    return tuple(room_look(shop, name, Job(one), now_ms=now_ms) for one in finishes_in_use(shop))


@router.get("/room/{name}")
def one_room(
    request: Request,
    name: Name,
    finish: Annotated[list[Wanted] | None, Query(max_length=MOST_CHARTS)] = None,
    span: Literal["24h", "7d", "30d", "whole"] = "24h",
    planned: Annotated[int, Query(ge=0)] = 0,
) -> Response:
    """Show a room."""
    room: Room = request.app.state.room
    room.reader(request)
    wanted = [each for each in finish or () if each]
    moment, facts = room.ask(lambda counter: look(counter, name, wanted, span))
    found = room.desk.ask(partial(looks, name=name))
    trials = {one.answer.now.finish: room.desk.tried.of(name, one) for one in found}
    speech = room.speech(moment.now_ms)
    return room.render(
        request,
        "room.html",
        {
            **_sprayed([one.answer for one in found], trials, speech),
            **_drawn(facts, speech, span=span),
            **_shown(facts, speech, planned=planned),
        },
        moment=moment,
    )


def _sprayed(
    answers: Sequence[SprayAnswer], trials: Mapping[str, Trial], speech: Speech
) -> dict[str, object]:
    """Return what is said of each finish in use."""
    return {
        "answers": answers,
        "reasons": {one.now.finish: one.sentence.partition(": ")[2] for one in answers},
        "hours": {one.now.finish: hours_said(one, speech) for one in answers},
        "tried": {name: tried_said(trial) for name, trial in trials.items()},
        "warms": {
            name
            for name, trial in trials.items()
            if any("warmer" in c.change for c in trial.clears)
        },
        "tried_at": {name: trial.at_ms for name, trial in trials.items()},
    }


def _drawn(facts: RoomFacts, speech: Speech, *, span: str) -> dict[str, object]:
    """Return the drawings, and the addresses of others."""
    charts = []
    for number, chart in enumerate(facts.charts):
        drawn = chart_of(chart, speech, name=f"air-{number}" if number else "air")
        charts.append(
            {
                "finish": chart.finish.name,
                "drawing": air_chart(drawn),
                "air_lines": air_lines(chart, speech),
                "edge_lines": edge_lines(chart, speech),
                "letters": letters(drawn),
            }
        )
    chosen = [chart.finish.name for chart in facts.charts]
    base = [("finish", each) for each in chosen]
    every = [("finish", each.name) for each in facts.in_use[:MOST_CHARTS]]
    first = facts.charts[0].finish if facts.charts else None
    return {
        "charts": charts,
        "chosen": chosen,
        "one_chart": {
            each.name: urlencode([("finish", each.name), ("span", span)]) for each in facts.in_use
        },
        "all_charts": urlencode([*every, ("span", span)])
        if len(every) > 1 and set(every) - set(base)
        else "",
        "lines": lines(facts.past, first, speech, room=facts.now.name),
        "span": span,
        "spans": [(each, urlencode([*base, ("span", each)])) for each in SPANS],
    }


def _shown(facts: RoomFacts, speech: Speech, *, planned: int) -> dict[str, object]:
    """Return what the room is said to do."""
    return {
        "facts": facts,
        "plans": [
            (plan, plan_said(plan, speech), overlaps(plan, facts.plans)) for plan in facts.plans
        ],
        "planned": planned,
        "fills": [fill_said(fill, speech) for fill in facts.fills],
        "unit": "°F" if speech.words.imperial else "°C",
    }


@router.post("/room/{name}/plan")
def plan(  # noqa: PLR0913 - a field of the form each
    request: Request,
    name: Name,
    token: Token,
    *,
    kind: Annotated[Literal["kept", "at-least", "off"], Form()] = "kept",
    temp: Short = "",
    rh: Short = "",
    start: Short = "",
    stop: Short = "",
    why: Short = "",
    really: Short = "",
) -> Response:
    """Say what a room will be like."""
    room: Room = request.app.state.room
    room.writer(request, token)
    temp_c = _temp_c(temp, imperial=room.settings.words().imperial)
    rh_pct = _number(rh, "humidity")
    change = Change(
        room=name,
        temp_c=None if kind == "off" else temp_c,
        rh_frac=None if rh_pct is None else rh_pct / 100.0,
        at_least=kind == "at-least",
        heating_off=kind == "off",
        drifts_to_c=temp_c if kind == "off" else None,
        start=start.strip() or None,
        stop=stop.strip() or None,
        why=why.strip(),
        really=bool(really),
    )
    try:
        made = room.desk.enter(lambda counter: plan_room(_opened(counter), change))
    except BadInput as error:
        raise BadInput(in_page_words(str(error), "plan_field")) from error
    return RedirectResponse(f"/room/{quote(name)}?planned={made.id}#plans", 303)


@router.post("/room/{name}/plan/{number}/undo")
def undo_plan(
    request: Request,
    name: Name,
    number: Annotated[int, Path(ge=1, le=2**63 - 1)],
    token: Token,
    why: Short = "",
) -> Response:
    """Take a plan back."""
    room: Room = request.app.state.room
    room.writer(request, token)
    reason = why.strip() or "taken back on the page"
    room.desk.enter(lambda counter: take_back(_opened(counter), name, number, reason))
    return RedirectResponse(f"/room/{quote(name)}#plans", 303)


def _opened(counter: Counter) -> Opened:
    return Opened(counter.settings, counter.store, counter.now_ms, counter.entered_ms)


def _temp_c(typed: str, *, imperial: bool) -> float | None:
    shown = _number(typed, "temperature")
    return (shown - 32.0) / 1.8 if imperial and shown is not None else shown


def _number(typed: str, what: str) -> float | None:
    """Return the number typed into a field, None where it was left empty.

    Raises
    ------
    BadInput
        When it is no number.
    """
    text = typed.strip().replace(",", ".").removesuffix("%").strip()
    if not text:
        return None
    try:
        return float(text)
    except ValueError:
        raise BadInput(
            f"{what} {typed.strip()!r} is no number: write it in figures, such as 21 or 45.5"
        ) from None
