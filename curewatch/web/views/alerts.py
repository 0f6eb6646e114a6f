"""Alerts: what stands, and taking it on or letting it rest."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated
from urllib.parse import quote

from fastapi import APIRouter, Form, Path, Request
from fastapi.responses import RedirectResponse, Response

from curewatch.shop.alert_words import heading, subject_said
from curewatch.web.deeds import put_to_rest, take_on
from curewatch.web.room import Room

if TYPE_CHECKING:
    from curewatch.shop.alert import Alert
    from curewatch.web.desk import Counter

router = APIRouter(include_in_schema=False)
HOUR_MS = 3_600_000
RESTS_H = (1, 4, 12, 24)
Number = Annotated[int, Path(ge=1, le=2**63 - 1)]


def look(counter: Counter) -> list[Alert]:
    """Gather the alerts that are not cleared, in the daemon's thread."""
    return sorted(counter.watch.alerts(), key=lambda alert: (alert.phase, alert.since_ms))


@router.get("/alerts")
def alerts(request: Request) -> Response:
    """Show them."""
    room: Room = request.app.state.room
    room.reader(request)
    moment, found = room.ask(look)
    return room.render(
        request,
        "alerts.html",
        {
            "alerts": found,
            "rests_h": RESTS_H,
            "heading": heading,
            "subject_said": subject_said,
            "place_of": place_of,
        },
        moment=moment,
    )


def place_of(subject: str) -> str:
    """Return where the page tells more of an alert's subject, '' where nowhere."""
    what, _, name = subject.partition(":")
    place = {
        "piece": "/piece/{}",
        "follow-up": "/piece/{}",
        "room": "/room/{}",
        "pot": "/pot/{}",
    }.get(what, "")
    if what == "sensor":
        return "/sensors"
    return place.format(quote(name.partition("#")[0], safe=""))


@router.post("/alerts/{number}/seen")
def seen(request: Request, number: Number, token: Annotated[str, Form(max_length=100)]) -> Response:
    """Somebody takes it on."""
    room: Room = request.app.state.room
    visitor = room.writer(request, token)

    room.desk.enter(lambda counter: take_on(counter, number, visitor.who))
    return RedirectResponse("/alerts", 303)


@router.post("/alerts/{number}/rest")
def rest(
    request: Request,
    number: Number,
    token: Annotated[str, Form(max_length=100)],
    hours: Annotated[int, Form(ge=1, le=24 * 14)],
) -> Response:
    """Let it be silent for some hours."""
    room: Room = request.app.state.room
    room.writer(request, token)

    def rest_for(counter: Counter) -> None:
        put_to_rest(counter, number, counter.now_ms + hours * HOUR_MS)

    room.desk.enter(rest_for)
    return RedirectResponse("/alerts", 303)
