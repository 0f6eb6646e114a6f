"""Today: each room's air and what may be sprayed in it, and the next jobs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from fastapi import APIRouter, Request
from fastapi.responses import Response

from curewatch.shop.alert import AlertPhase
from curewatch.shop.assessment import assess_room
from curewatch.web.room import Room

if TYPE_CHECKING:
    from curewatch.shop.alert import Alert
    from curewatch.shop.assessment import PieceNow, RoomNow
    from curewatch.web.desk import Counter

router = APIRouter(include_in_schema=False)
JOBS = 8  # more than one looks at


@dataclass(frozen=True, slots=True)
class Today:
    """What the view shows.

    Attributes
    ----------
    rooms: each as it stands.
    jobs: the pieces with a next job, the most urgent first.
    more: how many pieces are not among them.
    alerts: what was raised and nobody has seen.
    """

    rooms: tuple[RoomNow, ...]
    jobs: tuple[PieceNow, ...]
    more: int
    alerts: tuple[Alert, ...]


def look(counter: Counter) -> Today:
    """Gather the facts, in the daemon's thread."""
    shop, now_ms = counter.shop, counter.now_ms
    pieces = sorted(
        counter.watch.pieces_now.values(),
        key=lambda piece: (piece.next_at is None, piece.next_at or 0, piece.tag),
    )
    raised = [a for a in counter.watch.alerts() if a.phase is AlertPhase.RAISED]
    return Today(
        rooms=tuple(assess_room(shop, name, now_ms) for name in shop.rooms),
        jobs=tuple(pieces[:JOBS]),
        more=max(len(pieces) - JOBS, 0),
        alerts=tuple(sorted(raised, key=lambda alert: (alert.urgency, alert.since_ms))),
    )


@router.get("/")
def today(request: Request) -> Response:
    """Show the day."""
    room: Room = request.app.state.room
    room.reader(request)
    moment, facts = room.ask(look)
    return room.render(request, "today.html", {"today": facts}, moment=moment)
