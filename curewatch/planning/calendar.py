"""A plan as an iCalendar document (RFC 5545): coats to lay, windows that close, with an alarm.

An event keeps its UID however often the plan is made anew, so that a calendar that takes the file
in again moves its events instead of doubling them.
"""

from __future__ import annotations

import uuid
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from curewatch import __version__

if TYPE_CHECKING:
    from icalendar import Calendar, Event

    from curewatch.planning.known import Known
    from curewatch.shop.day_plan import DayPlan, PlannedCoat

PRODUCER = "-//curewatch//plan"
NAMESPACE = uuid.UUID("3f6f3a0e-9a0d-5c1b-8f7e-6f1d6a7c2b51")  # our own, drawn once
LONGEST_ALARM = timedelta(minutes=60)
SHORTEST_EVENT = timedelta(minutes=1)
A_YEAR = timedelta(days=366)


def calendar_bytes(found: DayPlan, known: Known) -> bytes:
    """Return a plan of one coat at least as an iCalendar document."""
    from icalendar import Calendar  # noqa: PLC0415 - the other commands are spared it

    calendar = Calendar()
    calendar.add("prodid", f"{PRODUCER} {__version__}//EN")
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    calendar.add("x-wr-calname", f"{known.site}: {known.finish.title}")
    for coat in found.coats:
        calendar.add_component(_coat_event(coat, known))
        closing = _closing_event(coat, known)
        if closing is not None:
            calendar.add_component(closing)
    days = [_local(at_ms, known).date() for coat in found.coats for at_ms in _instants(coat)]
    # The zone's changes of a year on either side are enough.
    calendar.add_missing_timezones(min(days) - A_YEAR, max(days) + A_YEAR)
    return bytes(calendar.to_ical())


def _instants(coat: PlannedCoat) -> list[int]:
    limit = coat.window.limit
    return [coat.at_ms, *([] if limit is None or limit.early is None else [limit.early])]


def _coat_event(coat: PlannedCoat, known: Known) -> Event:
    begin, end = _local(coat.at_ms, known), _local(coat.done_ms, known)
    event = _event(coat, known, "coat", f"Coat {coat.number} on {coat.piece}")
    event.add("dtstart", begin)
    event.add("dtend", max(end, begin + SHORTEST_EVENT))
    scuff = "Scuff first. " if coat.scuff else ""
    told = "Go and test before you spray: curewatch check. The label and the data sheet decide."
    event.add("description", f"{known.finish.title}. {scuff}{told} {known.basis}")
    return event


def _closing_event(coat: PlannedCoat, known: Known) -> Event | None:
    """Return the end of the window that a coat opens, with an alarm before it."""
    from icalendar import Alarm  # noqa: PLC0415 - as above

    limit = coat.window.limit
    if limit is None or limit.early is None:
        return None
    closes = _local(limit.early, known)
    what = f"Recoat window of {coat.piece} closes (after coat {coat.number})"
    event = _event(coat, known, "closes", what)
    event.add("dtstart", closes)
    event.add("dtend", closes + SHORTEST_EVENT)
    event.add("transp", "TRANSPARENT")
    event.add("description", f"Counted at its early end. {known.finish.missed_window}".strip())
    alarm = Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("description", what)
    alarm.add(
        "trigger", -min(LONGEST_ALARM, timedelta(milliseconds=limit.early - coat.done_ms) / 2)
    )
    event.add_component(alarm)
    return event


def _event(coat: PlannedCoat, known: Known, what: str, summary: str) -> Event:
    from icalendar import Event  # noqa: PLC0415 - as above

    day = "" if known.shop is not None else f"{known.words.local(coat.at_ms):%Y-%m-%d}"
    name = "/".join((known.site, known.finish.name, coat.piece, str(coat.number), what, day))
    event = Event()
    event.add("uid", f"{uuid.uuid5(NAMESPACE, name)}@curewatch")
    event.add("dtstamp", datetime.fromtimestamp(known.now_ms / 1000, tz=UTC).replace(microsecond=0))
    event.add("summary", summary)
    return event


def _local(at_ms: int, known: Known) -> datetime:
    return known.words.local(at_ms // 1000 * 1000)


def is_ours(text: bytes) -> bool:
    """Whether a document is a calendar that this program made."""
    from icalendar import Calendar  # noqa: PLC0415 - as above

    try:
        there: Calendar = Calendar.from_ical(text)
    except ValueError:
        return False
    return str(there.get("prodid", "")).startswith(PRODUCER)
