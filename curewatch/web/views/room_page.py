"""One room: its air, what may be sprayed in it, how it ran, and what it is said to do."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Annotated, Literal
from urllib.parse import quote, urlencode

from fastapi import APIRouter, Form, Path, Query, Request
from fastapi.responses import RedirectResponse, Response

from curewatch.entries.room_plans import Change, plan_room, take_back
from curewatch.errors import BadInput
from curewatch.opened import Opened
from curewatch.shop.assessment import assess_room, conditions_of
from curewatch.shop.plain_spray import answer_sentence
from curewatch.shop.spray import aged
from curewatch.shop.spray_answer import Job, SprayAnswer, room_answer
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
    what_clears,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from curewatch.shop.assessment import RoomNow
    from curewatch.shop.finish import Finish
    from curewatch.shop.piece import Fill
    from curewatch.shop.room_plan import RoomPlan
    from curewatch.web.desk import Counter
    from curewatch.web.speech import Speech

router = APIRouter(include_in_schema=False)
DAY_MS = 86_400_000
SPANS = {"24h": 1, "7d": 7, "30d": 30, "whole": None}  # in days
FILLS = 6  # more than one reads
Name = Annotated[str, Path(min_length=1, max_length=64)]
Short = Annotated[str, Form(max_length=200)]
Token = Annotated[str, Form(max_length=100)]


@dataclass(frozen=True, slots=True)
class RoomFacts:
    """What the view shows.

    Attributes
    ----------
    now: the room as it stands.
    in_use: the finishes in use, in order of their names.
    chart: the air chart's facts for one of them; None where none is in use.
    past: the room's record over the chosen span.
    plans, fills: what the room is said to do; gaps filled with an assumed climate, newest first.
    tags: the pieces in it.
    """

    now: RoomNow
    in_use: tuple[Finish, ...]
    chart: AirFacts | None
    past: RoomPast
    plans: tuple[RoomPlan, ...]
    fills: tuple[Fill, ...]
    tags: tuple[str, ...]


def look(counter: Counter, name: str, finish: str, span: str) -> RoomFacts:
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
    in_use = {found.name: found for found in map(shop.finish_of, shop.pieces.values())}
    chosen = _first_here(counter, name) or next(iter(in_use.values()), None)
    if finish:
        chosen = in_use.get(finish) or profile_of(counter, finish)
    days = SPANS[span]
    return RoomFacts(
        now=now,
        in_use=tuple(in_use[each] for each in sorted(in_use)),
        chart=None if chosen is None else air_facts(shop, name, chosen, now_ms),
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


def answer_of(counter: Counter, name: str, finish: Finish) -> SprayAnswer:
    """Return the spray check, now and ahead, in the daemon's thread.

    A question by itself: the daemon may work between two. What would clear it is left to the
    limits' own words; trying takes longer than the daemon should stand still. It is kept until
    something changes, as the assessment is: a lacquer's takes a tenth of a second.
    """
    key = f"answer {name} {finish.name} {finish.revision}"
    found: SprayAnswer | None = counter.memo.get(key)
    if found is None:
        found = _answer(counter, name, finish)
        if counter.clock_set:
            counter.memo[key] = found
    return found


def _answer(counter: Counter, name: str, finish: Finish) -> SprayAnswer:
    shop, now_ms = counter.shop, counter.now_ms
    now = assess_room(shop, name, now_ms)
    climate = now.climate if now.fresh else None
    here = conditions_of(shop, name, climate)
    if climate is not None:
        here = aged(here, (now_ms - climate.at_ms) / 1000.0)
    return room_answer(shop, name, Job(finish), here=here, now_ms=now_ms, try_changes=False)


@router.get("/room/{name}")
def one_room(
    request: Request,
    name: Name,
    finish: Annotated[str, Query(max_length=64)] = "",
    span: Literal["24h", "7d", "30d", "whole"] = "24h",
    planned: Annotated[int, Query(ge=0)] = 0,
) -> Response:
    """Show a room."""
    room: Room = request.app.state.room
    room.reader(request)
    moment, facts = room.ask(lambda counter: look(counter, name, finish, span))
    answers = [room.desk.ask(partial(answer_of, name=name, finish=each)) for each in facts.in_use]
    speech = room.speech(moment.now_ms)
    return room.render(
        request,
        "room.html",
        _shown(facts, answers, speech=speech, span=span, planned=planned),
        moment=moment,
    )


def _shown(
    facts: RoomFacts, answers: Sequence[SprayAnswer], *, speech: Speech, span: str, planned: int
) -> dict[str, object]:
    """Return everything the page says, drawn and worded."""
    chart = facts.chart
    chosen = None if chart is None else chart.finish
    drawn = None if chart is None else chart_of(chart, speech, name="air")
    base = {"finish": chosen.name} if chosen is not None else {}
    return {
        "facts": facts,
        "answers": answers,
        "reasons": {
            answer.now.finish: answer_sentence(answer).partition(": ")[2] for answer in answers
        },
        "hours": {answer.now.finish: hours_said(answer, speech) for answer in answers},
        "clears": {answer.now.finish: what_clears(answer) for answer in answers},
        "drawing": None if drawn is None else air_chart(drawn),
        "air_lines": () if chart is None else air_lines(chart, speech),
        "edge_lines": () if chart is None else edge_lines(chart.region, speech),
        "letters": [] if drawn is None else letters(drawn),
        "chosen": "" if chosen is None else chosen.name,
        "lines": lines(facts.past, chosen, speech, room=facts.now.name),
        "span": span,
        "spans": [(each, urlencode(base | {"span": each})) for each in SPANS],
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
