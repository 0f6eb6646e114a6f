"""How far the sensors are to be believed, as an object for other programs in the shop."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse, Response

from curewatch.shop.plain_sensor_check import trusted_plain
from curewatch.web import api_shapes as shapes
from curewatch.web.api import PLACE
from curewatch.web.room import Room

if TYPE_CHECKING:
    from curewatch.shop.plain import Plain
    from curewatch.web.desk import Counter

SENSORS = shapes.thing(
    "What every sensor may be off by and what corrects it, and every check, void ones too.",
    format=shapes.FORMAT,
    sensors=shapes.many(
        shapes.thing(
            "A sensor. What it may be off by, one standard deviation, stands under "
            "temperature_off_k, humidity_off_pct, surface_temperature_off_k as it measures them.",
            sensor=shapes.TEXT,
            room=shapes.TEXT,
            corrections=shapes.many(
                shapes.thing(
                    "What corrects a quantity now: at each point what it reads and what is added.",
                    quantity=shapes.TEXT,
                    unit=shapes.TEXT,
                    checked_at=shapes.INSTANT,
                    replace=shapes.TEXT,
                )
            ),
            jar_since=shapes.LATER,
            checked_at=shapes.LATER,
            due_at=shapes.LATER,
        )
    ),
    checks=shapes.many(
        shapes.thing(
            "A check that was kept.",
            id={"type": "integer", "minimum": 1},
            sensor=shapes.TEXT,
            quantity=shapes.TEXT,
            against=shapes.TEXT,
            void_why=shapes.maybe("string", "Why it no longer counts."),
        )
    ),
)
router = APIRouter(prefix=PLACE)


@router.get(
    "/sensors",
    responses=shapes.answers(SENSORS),
    response_class=JSONResponse,
    response_model=None,
)
def sensors(request: Request) -> Response:
    """Tell what corrects each sensor and what it may be off by, as 'sensor checks' does."""
    room: Room = request.app.state.room
    room.reader(request)

    def look(counter: Counter) -> Plain:
        kept = counter.store.sensor_checks
        return trusted_plain(counter.shop, counter.now_ms, kept.all(voided=True), kept.voids())

    return JSONResponse(room.desk.ask(look))
