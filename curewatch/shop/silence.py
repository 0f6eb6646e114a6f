"""What a gap in a room's record may have earned: between the coldest plausible and its warmer end.

Ready dates credit a gap with nothing and limits credit it at its faster end; this says how far
apart the two lie, so that a person can judge whether to fill it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from curewatch.shop.climate import MINUTE_MS
from curewatch.shop.finish import ClockName
from curewatch.shop.hourly import HOUR_MS
from curewatch.shop.what_if import Air, Range, mean_rate, plausible

if TYPE_CHECKING:
    from curewatch.shop.climate import Climate
    from curewatch.shop.finish import Finish
    from curewatch.shop.shop import Shop

WEEK_H: Final = 7 * 24
CREDITED: Final = (
    "Ready dates credit a gap with nothing; limits that close credit it at its faster end."
)


@dataclass(frozen=True, slots=True)
class Silence:
    """What a gap may have earned of a finish's cure hours [h], both ends; `why` where unknown."""

    start_ms: int
    stop_ms: int
    earned_h: Range | None
    why: str


def silence(shop: Shop, room: str, finish: Finish, gap: tuple[int, int]) -> Silence:
    """
    Return what a gap may have earned.

    Parameters
    ----------
    shop : Shop
        With the room's record.
    room : str
        Which room.
    finish : Finish
        Whose cure clock.
    gap : (int, int)
        From when to when [ms].
    """
    start_ms, stop_ms = gap
    laws = plausible(finish, ClockName.CURE, shop.room(room))
    if not laws:
        return Silence(start_ms, stop_ms, None, "no clock answers for this finish")
    track = shop.book.climates.get(room)
    before = None if track is None else track.last_known(start_ms)
    after = None if track is None else track.at(stop_ms) or track.at(stop_ms + MINUTE_MS)
    if before is None:
        return Silence(start_ms, stop_ms, None, "nothing was heard before it")
    hours = (stop_ms - start_ms) / HOUR_MS
    known = [one for one in (before, after) if one is not None]
    rates = [mean_rate(law, _air(end)) for law in laws for end in known]
    told = [rate for rate in rates if rate is not None]
    if len(told) < len(rates):
        return Silence(start_ms, stop_ms, None, "humidity was not heard at its ends")
    week = shop.book.hourly(room, start_ms, hours=WEEK_H)
    cold = [float(np.nanmin(rate)) for law in laws for rate in [week.rates(law)] if _any(rate)]
    likely = sum(told[: len(known)]) / len(known)
    ends = Range(min(told + cold) * hours, likely * hours, max(told) * hours)
    why = (
        "between the slowest hour of the week before and the faster of its ends"
        if after is not None
        else "it has not ended: nobody knows yet what the room did"
    )
    return Silence(start_ms, stop_ms, ends if after is not None else None, why)


def _air(climate: Climate) -> Air:
    return Air.of(climate.temp_c, climate.rh_frac)


def _any(values: object) -> bool:
    return bool(np.isfinite(np.asarray(values, dtype=np.float64)).any())
