"""The air chart's facts as an object, for other programs in the shop."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

from fastapi import APIRouter, Path, Query, Request
from fastapi.responses import JSONResponse, Response

from curewatch.assembly import finish_now, shelf
from curewatch.finish_files import shipped_names
from curewatch.web import api_shapes as shapes
from curewatch.web.air_facts import AirFacts, air_facts, chart_plain
from curewatch.web.api import PLACE, no_such
from curewatch.web.room import Room

if TYPE_CHECKING:
    from curewatch.shop.finish import Finish
    from curewatch.web.desk import Counter

POINT = shapes.thing(
    "A point of the air.",
    temp_c=shapes.maybe("number", "[degC]"),
    rh_pct=shapes.maybe("number", "[%]"),
    moisture_g_kg=shapes.maybe("number", "Water in a kilogram of dry air [g]."),
)
EDGE = shapes.thing(
    "A stretch of the boundary that one limit makes, clockwise.",
    limit=shapes.maybe("string", "As the spray check names it; null where none bounds."),
    words=shapes.maybe("string", "As people read it."),
    side={"enum": ["left", "top", "right", "bottom"]},
    points=shapes.many(POINT),
)
AIR_CHART = shapes.thing(
    "Where a finish may be sprayed by the spray check's own limits, and a room's air in it: "
    "newest, the last day, the hours ahead with the ends of their band.",
    format=shapes.FORMAT,
    room=shapes.TEXT,
    finish=shapes.TEXT,
    at=shapes.INSTANT,
    edges=shapes.many(EDGE),
    beyond=shapes.many(EDGE),
    now={"anyOf": [POINT, {"type": "null"}]},
    trail=shapes.many(POINT),
    ahead=shapes.many(shapes.thing("An hour ahead.", at=shapes.INSTANT, likely=POINT)),
)

router = APIRouter(prefix=PLACE)


@router.get(
    "/rooms/{name}/air-chart",
    responses=shapes.answers(AIR_CHART),
    response_class=JSONResponse,
    response_model=None,
)
def air_chart(
    request: Request,
    name: Annotated[str, Path(min_length=1, max_length=64, description="its name")],
    finish: Annotated[str, Query(min_length=1, max_length=64, description="what is sprayed")],
) -> Response:
    """Tell where a finish may be sprayed and where a room's air is in that."""
    room: Room = request.app.state.room
    room.reader(request)
    return JSONResponse(chart_plain(room.desk.ask(lambda counter: gather(counter, name, finish))))


def gather(counter: Counter, name: str, finish: str) -> AirFacts:
    """Return the facts of a room and a finish by their names.

    Raises
    ------
    NoSuch
        When there is no such room or finish.
    """
    if name not in counter.shop.rooms:
        raise no_such("room", name, counter.shop.rooms)
    return air_facts(counter.shop, name, profile_of(counter, finish), counter.now_ms)


def profile_of(counter: Counter, finish: str) -> Finish:
    """Return a profile by its name; raises `NoSuch` when there is none."""
    known = {*shipped_names(), *shelf(counter.settings)}
    if finish not in known:
        raise no_such("finish", finish, known)
    return finish_now(counter.settings, counter.store, finish)
