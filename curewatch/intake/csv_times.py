"""The column of times in a logger's file, read as a whole: one way of writing, one zone."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING

from curewatch.errors import BadInput
from curewatch.intake.times import (
    EARLIEST_MS,
    both_readings_ms,
    iso_datetime,
    unix_ms,
    utc_ms,
)

if TYPE_CHECKING:
    from zoneinfo import ZoneInfo

_NUMBER = re.compile(r"\d+([.,]\d+)?", re.ASCII)
_PARTED = re.compile(
    r"(\d{1,4})([/.-])(\d{1,2})\2(\d{1,4})[ T,]+"  # the date, parted by / or . or -
    r"(\d{1,2}):(\d\d)(?::(\d\d)(?:[.,]\d+)?)?\s*([AaPp][Mm])?",
    re.ASCII,
)
_YEAR_DIGITS = 4
_LAST_MONTH = 12
_SERIAL_DAYS = range(20_000, 80_000)  # spreadsheets' days since 1900: the years 1954 to 2119
_ISO_HINT = "write the times as ISO 8601, such as 2024-03-05 14:30"


@dataclass(slots=True)
class Times:
    """The instants of a column.

    Attributes
    ----------
        at_ms: one per cell, None where it could not be read, UTC epoch [ms].
        faults: why not, by the cell's index.
        without_offset: cells that were read in the zone.
        doubled: of those, how many fell into the hour that comes twice.
        shifted: and how many into the hour that is left out, so were moved past it.
    """

    at_ms: list[int | None] = field(default_factory=list)
    faults: dict[int, str] = field(default_factory=dict)
    without_offset: int = 0
    doubled: int = 0
    shifted: int = 0


def read_times(cells: list[str], zone: ZoneInfo, name: str) -> Times:
    """Return the instants in `cells`; times without offset are read in `zone`.

    The hour that comes twice is told by the order of the file, whichever way it runs.

    Raises
    ------
    BadInput
        When days and months cannot be told apart over the whole column.
    """
    times = Times(at_ms=[None] * len(cells))
    day_first = _day_first(cells, name)
    naive: list[tuple[int, datetime]] = []
    for index, cell in enumerate(cells):
        try:
            moment = _moment(cell.strip(), day_first=day_first)
        except ValueError as error:
            times.faults[index] = str(error)
            continue
        if isinstance(moment, datetime) and moment.tzinfo is None:
            naive.append((index, moment))
        else:
            times.at_ms[index] = utc_ms(moment) if isinstance(moment, datetime) else moment
    _place(naive, zone, times)
    for index, at_ms in enumerate(times.at_ms):
        if at_ms is not None and at_ms < EARLIEST_MS:
            times.at_ms[index] = None
            times.faults[index] = f"{cells[index].strip()[:40]!r} is before the year 2000"
    return times


def _moment(cell: str, *, day_first: bool) -> datetime | int:
    """Return the cell as a datetime, with or without zone, or as epoch milliseconds."""
    if _NUMBER.fullmatch(cell):
        number = float(cell.replace(",", "."))
        if int(number) in _SERIAL_DAYS:
            raise ValueError(f"{cell} looks like a spreadsheet's day number; {_ISO_HINT}")
        return unix_ms(number)
    parted = _PARTED.fullmatch(cell)
    if parted is None:
        return iso_datetime(cell)
    return _parted_datetime(parted, day_first=day_first)


def _parted_datetime(parted: re.Match[str], *, day_first: bool) -> datetime:
    first, mark, second, third, hour, minute, sec, half = parted.groups()
    if len(first) == _YEAR_DIGITS:
        year, month, day = first, second, third
    elif len(third) != _YEAR_DIGITS:
        raise ValueError(f"'{parted[0]}' has no four-digit year; {_ISO_HINT}")
    elif day_first or mark == ".":  # with dots, the day comes first (common practice, no source)
        day, month, year = first, second, third
    else:
        month, day, year = first, second, third
    hours = int(hour) if half is None else int(hour) % 12 + 12 * (half[0] in "Pp")
    return datetime(int(year), int(month), int(day), hours, int(minute), int(sec or 0))  # noqa: DTZ001 - the zone follows


def _day_first(cells: list[str], name: str) -> bool:
    """Tell whether the day comes before the month in a column such as 05/03/2024."""
    pairs = {
        (int(parted[1]), int(parted[3]))
        for parted in map(_PARTED.fullmatch, map(str.strip, cells))
        if parted and parted[2] != "." and len(parted[1]) != _YEAR_DIGITS
    }
    if not pairs:
        return False
    days_first = any(first > _LAST_MONTH for first, _ in pairs)
    months_first = any(second > _LAST_MONTH for _, second in pairs)
    if days_first == months_first:
        first, second = min(pairs)
        why = "both orders occur" if days_first else "no day is above 12"
        raise BadInput(
            f"{name}: day and month cannot be told apart in times such as "
            f"{first:02d}/{second:02d} ({why}); {_ISO_HINT}"
        )
    return days_first


def _place(naive: list[tuple[int, datetime]], zone: ZoneInfo, times: Times) -> None:
    """Put wall-clock times on the UTC line, walking the file the way time runs in it."""
    times.without_offset = len(naive)
    if naive and naive[-1][1] < naive[0][1]:  # newest first
        naive.reverse()
    before_ms = 0
    for index, moment in naive:
        first_ms, second_ms = both_readings_ms(moment, zone)
        at_ms = first_ms
        if first_ms < second_ms:
            times.doubled += 1
            at_ms = second_ms if first_ms < before_ms else first_ms
        elif first_ms > second_ms:
            times.shifted += 1  # PEP 495: the offset before the step moves it past the gap
        times.at_ms[index] = at_ms
        before_ms = at_ms
