"""Until when a room is likely fit to spray, by the outlook of its air: for a plan's evening.

The likely air is judged at the full hours of the outlook. What cannot be told does not turn a day;
hours beyond the outlook are taken to go as those of its last day.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from curewatch.shop.clocks import MS_PER_H
from curewatch.shop.spray_ahead import Ahead
from curewatch.shop.spray_here import conditions_of, heard_at
from curewatch.shop.spray_outlook import PER_HOUR, air_ahead
from curewatch.shop.spray_terms import Verdict

if TYPE_CHECKING:
    from curewatch.shop.finish import Finish
    from curewatch.shop.shop import Shop

DAY_H = 24
LOOK_H = DAY_H  # from an instant on; what turns later is another day's
LAST_HOUR = 8 * DAY_H  # a week that people have said something of, and a day


@dataclass(slots=True)
class Evening:
    """A room's fitness to spray a finish, judged an hour at a time and no hour twice."""

    ahead: Ahead
    _unfit: dict[int, bool] = field(default_factory=dict)

    def fit_until(self, from_ms: int) -> int | None:
        """Return when the room is likely no longer fit, from an instant on [ms].

        The instant itself where it is not fit then; None where it stays fit for a day.
        """
        now_ms = self.ahead.air.now_ms
        first = max(int((from_ms - now_ms) // MS_PER_H), 0)
        for hour in range(first, first + LOOK_H + 1):
            if self._is_unfit(hour):
                return max(round(now_ms + hour * MS_PER_H), from_ms)
        return None

    def _is_unfit(self, later: int) -> bool:
        beyond = max(later - LAST_HOUR, 0)
        hour = later - -(-beyond // DAY_H) * DAY_H  # the same time of day, of the last that is told
        if hour not in self._unfit:
            self._unfit[hour] = self.ahead.likely(hour * PER_HOUR).verdict is Verdict.WAIT
        return self._unfit[hour]


def evening_of(shop: Shop, room: str, finish: Finish, now_ms: int) -> Evening | None:
    """Return a room's fitness ahead; None where it was never heard."""
    air = air_ahead(shop, room, now_ms, most_h=LAST_HOUR)
    if air is None:
        return None
    climate, fresh = heard_at(shop, room, now_ms)
    here = conditions_of(shop, room, climate if fresh else None)
    return Evening(Ahead(finish, here, air, shop.words))
