"""What a what-if does to the milestones of a piece, or to those of a stack of coats.

The times as it is are the piece's own. The same plausible law is followed through what the piece
has earned so far, through the outlook of its room as it is, and through the air as it would be; so
days saved are a range of differences, not a difference of ranges. A climate that is asked for is
kept from now on; what a heater or a fan adds to the room's usual day is added to its outlook.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from curewatch.science.outlook import Outlook
from curewatch.shop.ahead import Eta, LawAhead, ahead_in, law_ahead
from curewatch.shop.clocks import MS_PER_H
from curewatch.shop.clocks_ahead import Kept
from curewatch.shop.elapsed import elapsed
from curewatch.shop.laws import CLOCK_OF, READY_MILESTONES, required_h
from curewatch.shop.milestones import PieceClocks
from curewatch.shop.piece import Coat
from curewatch.shop.usual_air import day_hours, day_rates
from curewatch.shop.what_if import Range, mean_rate, plausible

if TYPE_CHECKING:
    from collections.abc import Sequence

    from curewatch.shop.clocks import RateLaw
    from curewatch.shop.finish import Finish, MilestoneName
    from curewatch.shop.milestones import Milestone
    from curewatch.shop.piece import Piece
    from curewatch.shop.room import Room
    from curewatch.shop.shop import Shop
    from curewatch.shop.what_if import Air

SAME_K, SAME_RH_FRAC = 0.1, 0.01  # what is nearer to the air as it is, is no change
NOTHING = Eta(None, None, None)
SHORT_H = 1.0 / 60.0


@dataclass(frozen=True, slots=True)
class Gain:
    """What a what-if does to one milestone of a piece that is still ahead.

    Attributes
    ----------
    name: the milestone.
    left_h: effective hours still to earn by the profile's own law [h].
    as_it_is: when [ms], as the piece's own milestone says.
    then: when, in the air as it would be [ms], with the same doubt; `early` and `late` also over
        what the plausible laws save.
    saved_h: hours on the wall clock saved [h], negative where it would take longer; None where
        one of the two cannot be told.
    pace: how many times as much as in the air of now an hour will likely earn as it is, where
        another climate is compared with that outlook; None elsewhere or not known.
    """

    name: MilestoneName
    left_h: float
    as_it_is: Eta
    then: Eta
    saved_h: Range | None
    pace: float | None = None


@dataclass(frozen=True, slots=True)
class StackHours:
    """How long a stack of coats would take from its last coat to a milestone, on the wall clock.

    Attributes
    ----------
    as_it_is, then: hours [h]; None where it is never reached or not known.
    saved_h: hours saved [h].
    """

    name: MilestoneName
    as_it_is: Range | None
    then: Range | None
    saved_h: Range | None


def piece_gains(
    shop: Shop, piece: Piece, before: Air, after: Air, *, room_after: Room, now_ms: int
) -> tuple[Gain, ...]:
    """Return what a what-if does to each milestone of a piece that is still ahead.

    Parameters
    ----------
    shop : Shop
        With the record of the rooms where the piece hung.
    piece : Piece
        Nothing is told of one that hangs in no room or has no coat by `now_ms`.
    before, after : Air
        The air of now and as it would be from `now_ms` on; or the room's days that lead up to
        `now_ms`, and the same as they would have been.
    room_after : Room
        How the air would move.
    now_ms : int
        The moment [ms].
    """
    name = piece.room_at(now_ms)
    if name is None or not piece.coats_until(now_ms):
        return ()
    finish, room = shop.finish_of(piece), shop.room(name)
    clocks = PieceClocks(
        piece,
        finish,
        book=shop.book,
        rooms=shop.rooms,
        now_ms=now_ms,
        learnt=shop.learnt_of(finish),
        ahead_of=ahead_in(shop, now_ms),
    )
    same = _same(before, after) and room_after.air == room.air
    gains = []
    for stone in (clocks.ready(one) for one in READY_MILESTONES):
        old = plausible(finish, CLOCK_OF[stone.name], room)
        asked = stone.required_hours
        if asked is None or not old or stone.reached_at is not None:
            continue
        new = plausible(finish, CLOCK_OF[stone.name], room_after)
        left = [asked - earned_h(shop, clocks, stone.name, draw) for draw in range(len(old))]
        ways = [law_ahead(shop, name, law, now_ms) for law in old]
        then = [
            way if same else _then(way, was, law, before=before, after=after, now_ms=now_ms)
            for way, was, law in zip(ways, old, new, strict=True)
        ]
        late_h = (stone.late_hours or asked) - (stone.reached_hours or 0.0)
        gain = _gain(stone, left, (ways, then), late_h=late_h, now_ms=now_ms)
        steady = not same and before.temp_c.size == after.temp_c.size == 1
        pace = _pace(gain, mean_rate(old[0], before), now_ms) if steady else None
        gains.append(replace(gain, pace=pace))
    return tuple(gains)


def _same(before: Air, after: Air) -> bool:
    """Return whether two climates, or sequences of them, are the same as far as anyone can tell."""
    if before.temp_c.shape != after.temp_c.shape or not np.isfinite(before.temp_c).any():
        return False
    return all(
        np.allclose(old, new, rtol=0.0, atol=near, equal_nan=True)
        for old, new, near in (
            (before.temp_c, after.temp_c, SAME_K),
            (before.rh_frac, after.rh_frac, SAME_RH_FRAC),
        )
    )


def _then(
    way: LawAhead | None,
    was: RateLaw,
    law: RateLaw,
    *,
    before: Air,
    after: Air,
    now_ms: int,
) -> LawAhead | Kept | None:
    """Return what one law earns in the air as it would be; None where that is not known."""
    if after.temp_c.size == 1:
        rate = mean_rate(law, after)
        return None if rate is None else Kept(rate)
    old, new = day_rates(was, before), day_rates(law, after)
    if way is None or old is None or new is None:
        return None
    outlook = way.outlook
    begun_h = (now_ms - way.start_ms) / MS_PER_H
    more = day_hours(new - old, np.maximum(outlook.edges_h - begun_h, 0.0))
    least, likely, most = (
        np.maximum.accumulate(np.maximum(sums + more, 0.0))
        for sums in (outlook.least_h, outlook.likely_h, outlook.most_h)
    )
    return replace(way, outlook=Outlook(outlook.edges_h, least, likely, most))


def _gain(
    stone: Milestone,
    left_h: Sequence[float],
    ways: tuple[Sequence[LawAhead | None], Sequence[LawAhead | Kept | None]],
    *,
    late_h: float,
    now_ms: int,
) -> Gain:
    """Return what becomes of one milestone; `ways` are each law's hours ahead, now and then."""
    old, new = (
        [
            None if way is None else way.when(now_ms, h).likely
            for way, h in zip(each, left_h, strict=True)
        ]
        for each in ways
    )
    saved, own = _saved(old, new), ways[1][0]
    then = NOTHING if own is None else own.when(now_ms, left_h[0], late_h)
    spread = _spread(saved, new, now_ms)
    early = None if then.early is None else max(then.early - spread[0], now_ms)
    late = None if then.late is None or None in new else then.late + spread[1]
    as_it_is = NOTHING if stone.eta is None else stone.eta
    return Gain(stone.name, left_h[0], as_it_is, Eta(early, then.likely, late), saved)


def _spread(saved: Range | None, draws: Sequence[int | None], now_ms: int) -> tuple[int, int]:
    """Return by how much the laws bring a milestone sooner and later than the profile's own [ms].

    What is saved counts, where it is known: the doubt as it is lies in the piece's own times.
    """
    if saved is None:
        waits = [(now_ms - at) / MS_PER_H for at in draws if at is not None]
        saved = Range.over(waits or [0.0])
    ends = (saved.high - saved.likely, saved.likely - saved.low)
    return round(ends[0] * MS_PER_H), round(ends[1] * MS_PER_H)


def _pace(gain: Gain, now_rate: float | None, now_ms: int) -> float | None:
    """Return how fast the outlook earns what is left, against the air of now [h/h over h/h]."""
    if gain.as_it_is.likely is None or not now_rate:
        return None
    wait_h = max((gain.as_it_is.likely - now_ms) / MS_PER_H, SHORT_H)
    return gain.left_h / wait_h / now_rate


def stack_hours(
    old: tuple[Finish, int], new: tuple[Finish, int], air: Air, *, room: Room
) -> tuple[StackHours, ...]:
    """Return how two stacks compare in one air: another finish, or fewer coats of the same.

    The ranges hold what is not known of the rates and of the profiles' own hours.

    Parameters
    ----------
    old, new : tuple of Finish and int
        The finish and how many usual coats of it.
    air : Air
        The air they would hang in.
    room : Room
        How it moves.
    """
    found = []
    for stone in READY_MILESTONES:
        before, after = (_wall_h(*stack, stone, air, room=room) for stack in (old, new))
        if not before and not after:
            continue
        if old[0] == new[0]:
            pairs = list(zip(before, after, strict=True))
        else:  # two finishes share no unknown: any law of the one may meet any of the other
            pairs = [(one, other) for one in before for other in after]
        saved = [one - other for one, other in pairs if one is not None and other is not None]
        found.append(
            StackHours(
                stone,
                _whole(before),
                _whole(after),
                Range.over(saved) if saved and len(saved) == len(pairs) else None,
            )
        )
    return tuple(found)


def _usual(count: int) -> tuple[Coat, ...]:
    return tuple(Coat(at_ms=0) for _ in range(count))


def earned_h(shop: Shop, clocks: PieceClocks, stone: MilestoneName, draw: int) -> float:
    """Return the hours earned since the last coat, had the clock followed this draw's law [h]."""

    def law_in(room: str) -> RateLaw:
        return plausible(clocks.finish, CLOCK_OF[stone], shop.room(room))[draw]

    hours = elapsed(
        shop.book,
        law_in,
        stays=clocks.piece.stays,
        start_ms=clocks.start_ms,
        stops_ms=np.array([float(clocks.now_ms)]),
    )
    return float(hours.value[-1])


def _saved(old: Sequence[int | None], new: Sequence[int | None]) -> Range | None:
    saved = [
        (then - now) / MS_PER_H
        for then, now in zip(old, new, strict=True)
        if then is not None and now is not None
    ]
    return Range.over(saved) if len(saved) == len(old) else None


def _wall_h(
    finish: Finish, coats: int, stone: MilestoneName, air: Air, *, room: Room
) -> tuple[float | None, ...]:
    """Return the hours on the wall clock to a milestone under each plausible law and rule [h]."""
    rules = [required_h(rule, stone, _usual(coats)) for rule in _rules(finish)]
    rates = [mean_rate(law, air) for law in plausible(finish, CLOCK_OF[stone], room)]
    return tuple(
        asked / rate if rate else None for asked in rules if asked is not None for rate in rates
    )


def _rules(finish: Finish) -> tuple[Finish, ...]:
    """Return the finish, and the same with all its hours at their low and at their high end."""

    def at(low: bool) -> Finish:  # noqa: FBT001 - private, and there are but two ends
        asked = {}
        for name, rule in finish.requirements.items():
            end = rule.hours.low if low else rule.hours.high
            value = rule.hours.value if end is None else end
            asked[name] = replace(rule, hours=replace(rule.hours, value=value))
        return replace(finish, requirements=asked)

    return finish, at(low=True), at(low=False)


def _whole(draws: Sequence[float | None]) -> Range | None:
    known = [draw for draw in draws if draw is not None]
    return Range.over(known) if known and len(known) == len(draws) else None
