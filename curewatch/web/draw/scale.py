"""Scales: from values to places on a drawing, and where their marks stand."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import tzinfo

HOUR_MS = 3_600_000
NOON = 12
STEPS_H = (1, 2, 3, 6, 12, 24, 48, 7 * 24, 14 * 24, 28 * 24, 91 * 24)


@dataclass(frozen=True, slots=True)
class Scale:
    """A straight scale: `low` lies at `start`, `high` at `end` on the drawing."""

    low: float
    high: float
    start: float
    end: float

    def at(self, value: float) -> float:
        """Return the place of a value."""
        span = self.high - self.low
        share = 0.0 if span == 0.0 else (value - self.low) / span
        return self.start + share * (self.end - self.start)

    def marks(self, about: int = 4) -> list[float]:
        """Return round values inside, about so many."""
        span = self.high - self.low
        if span <= 0.0:
            return [self.low]
        rough = span / max(about, 1)
        unit = 10.0 ** math.floor(math.log10(rough))
        step = next(unit * times for times in (1.0, 2.0, 5.0, 10.0) if unit * times >= rough)
        first = math.ceil(self.low / step - 1e-9)
        last = math.floor(self.high / step + 1e-9)
        return [number * step for number in range(first, last + 1)]


@dataclass(frozen=True, slots=True)
class Frame:
    """What every drawing over time is given.

    Attributes
    ----------
    name, title: its name on the page; what it shows.
    zone: the shop's.
    half_days: whether its clocks are told with am and pm.
    """

    name: str
    title: str
    zone: tzinfo
    half_days: bool = False


@dataclass(frozen=True, slots=True)
class TimeMark:
    """A mark of a time axis: its instant [ms], what stands there, whether it begins a day."""

    at_ms: int
    says: str
    is_day: bool


def time_marks(low_ms: int, high_ms: int, frame: Frame, *, most: int = 6) -> list[TimeMark]:
    """Return marks at whole local hours or days, none where the clocks jumped over it.

    Hours carry a clock, midnights the weekday and the day of the month.
    """
    span_h = (high_ms - low_ms) / HOUR_MS
    step_h = next((step for step in STEPS_H if span_h / step <= most), STEPS_H[-1])
    start = datetime.fromtimestamp(low_ms / 1000.0, frame.zone)
    at = start.replace(hour=0, minute=0, second=0, microsecond=0)
    found: dict[int, TimeMark] = {}
    while (at_ms := round(at.timestamp() * 1000.0)) <= high_ms:
        if at_ms >= low_ms:
            real = datetime.fromtimestamp(at_ms / 1000.0, frame.zone)
            found[at_ms] = _mark(at_ms, real, step_h, half_days=frame.half_days)
        at = _next(at, step_h)
    return list(found.values())


def _next(at: datetime, step_h: int) -> datetime:
    if step_h >= 24:  # noqa: PLR2004 - whole days keep to midnight across a change of the clocks
        return at + timedelta(days=step_h // 24)
    later = at.replace(tzinfo=None) + timedelta(hours=step_h)
    return later.replace(tzinfo=at.tzinfo)


def _mark(at_ms: int, at: datetime, step_h: int, *, half_days: bool) -> TimeMark:
    if step_h >= 28 * 24:
        return TimeMark(at_ms, f"{at.day} {at:%b}", is_day=True)
    if at.hour == 0 and at.minute == 0:
        return TimeMark(at_ms, f"{at:%a} {at.day}", is_day=True)
    if half_days and at.minute == 0:  # as short as an axis asks for
        said = f"{at.hour % 12 or 12} {'am' if at.hour < NOON else 'pm'}"
        return TimeMark(at_ms, said, is_day=False)
    return TimeMark(at_ms, f"{at.hour}:{at.minute:02d}", is_day=False)
