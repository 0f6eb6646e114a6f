"""Hours of a stretch: earned where they were measured, and promised by the outlook before it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from curewatch.shop.ahead import law_ahead
from curewatch.shop.clocks import HOURS, MS_PER_H
from curewatch.shop.what_if import plausible

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from curewatch.shop.climate import Floats
    from curewatch.shop.clocks import RateLaw
    from curewatch.shop.finish import ClockName, Finish
    from curewatch.shop.piece import Stay
    from curewatch.shop.shop import Shop


@dataclass(frozen=True, slots=True)
class Stretch:
    """From when to when [ms]."""

    start_ms: int
    stop_ms: int

    @property
    def hours(self) -> float:
        """How long [h]."""
        return (self.stop_ms - self.start_ms) / MS_PER_H


@dataclass(frozen=True, slots=True)
class Draws:
    """What each plausible law earned in a stretch, and was to earn by the outlook before it [h].

    `expected` is of the hours that were measured, `unseen` of those in a room that were not;
    `ends` and `unseen_ends` are the outlook's own least and most of them under the profile's law.
    Both of a pair are empty where there was no outlook.
    """

    covered_h: float
    unseen_h: float
    earned: tuple[float, ...]
    expected: tuple[float, ...] = ()
    ends: tuple[float, ...] = ()
    unseen: tuple[float, ...] = ()
    unseen_ends: tuple[float, ...] = ()

    @property
    def lost(self) -> tuple[float, ...]:
        """Expected less earned, law by law, then by the ends of the outlook [h]."""
        by_law = [e - g for e, g in zip(self.expected, self.earned, strict=True)]
        return (*by_law, *(end - self.earned[0] for end in self.ends))

    @property
    def missed(self) -> tuple[float, ...]:
        """The same, and what the unseen hours were to earn, for a clock that credits them none."""
        unseen = (*self.unseen, *self.unseen_ends)
        return tuple(lost + more for lost, more in zip(self.lost, unseen, strict=True))

    @property
    def unseen_most(self) -> float:
        """The most that the unseen hours were to earn [h]."""
        return max(*self.unseen, *self.unseen_ends)


def stretch_draws(
    shop: Shop, finish: Finish, stays: Sequence[Stay], stretch: Stretch, *, clock: ClockName
) -> Draws | None:
    """Add up a stretch under each plausible law; None where the finish has no such clock."""
    count = len(plausible(finish, clock, shop.room("")))
    if not count:
        return None
    earned = np.zeros(count)
    likely, ends = (np.zeros((2, count)), np.zeros((2, 2)))  # of hours seen, and of those unseen
    hours, told = [0.0, 0.0], [True, True]
    for stay in stays:
        for draw, law in enumerate(plausible(finish, clock, shop.room(stay.room))):
            track = shop.book.clock(stay.room, law)
            seen = measured(shop, stay, stretch, track.gaps)
            for kind, parts in enumerate((seen, _between(within(stay, stretch), seen))):
                for start, stop in parts:
                    if kind == 0:
                        sums = track.sums_at(np.array([float(start), float(stop)]))[HOURS]
                        earned[draw] += sums[1] - sums[0]
                    promised = _promised(shop, stay.room, law, stretch.start_ms, (start, stop))
                    hours[kind] += (stop - start) / MS_PER_H if draw == 0 else 0.0
                    if promised is None:
                        told[kind] = False
                        continue
                    likely[kind, draw] += promised[1]
                    ends[kind] += promised[[0, 2]] if draw == 0 else 0.0

    def told_of(kind: int, rows: Floats) -> tuple[float, ...]:
        return tuple(rows[kind].tolist()) if told[kind] else ()

    return Draws(
        covered_h=hours[0],
        unseen_h=hours[1],
        earned=tuple(earned.tolist()),
        expected=told_of(0, likely),
        ends=told_of(0, ends),
        unseen=told_of(1, likely),
        unseen_ends=told_of(1, ends),
    )


def _between(whole: tuple[int, int], parts: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
    """Return what `parts`, in order, leave of a stretch [ms]."""
    edges = [whole[0], *(at for part in parts for at in part), whole[1]]
    return [(a, b) for a, b in zip(edges[::2], edges[1::2], strict=True) if a < b]


def _promised(
    shop: Shop, room: str, law: RateLaw, from_ms: int, part: tuple[int, int]
) -> Floats | None:
    """Return the least, likely and most that an outlook gave for a part of a stretch [h].

    It knew the plans that had been entered by then, not those of the morning after.
    """
    ahead = law_ahead(shop, room, law, from_ms, as_known_then=True)
    if ahead is None:
        return None
    given = ahead.earned(*part)
    return np.array([float(one) for one in (given.least, given.likely, given.most)])


def measured(
    shop: Shop, stay: Stay, stretch: Stretch, gaps: Callable[[int, int], list[tuple[int, int]]]
) -> list[tuple[int, int]]:
    """Return the parts of a stay within a stretch that `gaps` leaves, before the newest reading."""
    at, stop = within(stay, stretch)
    frontier = shop.book.frontier_ms(stay.room)
    stop = at if frontier is None else min(stop, frontier)
    if at >= stop:
        return []
    found = []
    for begin, end in gaps(at, stop):
        found.append((at, begin))
        at = end
    found.append((at, stop))
    return [(begin, end) for begin, end in found if begin < end]


def within(stay: Stay, stretch: Stretch) -> tuple[int, int]:
    """Return the part of a stay within a stretch, as (start, stop) [ms]; empty where none is."""
    stop = stretch.stop_ms if stay.stop_ms is None else min(stay.stop_ms, stretch.stop_ms)
    return max(stay.start_ms, stretch.start_ms), stop
