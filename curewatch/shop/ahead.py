"""When milestones will likely be reached, by the room's own outlook: early, likely, late.

The outlook takes the room's last day and week, keeps the shape of its days, and carries a band from
its own past errors (`science.outlook`). A piece is taken to stay where it hangs now.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from curewatch.science.outlook import LONGEST_H, Outlook
from curewatch.shop.clocks import MS_PER_H
from curewatch.shop.finish import ClockName, MilestoneName
from curewatch.shop.hindcast import HOUR_S, hourly_rates
from curewatch.shop.laws import law_for

if TYPE_CHECKING:
    from curewatch.science.outlook import Ahead
    from curewatch.shop.assessment import PieceNow
    from curewatch.shop.clocks import RateLaw
    from curewatch.shop.shop import Shop


@dataclass(frozen=True, slots=True)
class Eta:
    """When a milestone will be reached [ms]; None where that is beyond what can be told."""

    early: int | None
    likely: int | None
    late: int | None


@dataclass(frozen=True, slots=True)
class LawAhead:
    """What a room will likely earn by one rate law after its record ends.

    Attributes
    ----------
    start_ms: where the record ends and the outlook begins [ms].
    outlook: effective hours from there on.
    """

    start_ms: int
    outlook: Outlook

    def earned(self, from_ms: float, to_ms: float) -> Ahead:
        """Return the least, likely and most effective hours of a stretch ahead [h]."""
        ends = self.outlook.effective_hours([self._h(from_ms), self._h(to_ms)])
        return type(ends)(
            *(np.asarray(sums[1] - sums[0]) for sums in (ends.least, ends.likely, ends.most))
        )

    def when(self, from_ms: float, hours: float) -> Eta:
        """Return by when `hours` [h] will have been earned from `from_ms` [ms] on."""
        so_far = self.outlook.effective_hours(self._h(from_ms))
        early = self.outlook.when(hours + float(so_far.most)).early
        likely = self.outlook.when(hours + float(so_far.likely)).likely
        late = self.outlook.when(hours + float(so_far.least)).late
        return Eta(
            *(
                None if h is None else round(self.start_ms + h * MS_PER_H)
                for h in (early, likely, late)
            )
        )

    def _h(self, at_ms: float) -> float:
        return min(max((at_ms - self.start_ms) / MS_PER_H, 0.0), float(LONGEST_H))


def law_ahead(shop: Shop, room: str, law: RateLaw, now_ms: int) -> LawAhead | None:
    """Return the outlook of one room and law; None where the room was never heard."""
    frontier = shop.book.frontier_ms(room)
    if frontier is None:
        return None
    start_ms = min(frontier, now_ms)
    outlook = Outlook.of(hourly_rates(shop.book.clock(room, law), start_ms), HOUR_S)
    return None if outlook is None else LawAhead(start_ms, outlook)


def etas(now: PieceNow, shop: Shop, now_ms: int) -> dict[MilestoneName, Eta]:
    """Return the outlook for every ready milestone of a piece that is not reached by `now_ms`."""
    found: dict[MilestoneName, Eta] = {}
    outlooks = {clock: _outlook(now, shop, clock, now_ms) for clock in now.clocks}
    for stone in now.milestones:
        outlook = outlooks.get(stone.clock)
        waits = stone.reached_at is None and stone.name is not MilestoneName.RECOAT_CLOSES
        if outlook is None or not waits or stone.required_hours is None:
            continue
        when = outlook.when(stone.required_hours - (stone.reached_hours or 0.0))
        found[stone.name] = Eta(
            *(
                None if hours is None else round(now_ms + hours * MS_PER_H)
                for hours in (when.early, when.likely, when.late)
            )
        )
    return found


def _outlook(now: PieceNow, shop: Shop, clock: ClockName, now_ms: int) -> Outlook | None:
    """Return the outlook of one of a piece's clocks in the room where it hangs."""
    piece = shop.pieces.get(now.tag)
    if clock is ClockName.WALL or now.room is None or piece is None:
        return None
    law = law_for(shop.finish_of(piece), clock, shop.room(now.room))
    frontier = shop.book.frontier_ms(now.room)
    if law is None or frontier is None:
        return None
    track = shop.book.clock(now.room, law)
    return Outlook.of(hourly_rates(track, min(frontier, now_ms)), HOUR_S)
