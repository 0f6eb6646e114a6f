"""Reading the times people type: '16:40', '2h ago', 'fri 18:00', '25.11.2026 9:30', ISO 8601."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta, tzinfo
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from curewatch.errors import BadInput

AGO = re.compile(r"(?:(\d+(?:\.\d+)?)\s*d)?\s*(?:(\d+(?:\.\d+)?)\s*h)?\s*(?:(\d+)\s*min)?\s+ago")
CLOCK = re.compile(r"(?:(today|yesterday|tomorrow)\s+)?(\d{1,2}):(\d{2})")
DAYS = {"today": 0, None: 0, "yesterday": -1, "tomorrow": 1}
COMING = re.compile(r"in\s+(?:(\d+(?:\.\d+)?)\s*d)?\s*(?:(\d+(?:\.\d+)?)\s*h)?\s*(?:(\d+)\s*min)?")
WEEKDAY = re.compile(r"([a-z]+)\s+(\d{1,2}):(\d{2})")
WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
SHORTEST = 2  # letters that tell one weekday from another
SLACK_MS = 5 * 60_000  # who types 'fri 18:00' at 18:02 means today
PAST_FORMS = "16:40, 'yesterday 9:05', 'mon 9:00', '2h ago', '25.11.2026 9:30' or 2026-03-01T16:40"
AHEAD_FORMS = (
    "'18:00', 'fri 18:00', 'tomorrow 6:00', 'in 8h', '24.12.2026 8:00' or 2026-12-01T07:00"
)
_AT = r"(?:[t ,]\s*(?P<hour>\d{1,2}):(?P<minute>\d{2}))?"
DATES = (
    re.compile(r"(?P<year>\d{4})-(?P<month>\d{1,2})-(?P<day>\d{1,2})" + _AT),
    re.compile(r"(?P<day>\d{1,2})\.(?P<month>\d{1,2})\.(?P<year>\d{4})?" + _AT),
    re.compile(
        r"(?:(?P<weekday>[a-z]+),?\s+)?(?P<day>\d{1,2})\s+(?P<named>[a-z]{3,})"
        r"(?:\s+(?P<year>\d{4}))?" + _AT
    ),
)
MONTHS = (
    *("january", "february", "march", "april", "may", "june"),
    *("july", "august", "september", "october", "november", "december"),
)


class NoTimeError(BadInput):
    """The text is in none of the forms of a time."""


def instant_ms(text: str, *, zone: tzinfo, now_ms: int) -> int:
    """Return the instant [ms] a person typed.

    Parameters
    ----------
    text : str
        'now', '16:40' (today), 'yesterday 9:05', 'mon 9:00' (the last), '2h ago', '1d 3h ago',
        '25.11.2026 9:30', 'Mon 23 Nov 9:00', or ISO 8601 with or without an offset. A date without
        a year is the last of that name.
    zone : tzinfo
        Where times without an offset are read.
    now_ms : int
        The moment [ms].

    Raises
    ------
    BadInput
        The text is none of these, or a time of day that a change of the clock leaves out.
    """
    said = text.strip().lower()
    if said == "now":
        return now_ms
    ago = AGO.fullmatch(said)
    if ago and any(ago.groups()):
        return now_ms - _span_ms(ago)
    clock = CLOCK.fullmatch(said)
    if clock:
        return _on_day(clock, text, zone, now_ms)
    found = _named_day(said, text, zone, now_ms)
    if found is None:
        found = _dated(said, text, zone=zone, now_ms=now_ms, ahead=False)
    return _iso(text, zone) if found is None else found


def _iso(text: str, zone: tzinfo) -> int:
    try:
        moment = datetime.fromisoformat(text.strip())
    except ValueError:
        raise NoTimeError(
            f"{text!r} is not a time: write {PAST_FORMS} (an offset such as +01:00 or Z may follow)"
        ) from None
    return _ms(moment if moment.tzinfo else moment.replace(tzinfo=zone), text)


def ahead_ms(text: str, *, zone: tzinfo, now_ms: int, after_ms: int | None = None) -> int:
    """Return the instant [ms] a person typed of something that will be.

    Parameters
    ----------
    text : str
        What `instant_ms` reads, 'in 8h' and 'in 2d 4h'; 'fri 18:00' is the next, and a date without
        a year the next of that name.
    zone : tzinfo
        Where times without an offset are read.
    now_ms : int
        The moment [ms]; 'tomorrow' and 'in 8h' count from it.
    after_ms : int, optional
        What it must lie after [ms], such as the start of what it ends: a bare time of day, or a
        weekday, is the next one after it. Without it a bare time of day is today's, and a weekday
        the next from now on.

    Raises
    ------
    BadInput
        The text is none of these, or a time of day that a change of the clock leaves out.
    """
    said = text.strip().lower()
    coming = COMING.fullmatch(said)
    if coming and any(coming.groups()):
        return now_ms + _span_ms(coming)
    named = WEEKDAY.fullmatch(said)
    weekday = None if named is None else _weekday(named[1])
    if named is not None and weekday is not None:
        from_ms = now_ms - SLACK_MS if after_ms is None else after_ms + 1
        return _next_at(int(named[2]), int(named[3]), text, zone, from_ms, weekday=weekday)
    clock = CLOCK.fullmatch(said)
    if clock is not None and clock[1] is None and after_ms is not None:
        return _next_at(int(clock[2]), int(clock[3]), text, zone, after_ms + 1)
    dated = _dated(said, text, zone=zone, now_ms=now_ms, ahead=True)
    if dated is not None:
        return dated
    try:
        return instant_ms(text, zone=zone, now_ms=now_ms)
    except NoTimeError:
        raise BadInput(f"{text!r} is not a time: write {AHEAD_FORMS}") from None


def _span_ms(parts: re.Match[str]) -> int:
    days, hours, minutes = (float(part or 0) for part in parts.groups())
    return round(((days * 24 + hours) * 60 + minutes) * 60_000)


def _weekday(word: str) -> int | None:
    """Return the number of a weekday, Monday 0, by its name or the beginning of it."""
    if len(word) < SHORTEST:
        return None
    found = [number for number, name in enumerate(WEEKDAYS) if name.startswith(word)]
    return found[0] if len(found) == 1 else None


def _named_day(said: str, text: str, zone: tzinfo, now_ms: int) -> int | None:
    """Return the last instant at a weekday's time of day; None where no weekday is named."""
    named = WEEKDAY.fullmatch(said)
    weekday = None if named is None else _weekday(named[1])
    if named is None or weekday is None:
        return None
    day = datetime.fromtimestamp((now_ms + SLACK_MS) / 1000, tz=zone)
    back = (day.weekday() - weekday) % 7
    at_ms = _at_clock(day - timedelta(days=back), int(named[2]), int(named[3]), text)
    if at_ms <= now_ms + SLACK_MS:
        return at_ms
    return _at_clock(day - timedelta(days=back + 7), int(named[2]), int(named[3]), text)


def _dated(said: str, text: str, *, zone: tzinfo, now_ms: int, ahead: bool) -> int | None:
    """Return the instant of a date, at midnight where no time of day follows; None if it is none.

    Without a year it is the next of that name where `ahead`, else the last.
    """
    found = next(filter(None, (form.fullmatch(said) for form in DATES)), None)
    if found is None:
        return None
    parts = found.groupdict()
    month = int(parts["month"]) if "month" in parts else _month(parts["named"])
    told = parts.get("weekday")
    weekday = None if told is None else _weekday(told)
    if month is None or (told is not None and weekday is None):
        return None
    today = datetime.fromtimestamp(now_ms / 1000, tz=zone).replace(
        hour=0, minute=0, second=0, microsecond=0
    )
    day = _day_of(parts["year"], month, int(parts["day"]), today=today, ahead=ahead)
    if day is None:
        raise BadInput(f"{text!r}: there is no such day in the calendar; check day and month")
    if weekday is not None and day.weekday() != weekday:
        raise BadInput(
            f"{text!r}: {day.day} {day:%b %Y} is a {day:%A}; check it, or leave the weekday out"
        )
    return _at_clock(day, int(parts["hour"] or 0), int(parts["minute"] or 0), text)


def _month(word: str) -> int | None:
    """Return the number of a month by its name or the beginning of it."""
    found = [number for number, name in enumerate(MONTHS, start=1) if name.startswith(word)]
    return found[0] if found else None


def _day_of(
    year: str | None, month: int, day: int, *, today: datetime, ahead: bool
) -> datetime | None:
    """Return a day at midnight; None where the calendar has none."""
    found = []
    for one in range(today.year - 8, today.year + 9) if year is None else [int(year)]:
        try:
            found.append(datetime(one, month, day, tzinfo=today.tzinfo))
        except ValueError:  # also a 29 February in most years
            continue
    if year is None and ahead:
        found = [one for one in found if one.date() >= today.date()]
        return found[0] if found else None
    if year is None:
        found = [one for one in found if one.date() <= today.date()]
    return found[-1] if found else None


def _next_at(
    hour: int, minute: int, text: str, zone: tzinfo, from_ms: int, weekday: int | None = None
) -> int:
    """Return the first instant at or after `from_ms` at that time of day, and on that weekday."""
    day = datetime.fromtimestamp(from_ms / 1000, tz=zone)
    for later in range(9):
        there = day + timedelta(days=later)
        if weekday is None or there.weekday() == weekday:
            at_ms = _at_clock(there, hour, minute, text)
            if at_ms >= from_ms:
                return at_ms
    raise BadInput(f"{text!r} does not come within a week: give the date")  # pragma: no cover


def _on_day(clock: re.Match[str], text: str, zone: tzinfo, now_ms: int) -> int:
    day = datetime.fromtimestamp(now_ms / 1000, tz=zone) + timedelta(days=DAYS[clock[1]])
    return _at_clock(day, int(clock[2]), int(clock[3]), text)


def _at_clock(day: datetime, hour: int, minute: int, text: str) -> int:
    """Return the instant at that time of the day; of two by the same name the first."""
    try:
        moment = day.replace(hour=hour, minute=minute, second=0, microsecond=0, fold=0)
    except ValueError:
        raise BadInput(f"{text!r} is not a time of day: hours go to 23, minutes to 59") from None
    return _ms(moment, text)


def zone_of(name: str | None) -> tzinfo:
    """Return a time zone by its IANA name, UTC where none is given."""
    if name is None:
        return UTC
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError):
        raise BadInput(
            f"zone {name!r} is not known: write an IANA name such as Europe/Vienna or UTC"
        ) from None


def _ms(moment: datetime, text: str) -> int:
    """Return an instant [ms]; a wall clock's time must be one that it shows."""
    shown = datetime.fromtimestamp(moment.timestamp(), tz=moment.tzinfo)
    if (shown.hour, shown.minute) != (moment.hour, moment.minute):
        raise BadInput(
            f"{text!r} does not exist: the clocks go forward over it that night; write "
            f"{shown:%H:%M} of that day, or a time before it"
        )
    return round(moment.timestamp() * 1000)
