"""Reading the times people type: '16:40', 'yesterday 9:05', '2h ago', ISO 8601."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta, tzinfo
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from curewatch.errors import BadInput

AGO = re.compile(r"(?:(\d+(?:\.\d+)?)\s*d)?\s*(?:(\d+(?:\.\d+)?)\s*h)?\s*(?:(\d+)\s*min)?\s+ago")
CLOCK = re.compile(r"(?:(today|yesterday|tomorrow)\s+)?(\d{1,2}):(\d{2})")
DAYS = {"today": 0, None: 0, "yesterday": -1, "tomorrow": 1}


def instant_ms(text: str, *, zone: tzinfo, now_ms: int) -> int:
    """Return the instant [ms] a person typed.

    Parameters
    ----------
    text : str
        'now', '16:40' (today), 'yesterday 9:05', '2h ago', '1d 3h ago', or ISO 8601 with or
        without an offset.
    zone : tzinfo
        Where times without an offset are read.
    now_ms : int
        The moment [ms].

    Raises
    ------
    BadInput
        The text is none of these.
    """
    said = text.strip().lower()
    if said == "now":
        return now_ms
    ago = AGO.fullmatch(said)
    if ago and any(ago.groups()):
        days, hours, minutes = (float(part or 0) for part in ago.groups())
        return now_ms - round(((days * 24 + hours) * 60 + minutes) * 60_000)
    clock = CLOCK.fullmatch(said)
    if clock:
        return _on_day(clock, text, zone, now_ms)
    try:
        moment = datetime.fromisoformat(text.strip())
    except ValueError:
        raise BadInput(
            f"{text!r} is not a time: write 16:40, 'yesterday 9:05', '2h ago', or "
            "2026-03-01T16:40 (an offset such as +01:00 or Z may follow)"
        ) from None
    return _ms(moment if moment.tzinfo else moment.replace(tzinfo=zone))


def _on_day(clock: re.Match[str], text: str, zone: tzinfo, now_ms: int) -> int:
    day = datetime.fromtimestamp(now_ms / 1000, tz=zone) + timedelta(days=DAYS[clock[1]])
    try:
        return _ms(day.replace(hour=int(clock[2]), minute=int(clock[3]), second=0, microsecond=0))
    except ValueError:
        raise BadInput(f"{text!r} is not a time of day: hours go to 23, minutes to 59") from None


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


def _ms(moment: datetime) -> int:
    return round(moment.timestamp() * 1000)
