"""Today: each room's air and what may be sprayed in it, and the next jobs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from fastapi import APIRouter, Request
from fastapi.responses import Response

from curewatch.shop.alert import AlertPhase
from curewatch.shop.bench_list import bench_list
from curewatch.shop.reading import Urgency
from curewatch.web.pot_facts import aside_pots, standing_pots
from curewatch.web.room import Room
from curewatch.web.spray_today import together

if TYPE_CHECKING:
    from curewatch.shop.alert import Alert
    from curewatch.shop.assessment import RoomNow
    from curewatch.shop.bench_list import Job
    from curewatch.web.desk import Counter

router = APIRouter(include_in_schema=False)
JOBS = 8  # more than one looks at


@dataclass(frozen=True, slots=True)
class Today:
    """What the view shows.

    Attributes
    ----------
    rooms: each as it stands.
    jobs: the next jobs in the bench list's order.
    more: how many pieces are not among them.
    alerts: what cannot wait, was raised, and nobody has seen.
    other_alerts: how much else was raised and nobody has seen.
    """

    rooms: tuple[RoomNow, ...]
    jobs: tuple[Job, ...]
    more: int
    alerts: tuple[Alert, ...]
    other_alerts: int


def look(counter: Counter) -> Today:
    """Gather the facts, in the daemon's thread."""
    now = counter.assessment()
    found = bench_list(now, counter.shop.pieces, counter.shop.words)
    jobs = (*found.due, *found.ready, *found.coming, *found.waiting, *found.held)
    raised = [a for a in counter.watch.alerts() if a.phase is AlertPhase.RAISED]
    pressing = [alert for alert in raised if alert.urgency is Urgency.NOW]
    return Today(
        rooms=now.rooms,
        jobs=jobs[:JOBS],
        more=max(len(jobs) - JOBS, 0),
        alerts=tuple(sorted(pressing, key=lambda alert: (alert.since_ms, alert.id))),
        other_alerts=len(raised) - len(pressing),
    )


@router.get("/")
def today(request: Request) -> Response:
    """Show the day."""
    room: Room = request.app.state.room
    room.reader(request)
    moment, facts = room.ask(look)
    said = {each.name: together(each.sprays) for each in facts.rooms}
    pots, aside = room.desk.ask(standing_pots), room.desk.ask(aside_pots)
    told = {"today": facts, "spray": said, "standing": pots, "aside": aside}
    return room.render(request, "today.html", told, moment=moment)
