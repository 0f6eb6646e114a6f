"""The hours somebody is in the shop, on its wall clock; and what is night where nobody said."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from curewatch.errors import BadInput

if TYPE_CHECKING:
    from datetime import date, tzinfo

DAY_MIN = 24 * 60


@dataclass(frozen=True, slots=True)
class ShopHours:
    """From when to when somebody is there, in minutes after midnight on the wall clock.

    Attributes
    ----------
    opens_min, closes_min: [min], the first before the second.
    zone: whose wall clock.
    """

    opens_min: int
    closes_min: int
    zone: tzinfo

    def __post_init__(self) -> None:
        """Refuse a day that ends before it begins."""
        if not 0 <= self.opens_min < self.closes_min <= DAY_MIN:
            raise BadInput("the shop's day must end after it begins: give hours such as 8:00-18:00")

    def opening(self, day: date) -> int:
        """Return when the shop opens on a day [ms]."""
        return _instant(day, self.opens_min, self.zone)

    def closing(self, day: date) -> int:
        """Return when it closes on a day [ms]."""
        return _instant(day, self.closes_min, self.zone)

    def day_of(self, at_ms: int) -> date:
        """Return the day of an instant [ms] on the wall clock."""
        return datetime.fromtimestamp(at_ms / 1000, tz=self.zone).date()

    def is_open(self, at_ms: int) -> bool:
        """Whether somebody is there at an instant [ms]."""
        day = self.day_of(at_ms)
        return self.opening(day) <= at_ms < self.closing(day)

    def next_morning(self, at_ms: int) -> int:
        """Return when the shop opens on the day after an instant's [ms]."""
        return self.opening(self.day_of(at_ms) + timedelta(days=1))

    def first_fit(self, at_ms: int, length_ms: int) -> int:
        """Return the first instant from `at_ms` on at which a job of that length fits a day [ms].

        Raises
        ------
        BadInput
            When it is longer than the day.
        """
        day = self.day_of(at_ms)
        for _ in range(3):  # a day that a clock change makes short is passed over
            start = max(at_ms, self.opening(day))
            if start + length_ms <= self.closing(day):
                return start
            day += timedelta(days=1)
        raise BadInput("a coat takes longer than the shop is open: give longer hours with --day")


def _instant(day: date, minute: int, zone: tzinfo) -> int:
    wall = datetime(day.year, day.month, day.day, tzinfo=zone) + timedelta(minutes=minute)
    return round(wall.timestamp() * 1000)
