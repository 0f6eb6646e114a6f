"""When hours still needed will likely have been earned, by the room's own outlook and its plans.

The outlook takes the room's last day and week, keeps the shape of its days, and carries a band from
its own past errors (`science.outlook`). It is taken at a whole hour from the hours before it, so
that the daemon, a replay and the watch say the same whenever they look. A piece is taken to stay
where it hangs now.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from curewatch.science.outlook import LONGEST_H, Outlook
from curewatch.science.outlook_climate import planned_rates
from curewatch.shop.clocks import MS_PER_H
from curewatch.shop.hindcast import HOUR_S, hourly_rates
from curewatch.shop.hourly import HOUR_MS
from curewatch.shop.room_plan import known_plans, planned_climate

if TYPE_CHECKING:
    from curewatch.science.outlook import Ahead
    from curewatch.shop.clocks import RateLaw
    from curewatch.shop.piece_clocks import AheadOf
    from curewatch.shop.room_plan import RoomPlan
    from curewatch.shop.shop import Shop

SETTLES_MS = 30 * 60_000  # so far back the slowest of a room's sensors may add to its record
FIRST_HOURS = 24  # of a room that has no whole hour behind it yet


@dataclass(frozen=True, slots=True)
class Eta:
    """When a milestone will be reached [ms]; None where that is beyond what can be told.

    Attributes
    ----------
    early: if the room earns as much as its band says; None too once the rule is met.
    likely: as the room usually does; None too once the rule is met.
    late: if it earns as little as its band says, for the cautious hours with their doubt.
    """

    early: int | None
    likely: int | None
    late: int | None

    @property
    def told(self) -> bool:
        """Whether it names any time at all."""
        return (self.early, self.likely, self.late) != (None, None, None)


@dataclass(frozen=True, slots=True)
class LawAhead:
    """What a room will likely earn by one rate law after its record ends.

    Attributes
    ----------
    start_ms: where the outlook begins [ms].
    outlook: effective hours from there on.
    planned: whether someone has said what the room will be like.
    first_hour: whether the room has no whole hour behind it yet; the next reading may change all.
    """

    start_ms: int
    outlook: Outlook
    planned: bool = False
    first_hour: bool = False

    def earned(self, from_ms: float, to_ms: float) -> Ahead:
        """Return the least, likely and most effective hours of a stretch ahead [h]."""
        ends = self.outlook.effective_hours([self._h(from_ms), self._h(to_ms)])
        return type(ends)(
            *(np.asarray(sums[1] - sums[0]) for sums in (ends.least, ends.likely, ends.most))
        )

    def gained(self, from_ms: float, to_ms: float) -> float:
        """Return the most effective hours of a stretch ahead that a limit is counted by [h]."""
        ahead = self.earned(from_ms, to_ms)
        return float(max(ahead.most, ahead.likely))

    def when(self, from_ms: int, hours: float, late_hours: float | None = None) -> Eta:
        """Return by when `hours` [h] will have been earned from `from_ms` [ms] on.

        `late_hours` are what the late end has to earn, where that is more or less [h].
        """
        so_far = self.outlook.effective_hours(self._h(from_ms))
        asked = hours if late_hours is None else late_hours
        likely = self._at(from_ms, self.outlook.when(hours + float(so_far.likely)).likely)
        early = self._at(from_ms, self.outlook.when(hours + float(so_far.most)).early)
        late = self._at(from_ms, self.outlook.when(asked + float(so_far.least)).late)
        if likely is not None:  # the band's two ends may not rise as steeply in every stretch
            early = likely if early is None else min(early, likely)
            late = None if late is None else max(late, likely)
        return Eta(early, likely, late)

    def _at(self, from_ms: int, hours: float | None) -> int | None:
        return None if hours is None else max(round(self.start_ms + hours * MS_PER_H), from_ms)

    def _h(self, at_ms: float) -> float:
        return min(max((at_ms - self.start_ms) / MS_PER_H, 0.0), float(LONGEST_H))


def ahead_in(shop: Shop, now_ms: int) -> AheadOf:
    """Return the outlooks of a shop's rooms at a moment, as a piece's clocks ask for them."""
    return lambda room, law: law_ahead(shop, room, law, now_ms)


def law_ahead(
    shop: Shop, room: str, law: RateLaw, now_ms: int, *, as_known_then: bool = False
) -> LawAhead | None:
    """Return the outlook of one room and law; None where nothing can be told.

    It holds for an hour, and as long as the plans and the record before it stay as they are. A
    room without a whole hour behind it gives what its minutes say. `as_known_then` leaves out the
    plans that people entered after `now_ms`.
    """
    frontier = shop.book.frontier_ms(room)
    if frontier is None:
        return None
    plans = shop.plans.get(room, ())
    if as_known_then:
        plans = known_plans(plans, now_ms)
    known_ms = min(frontier, now_ms)
    at = partial(_kept, shop, room, law, plans=plans)
    found = at(start_ms=outlook_start_ms(known_ms))
    return at(start_ms=known_ms, first_hour=True) if found is None else found


def outlook_start_ms(known_ms: int) -> int:
    """Return the whole hour at which an outlook is taken of a record that ends at `known_ms`."""
    return (known_ms - SETTLES_MS) // HOUR_MS * HOUR_MS


def _kept(
    shop: Shop,
    room: str,
    law: RateLaw,
    *,
    plans: tuple[RoomPlan, ...],
    start_ms: int,
    first_hour: bool = False,
) -> LawAhead | None:
    """Return an outlook, worked out once for the same record and plans."""
    book = shop.book

    def taken() -> LawAhead | None:
        hours, climate = book.hourly(room, start_ms), planned_climate(plans, start_ms)
        planned = planned_rates(
            hours.temp_c, hours.vapour_pressure_pa, HOUR_S, planned=climate, rates=law.rates
        )
        rates = hours.rates(law)
        if first_hour:
            rates = hourly_rates(book.clock(room, law), start_ms, hours=FIRST_HOURS)
        outlook = Outlook.of(rates, HOUR_S, planned=planned) if np.isfinite(rates).any() else None
        return None if outlook is None else LawAhead(start_ms, outlook, bool(planned), first_hour)

    question = (law, first_hour)
    return book.aheads.get(room, question, facts=(plans,), until_ms=start_ms, work_out=taken)
