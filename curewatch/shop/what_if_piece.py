"""What a what-if does to the milestones of a piece, or to those of a stack of coats.

The same plausible law is followed through what the piece has earned so far, through the outlook of
its room as it is, and through the air as it would be; so days saved are a range of differences,
not a difference of ranges.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from curewatch.science.outlook import LONGEST_H
from curewatch.shop.ahead import Eta, law_ahead
from curewatch.shop.clocks import MS_PER_H
from curewatch.shop.elapsed import elapsed
from curewatch.shop.laws import CLOCK_OF, READY_MILESTONES, required_h
from curewatch.shop.milestones import PieceClocks
from curewatch.shop.piece import Coat
from curewatch.shop.usual_air import day_rates, hours_until
from curewatch.shop.what_if import Range, mean_rate, plausible

if TYPE_CHECKING:
    from collections.abc import Sequence

    from curewatch.shop.clocks import RateLaw
    from curewatch.shop.finish import Finish, MilestoneName
    from curewatch.shop.piece import Piece
    from curewatch.shop.room import Room
    from curewatch.shop.shop import Shop
    from curewatch.shop.what_if import Air

FOR_EVER_H = float(LONGEST_H)


@dataclass(frozen=True, slots=True)
class Gain:
    """What a what-if does to one milestone of a piece that is still ahead.

    Attributes
    ----------
    name: the milestone.
    left_h: effective hours still to earn by the profile's own law [h].
    as_it_is: when, by the room's outlook [ms].
    then: when, in the air as it would be [ms]; `early` and `late` over the plausible laws.
    saved_h: hours on the wall clock saved [h], negative where it would take longer; None where
        one of the two cannot be told.
    """

    name: MilestoneName
    left_h: float
    as_it_is: Eta
    then: Eta
    saved_h: Range | None


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
    shop: Shop,
    piece: Piece,
    after: Air,
    *,
    room_after: Room,
    now_ms: int,
    before: Air | None = None,
) -> tuple[Gain, ...]:
    """Return what a what-if does to each milestone of a piece that is still ahead.

    Parameters
    ----------
    shop : Shop
        With the record of the rooms where the piece hung.
    piece : Piece
        Nothing is told of one that hangs in no room or has no coat by `now_ms`.
    after : Air
        The air as it would be from `now_ms` on: steady, or the days that lead up to `now_ms`.
    room_after : Room
        How the air would move.
    now_ms : int
        The moment [ms].
    before : Air or None
        The days that `after` was made from; None takes the room's outlook for the air as it is.
    """
    name = piece.room_at(now_ms)
    if name is None or not piece.coats_until(now_ms):
        return ()
    finish, room = shop.finish_of(piece), shop.room(name)
    clocks = PieceClocks(piece, finish, book=shop.book, rooms=shop.rooms, now_ms=now_ms)
    gains = []
    for stone in READY_MILESTONES:
        asked, _ = clocks.asks(stone)
        old = plausible(finish, CLOCK_OF[stone], room)
        new = plausible(finish, CLOCK_OF[stone], room_after)
        if asked is None or not old:
            continue
        left = [asked - earned_h(shop, clocks, stone, draw) for draw in range(len(old))]
        if left[0] <= 0.0:
            continue
        as_it_is, ends = _as_it_is(shop, room, old, left, before=before, now_ms=now_ms)
        then = [_then(law, after, h, now_ms) for law, h in zip(new, left, strict=True)]
        gains.append(Gain(stone, left[0], as_it_is, _eta(then), _saved(ends, then)))
    return tuple(gains)


def _as_it_is(
    shop: Shop,
    room: Room,
    laws: Sequence[RateLaw],
    left_h: Sequence[float],
    *,
    before: Air | None,
    now_ms: int,
) -> tuple[Eta, list[int | None]]:
    """Return when a milestone comes in the air as it is, and the same under each law [ms]."""
    if before is not None:
        ends = [_then(law, before, h, now_ms) for law, h in zip(laws, left_h, strict=True)]
        return _eta(ends), ends
    ahead = [law_ahead(shop, room.name, law, now_ms) for law in laws]
    looks = [
        Eta(None, None, None) if one is None else one.when(now_ms, h)
        for one, h in zip(ahead, left_h, strict=True)
    ]
    return looks[0], [look.likely for look in looks]


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


def _then(law: RateLaw, after: Air, left_h: float, now_ms: int) -> int | None:
    rates = day_rates(law, after)
    hours = None if rates is None else hours_until(rates, left_h, longest_h=FOR_EVER_H)
    return None if hours is None else round(now_ms + hours * MS_PER_H)


def _eta(draws: Sequence[int | None]) -> Eta:
    known = [at for at in draws if at is not None]
    late = max(known) if len(known) == len(draws) else None
    return Eta(min(known, default=None), draws[0], late)


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
