"""Wall view: what a tablet on the wall tells from across the room, and nothing to touch."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from curewatch.shop.alert import AlertPhase
from curewatch.shop.alert_words import heading, subject_said
from curewatch.shop.bench_list import Group, bench_list
from curewatch.shop.reading import Urgency
from curewatch.web.access import COOKIE
from curewatch.web.room import Room
from curewatch.web.speech import say
from curewatch.web.spray_today import together
from curewatch.web.views.enter import keep_cookie

if TYPE_CHECKING:
    from markupsafe import Markup

    from curewatch.shop.alert import Alert
    from curewatch.shop.assessment import RoomNow
    from curewatch.shop.bench_list import Job
    from curewatch.web.desk import Counter
    from curewatch.web.speech import Speech
    from curewatch.web.spray_today import Said

router = APIRouter(include_in_schema=False)
JOBS = 4  # more than one reads from across the room
ALERTS = 2
ASIDE = 3  # tags of what is set aside; the rest are counted
URGENT = tuple(Urgency)  # in order
DRIFTS, DRIFT_MS = 8, 7 * 60_000  # all of it moves by a little now and then: nothing burns in


@dataclass(frozen=True, slots=True)
class Wall:
    """What the view shows.

    Attributes
    ----------
    rooms: those asked for, or all.
    jobs: the next ones that are due, ready or coming, there or on no hook.
    alerts: what was raised and nobody has, the pressing first, without what the jobs say anyway.
    more_alerts: how many were raised beside those, in the rooms shown or in none.
    aside: the tags of what is set aside, there or on no hook.
    """

    rooms: tuple[RoomNow, ...]
    jobs: tuple[Job, ...]
    alerts: tuple[Alert, ...]
    more_alerts: int
    aside: tuple[str, ...]


def look(counter: Counter, wanted: tuple[str, ...] = ()) -> Wall:
    """Gather the facts of the rooms that are wanted, or of all, in the daemon's thread."""
    now = counter.assessment()
    found = bench_list(now, counter.shop.pieces, counter.shop.words)
    elsewhere = _elsewhere(counter, wanted)
    raised = [
        one
        for one in counter.watch.alerts()
        if one.phase is AlertPhase.RAISED and one.subject.partition("#")[0] not in elsewhere
    ]
    jobs = [
        job
        for job in (*found.due, *found.ready, *found.coming)
        if not wanted or job.room is None or job.room in wanted
    ][:JOBS]
    told = {f"piece:{job.tag}" for job in jobs}
    raised.sort(key=lambda one: (URGENT.index(one.urgency), one.since_ms, one.id))
    apart = [one for one in raised if one.urgency is Urgency.NOW or one.subject not in told]
    return Wall(
        tuple(room for room in now.rooms if not wanted or room.name in wanted),
        tuple(jobs),
        tuple(apart[:ALERTS]),
        len(raised) - len(apart[:ALERTS]),
        tuple(job.tag for job in found.held if not wanted or job.room in (None, *wanted)),
    )


def _elsewhere(counter: Counter, wanted: tuple[str, ...]) -> set[str]:
    """Return the subjects of alerts that another room's wall shows."""
    if not wanted:
        return set()
    shop, now_ms = counter.shop, counter.now_ms
    places: dict[str, str | None] = {f"room:{name}": name for name in shop.rooms}
    places |= {f"sensor:{sensor.id}": sensor.room for sensor in shop.sensors}
    places |= {f"pot:{name}": pot.room for name, pot in shop.pots.items()}
    hung = {piece.tag: piece.room_at(now_ms) for piece in (*shop.finished, *shop.pieces.values())}
    for what in ("piece", "follow-up"):
        places |= {f"{what}:{tag}": room for tag, room in hung.items()}
    return {subject for subject, room in places.items() if room not in (None, *wanted)}


@router.get("/wall")
def wall(
    request: Request,
    room: Annotated[list[str] | None, Query(max_length=20)] = None,
) -> Response:
    """Show the rooms named, or all."""
    page: Room = request.app.state.room
    visitor = page.reader(request)
    moment, facts = page.ask(partial(look, wanted=tuple(room or ())))
    speech = page.speech(moment.now_ms)
    said = {each.name: verdicts(each, speech) for each in facts.rooms}
    shown = {
        "rooms": facts.rooms,
        "said": said,
        "jobs": [(job, when_said(job, speech)) for job in facts.jobs],
        "alerts": facts.alerts,
        "more_alerts": facts.more_alerts,
        "heading": heading,
        "subject_said": subject_said,
        "aside": aside_said(facts.aside),
        "drift": moment.now_ms // DRIFT_MS % DRIFTS,
    }
    answer = page.render(request, "wall.html", shown, moment=moment)
    if visitor.may_look:  # a tablet that hangs here for years is never asked again
        keep_cookie(request, answer, request.cookies[COOKIE])
    return answer


@dataclass(frozen=True, slots=True)
class Line:
    """A verdict as it stands on the wall: its mark, whose, its words, why; '' where nothing is."""

    mark: str
    whose: str
    words: str
    why: str


def verdicts(room: RoomNow, speech: Speech) -> list[Line]:
    """Return what is said of a room, the finishes of one verdict and reason together."""
    if room.climate is None:
        return [Line("unknown", "", say("wall.unheard"), say("wall.never"))]
    found: tuple[Said, ...] = together(room.sprays)
    lines = [
        Line(
            one.verdict.value,
            ", ".join(one.finishes),
            one.verdict.words,
            _why(room, speech.sentence(one.reason)),
        )
        for one in found
    ]
    if lines:
        return lines
    if not room.fresh:
        stale = say("today.stale", at=speech.when(room.climate.at_ms))
        return [Line("unknown", "", say("wall.unheard"), stale)]
    return [Line("idle", "", "", say("wall.nothing_in_use"))]


def _why(room: RoomNow, reason: str) -> str:
    """Add that no surface was measured, as the page of today says it, where air that is new was."""
    unmeasured = say("today.surface_unmeasured")
    known = room.climate is not None and room.climate.surface_c is not None
    if known or not room.fresh or reason.startswith(unmeasured):
        return reason
    return f"{reason}; {unmeasured}" if reason else unmeasured


def aside_said(tags: tuple[str, ...]) -> str:
    """Name what is set aside, the first few by their tags; '' where nothing is."""
    if len(tags) <= ASIDE:
        return say("wall.aside", tags=", ".join(tags)) if tags else ""
    more = len(tags) - ASIDE
    return say("wall.aside_more", tags=", ".join(tags[:ASIDE]), count=more)


def when_said(job: Job, speech: Speech) -> str | Markup:
    """Say a job's time as short as it can be said: by when, since when, or when to be sure."""
    if job.at_ms is None:
        return ""
    match job.group:
        case Group.DUE:
            return say("wall.by", at=speech.when(job.at_ms))
        case Group.READY:
            return say("wall.since", at=speech.when(job.at_ms))
        case _ if job.eta.late is not None:
            return say("wall.sure", at=speech.ahead(job.eta.late))
        case _:
            return speech.expect(job.eta, job.at_ms)
