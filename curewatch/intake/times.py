"""A time as a message or a file writes it, told in UTC milliseconds."""

from __future__ import annotations

import math
import re
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from zoneinfo import ZoneInfo

EARLIEST_MS = 946_684_800_000  # 2000-01-01T00:00:00Z: before it, a clock was never set
_ISO = re.compile(r"\d{4}-\d\d-\d\d[Tt ]\d\d:\d\d", re.ASCII)
_UNIX_MS_FROM = 1e11  # seconds reach it in the year 5138, milliseconds in 1973
_UNIX_MS_TO = 1e14  # milliseconds reach it in the year 5138; above: microseconds or nonsense
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_EPOCH_NAIVE = datetime(1970, 1, 1)  # noqa: DTZ001 - the origin of local time, kept without zone
_MILLISECOND = timedelta(milliseconds=1)


def unix_ms(number: float) -> int:
    """Return Unix seconds or milliseconds, told apart by size, as milliseconds.

    Raises
    ------
    ValueError
        When `number` is neither.
    """
    if not math.isfinite(number) or not 0 <= number < _UNIX_MS_TO:
        raise ValueError(f"{number:.6g} is neither Unix seconds nor milliseconds")
    return round(number if number >= _UNIX_MS_FROM else number * 1000)


def iso_datetime(text: str) -> datetime:
    """Return ISO 8601 `text` (date and time, T or space, seconds optional) as a datetime.

    Without an offset in the text it carries no zone.

    Raises
    ------
    ValueError
        When it is not such a text, or no such date exists.
    """
    text = text.strip()
    if not _ISO.match(text):
        raise ValueError(f"{text[:40]!r} is not an ISO 8601 date and time")
    return datetime.fromisoformat(text.upper())


def utc_ms(moment: datetime) -> int:
    """Return an instant that carries its zone or offset as UTC epoch milliseconds."""
    return round((moment - _EPOCH) / _MILLISECOND)


def local_ms(naive: datetime) -> int:
    """Return a wall-clock time as milliseconds since 1970 on that same wall clock."""
    return round((naive - _EPOCH_NAIVE) / _MILLISECOND)


def both_readings_ms(naive: datetime, zone: ZoneInfo) -> tuple[int, int]:
    """Return the two instants a wall-clock time may mean in `zone` (PEP 495).

    They are equal except in the hour that comes twice when summer time ends (first, second
    passage) and in the one left out when it begins (after, before the step).
    """
    wall = local_ms(naive)
    first = naive.replace(tzinfo=zone).utcoffset() or timedelta()
    second = naive.replace(tzinfo=zone, fold=1).utcoffset() or timedelta()
    return wall - round(first / _MILLISECOND), wall - round(second / _MILLISECOND)
