"""The clocks of a finish in the time ahead: from a room's outlook, or from a climate that is given.

To the band of the room's outlook comes the doubt of the hours themselves: sensors, the pull of
warmth, the air. Both are laid on together, which is on the safe side.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from curewatch.science.outlook import LONGEST_H
from curewatch.shop.ahead import Eta, law_ahead
from curewatch.shop.batch import pot_law
from curewatch.shop.clocks import BY_AIR, BY_EA, BY_RH, BY_TEMP, HOURS, MS_PER_H, Bias
from curewatch.shop.finish import ClockName
from curewatch.shop.laws import law_for
from curewatch.shop.waits import CONFIDENT_Z

if TYPE_CHECKING:
    from curewatch.shop.ahead import LawAhead
    from curewatch.shop.clocks import RateLaw
    from curewatch.shop.finish import Finish
    from curewatch.shop.room import Room
    from curewatch.shop.shop import Shop

LONGEST_KEPT_H = 3.0 * 365.0 * 24.0  # what takes longer is no time worth telling
WEEK_MS = 7 * 86_400_000
REFERENCE = (21.0, 0.5)  # climate whose doubt stands in where a room has earned nothing yet
Z_80 = 0.8416  # four times in five, one-sided (standard normal)
LEVELS = (50, 80, 90)


@dataclass(frozen=True, slots=True)
class Kept:
    """A climate that is kept from any time on: a clock in it runs at one rate [h/h]."""

    rate: float

    def when(self, from_ms: int, hours: float, late_hours: float | None = None) -> Eta:
        """Return by when `hours` [h] will have been earned from `from_ms` [ms] on."""
        sure_h = hours if late_hours is None else late_hours
        likely, late = self._at(from_ms, hours), self._at(from_ms, sure_h)
        return Eta(likely, likely, late)

    def _at(self, from_ms: int, hours: float) -> int | None:
        if hours <= 0.0:
            return from_ms
        if hours > self.rate * LONGEST_KEPT_H:
            return None
        return round(from_ms + hours / self.rate * MS_PER_H)

    def likely_h(self, from_ms: float, to_ms: float) -> float:
        """Return what is earned from one instant to another [h]."""
        return self.rate * (to_ms - from_ms) / MS_PER_H


@dataclass(frozen=True, slots=True)
class ClockAhead:
    """One clock in the time ahead.

    Attributes
    ----------
    ahead: what the room will likely earn, or a climate that is kept.
    doubt_rel: relative standard error of hours earned there.
    """

    ahead: LawAhead | Kept
    doubt_rel: float

    def by(self, from_ms: int, hours: float) -> Eta:
        """Return when `hours` [h] will be earned from `from_ms` [ms] on, doubt included."""
        wider = 1.0 + CONFIDENT_Z * self.doubt_rel
        ends = self.ahead.when(from_ms, hours, hours * wider)
        return Eta(self.ahead.when(from_ms, hours / wider).early, ends.likely, ends.late)

    @property
    def ends_ms(self) -> int | None:
        """Up to when anything can be told [ms]; None: a climate that is kept."""
        if isinstance(self.ahead, Kept):
            return None
        return round(self.ahead.start_ms + LONGEST_H * MS_PER_H)

    def likely_h(self, from_ms: float, to_ms: float) -> float:
        """Return the hours that will likely be earned from one instant to another [h]."""
        if isinstance(self.ahead, Kept):
            return self.ahead.likely_h(from_ms, to_ms)
        return float(self.ahead.earned(from_ms, to_ms).likely)


@dataclass(frozen=True, slots=True)
class RoomClocks:
    """Both clocks of a finish in a room ahead; None where the finish has no such clock.

    `pot` is the cure clock as a closed pot keeps it.
    """

    drying: ClockAhead | None
    cure: ClockAhead | None
    pot: ClockAhead | None = None


def room_clocks(shop: Shop, room: str, finish: Finish, now_ms: int) -> RoomClocks | None:
    """Return a finish's clocks ahead in a room; None where the room was never heard."""
    if shop.book.frontier_ms(room) is None:
        return None

    def clock(law: RateLaw | None) -> ClockAhead | None:
        ahead = None if law is None else law_ahead(shop, room, law, now_ms)
        if law is None or ahead is None:
            return None
        return ClockAhead(ahead, _doubt_in_room(shop, room, law, ahead.start_ms))

    return RoomClocks(*(clock(law) for law in _laws(finish, shop.room(room))))


def given_clocks(finish: Finish, room: Room, *, temp_c: float, rh_frac: float) -> RoomClocks:
    """Return a finish's clocks in a climate that is kept [degC, fraction].

    Their doubt is the finish's and that of a usual sensor; whether the room keeps it is not judged.
    """

    def clock(law: RateLaw | None) -> ClockAhead | None:
        if law is None:
            return None
        return ClockAhead(
            Kept(_rate(law, temp_c, rh_frac)), _doubt_at(law, temp_c, rh_frac, Bias())
        )

    return RoomClocks(*(clock(law) for law in _laws(finish, room)))


def _laws(finish: Finish, room: Room) -> tuple[RateLaw | None, ...]:
    """Return the laws of drying, of cure, and of a mixed pot where the finish gives it a life."""
    cure = law_for(finish, ClockName.CURE, room)
    pot = None if cure is None or finish.pot_life_h is None else pot_law(cure)
    return law_for(finish, ClockName.DRYING, room), cure, pot


def at_level(when: Eta, from_ms: int, level: int) -> int | None:
    """Return by when something holds so many times in a hundred [ms]: 50, 80 or 90.

    Between the likely and the late instant the wait is taken to be spread log-normally.
    """
    if level == LEVELS[0]:
        return when.likely
    if level == LEVELS[2] or when.likely is None or when.late is None:
        return when.late
    near, far = when.likely - from_ms, when.late - from_ms
    if near <= 0.0:
        return when.late
    return round(from_ms + near * math.pow(far / near, Z_80 / CONFIDENT_Z))


def _rate(law: RateLaw, temp_c: float, rh_frac: float) -> float:
    return float(law.rates(np.array([temp_c]), np.array([rh_frac]))[0])


def _doubt_at(law: RateLaw, temp_c: float, rh_frac: float, bias: Bias) -> float:
    rate = _rate(law, temp_c, rh_frac)
    if rate <= 0.0:
        return 0.0
    spread = law.spread(np.array([temp_c]), np.array([rh_frac]), bias)
    parts = [float(part[0]) for part in (spread.temp, spread.rh, spread.ea, spread.air)]
    return math.sqrt(sum(part**2 for part in parts)) / rate


def _doubt_in_room(shop: Shop, room: str, law: RateLaw, until_ms: int) -> float:
    """Return the relative doubt of a room's hours: the largest of its record's and its plans'."""
    found = [_doubt_of_record(shop, room, law, until_ms)]
    here = shop.book.climates[room].last_known(until_ms)
    for plan in shop.plans.get(room, ()):
        if plan.stop_ms is not None and plan.stop_ms <= until_ms:
            continue
        temp_c = _told(plan.temp_c, None if here is None else here.temp_c, REFERENCE[0])
        rh_frac = _told(plan.rh_frac, None if here is None else here.rh_frac, REFERENCE[1])
        found.append(_doubt_at(law, temp_c, rh_frac, shop.book.bias(room, until_ms, rh_frac)))
    return max(found)


def _told(*values: float | None) -> float:
    return next(value for value in values if value is not None)


def _doubt_of_record(shop: Shop, room: str, law: RateLaw, until_ms: int) -> float:
    """Return the relative doubt of what the room earned in its last week."""
    ends = np.array([float(until_ms - WEEK_MS), float(until_ms)])
    sums = np.diff(shop.book.clock(room, law).sums_at(ends))[:, 0]
    if sums[HOURS] <= 0.0:
        return _doubt_at(law, *REFERENCE, shop.book.bias(room, until_ms, REFERENCE[1]))
    return float(np.sqrt(np.sum(sums[[BY_TEMP, BY_RH, BY_EA, BY_AIR]] ** 2)) / sums[HOURS])
