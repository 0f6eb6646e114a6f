"""What a cold night cost: effective hours that were not earned, and films that may be harmed.

Hours lost are counted twice: against the reference climate, and against what the room's own
outlook at the start of the stretch had led one to expect. Both are ranges over the plausible rate
laws of the finish. Time without readings is left out of both and said: what it cost is not known,
and where it is more than a fifth of the stretch nothing but its bounds is told.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

from curewatch.shop.ahead import law_ahead
from curewatch.shop.chill import TELLING_H, chilled_h
from curewatch.shop.climate import TEMP, TEMP_COVER
from curewatch.shop.clocks import MS_PER_H
from curewatch.shop.finish import ClockName, MilestoneName
from curewatch.shop.laws import CLOCK_OF, READY_MILESTONES
from curewatch.shop.milestones import PieceClocks
from curewatch.shop.overnight_hours import Stretch, measured, stretch_draws, within
from curewatch.shop.what_if import Range, plausible
from curewatch.shop.what_if_piece import earned_h

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from curewatch.shop.finish import Finish
    from curewatch.shop.overnight_hours import Draws
    from curewatch.shop.piece import Piece, Stay
    from curewatch.shop.shop import Shop

ENOUGH = 0.8
"""Share of a stretch that must be measured before its cost is told (our own choice)."""
LEAST_H = 1e-9  # fewer hours are rounding
NOWHERE_H = 1.0 / 60.0  # so long a piece may hang in no room before no bounds can be given


@dataclass(frozen=True, slots=True)
class Lost:
    """What a stretch cost on one clock.

    Attributes
    ----------
    clock: which clock.
    covered_h: hours that were measured [h]; all else is about these alone.
    earned: effective hours they earned [h]; None where nothing was measured.
    against_reference: effective hours short of the reference climate [h], negative where more.
    expected: effective hours that the outlook had promised for them [h]; None without an outlook.
    against_expected: effective hours short of that [h].
    unseen_h: hours that were not measured [h].
    bounds: least and most that the whole stretch can have cost against the reference climate [h]:
        unseen hours earned what the outlook had as most, or nothing; None where no outlook says.
    """

    clock: ClockName
    covered_h: float
    earned: Range | None
    against_reference: Range | None
    expected: Range | None
    against_expected: Range | None
    unseen_h: float = 0.0
    bounds: tuple[float, float] | None = None

    @property
    def told(self) -> bool:
        """Whether enough was measured to tell what the stretch cost."""
        whole_h = self.covered_h + self.unseen_h
        return self.against_reference is not None and self.covered_h >= ENOUGH * whole_h


@dataclass(frozen=True, slots=True)
class PieceLost:
    """What a stretch did to one piece.

    Attributes
    ----------
    tag, finish: which piece.
    next_up: its next milestone that was not reached by the end; None where none is left.
    later_h: by how much that comes later than was to be expected [h] on the wall clock, by the
        room's outlook; hours without readings earn nothing, as on the piece's clock. None too
        where they are more than a fifth of what it hung through.
    young: whether a coat was in its first days during the stretch.
    chilled_h: measured hours of the stretch that a young coat spent below the floor [h].
    floor_c: that floor [degC]; None where the finish has no young days.
    unseen_h: hours of the stretch without readings while a coat was young [h].
    hung_h, blind_h: hours of the stretch since its last coat, and how many of them were not
        measured [h]; 0 where it waits for nothing.
    """

    tag: str
    finish: str
    next_up: MilestoneName | None
    later_h: Range | None
    young: bool
    chilled_h: float
    floor_c: float | None
    unseen_h: float
    hung_h: float = 0.0
    blind_h: float = 0.0

    @property
    def harmed(self) -> bool | None:
        """Whether the film may be harmed for good; None where that cannot be told."""
        if self.chilled_h >= TELLING_H:
            return True
        return None if self.young and self.unseen_h >= TELLING_H else False


def lost_hours(
    shop: Shop, finish: Finish, stays: Sequence[Stay], stretch: Stretch, *, clock: ClockName
) -> Lost | None:
    """Return what a stretch cost on one of a finish's clocks; None where it has no such clock.

    Parameters
    ----------
    shop : Shop
        With the rooms' record from well before the stretch on.
    finish : Finish
        Whose clock.
    stays : sequence of Stay
        Where it hung; time in no room counts as not measured.
    stretch : Stretch
        From when to when.
    clock : ClockName
        Cure or drying.
    """
    draws = stretch_draws(shop, finish, stays, stretch, clock=clock)
    if draws is None:
        return None
    unseen_h = max(stretch.hours - draws.covered_h, 0.0)
    if draws.covered_h <= 0.0:
        return Lost(clock, 0.0, None, None, None, None, unseen_h)
    short = Range.over([draws.covered_h - one for one in draws.earned])
    if not draws.expected:
        return Lost(clock, draws.covered_h, Range.over(draws.earned), short, None, None, unseen_h)
    bounds = None
    if draws.unseen and unseen_h - draws.unseen_h <= NOWHERE_H:
        bounds = (short.low + unseen_h - draws.unseen_most, short.high + unseen_h)
    return Lost(
        clock,
        draws.covered_h,
        earned=Range.over(draws.earned),
        against_reference=short,
        expected=Range.over([*draws.expected, *draws.ends]),
        against_expected=Range.over(draws.lost),
        unseen_h=unseen_h,
        bounds=bounds,
    )


def piece_lost(shop: Shop, piece: Piece, stretch: Stretch) -> PieceLost | None:
    """Return what a stretch did to a piece; None where it had no coat by its end."""
    if not piece.coats_until(stretch.stop_ms):
        return None
    finish = shop.finish_of(piece)
    after = _clocks(shop, piece, stretch.stop_ms)
    chilled = chilled_h(after, shop.book)
    if piece.coats_until(stretch.start_ms):
        chilled -= chilled_h(_clocks(shop, piece, stretch.start_ms), shop.book)
    young = _young(piece, finish, stretch)
    unseen_h = 0.0
    if young is not None:
        unseen_h = max(young.hours - _seen_h(shop, piece, young), 0.0)
    ahead = _next_up(shop, piece, after, stretch)
    return PieceLost(
        tag=piece.tag,
        finish=finish.name,
        next_up=ahead.name,
        later_h=ahead.later_h,
        young=young is not None,
        chilled_h=max(chilled, 0.0),
        floor_c=None
        if finish.cure is None or finish.young_h is None
        else finish.cure.lower_limit_c.value,
        unseen_h=unseen_h,
        hung_h=ahead.hung_h,
        blind_h=ahead.blind_h,
    )


def coldest_c(shop: Shop, stays: Iterable[Stay], stretch: Stretch) -> float | None:
    """Return the lowest air temperature that was measured [degC]; None where none was."""
    lowest: list[float] = []
    for stay in stays:
        track = shop.book.climates.get(stay.room)
        start, stop = within(stay, stretch)
        if track is None or start >= stop:
            continue
        first, last = max(track.index(start), 0), max(track.index(stop - 1) + 1, 0)
        known = track.row(TEMP_COVER, first, last) > 0.0
        lowest += track.row(TEMP, first, last)[known].tolist()
    return min(lowest, default=None)


def _clocks(shop: Shop, piece: Piece, at_ms: int) -> PieceClocks:
    finish = shop.finish_of(piece)
    return PieceClocks(piece, finish, book=shop.book, rooms=shop.rooms, now_ms=at_ms)


def _seen_h(shop: Shop, piece: Piece, stretch: Stretch) -> float:
    """Return the hours of a stretch in which the air around a piece was measured [h]."""
    seen_ms = 0
    for stay in piece.stays:
        known = measured(shop, stay, stretch, partial(shop.book.air_gaps, stay.room))
        seen_ms += sum(stop - start for start, stop in known)
    return seen_ms / MS_PER_H


def _young(piece: Piece, finish: Finish, stretch: Stretch) -> Stretch | None:
    """Return the part of a stretch in which a coat was in its first days, None if none was."""
    if finish.young_h is None:
        return None
    young_ms = round(finish.young_h.value * MS_PER_H)
    spans = [
        (max(coat.at_ms, stretch.start_ms), min(coat.at_ms + young_ms, stretch.stop_ms))
        for coat in piece.coats_until(stretch.stop_ms)
    ]
    spans = [(start, stop) for start, stop in spans if start < stop]
    if not spans:
        return None
    return Stretch(min(start for start, _ in spans), max(stop for _, stop in spans))


@dataclass(frozen=True, slots=True)
class _Ahead:
    """A piece's next milestone by the stretch's end; fields as of `PieceLost`."""

    name: MilestoneName | None = None
    later_h: Range | None = None
    hung_h: float = 0.0
    blind_h: float = 0.0


def _next_up(shop: Shop, piece: Piece, after: PieceClocks, stretch: Stretch) -> _Ahead:
    """Return the milestone that was next by the stretch's end, and how much later it comes."""
    done = piece.coating_done(stretch.stop_ms)
    in_it = Stretch(max(after.start_ms, stretch.start_ms), stretch.stop_ms)
    for name in READY_MILESTONES:
        asked, _ = after.asks(name)
        if asked is None or (done and name is MilestoneName.RECOAT_OPENS):
            continue
        part = stretch_draws(shop, after.finish, piece.stays, in_it, clock=CLOCK_OF[name])
        if part is None:
            continue
        left = [asked - earned_h(shop, after, name, draw) for draw in range(len(part.earned))]
        if left[0] <= 0.0:
            continue
        blind_h = max(in_it.hours - part.covered_h, 0.0)
        later = None
        if part.expected and part.unseen and blind_h <= (1.0 - ENOUGH) * in_it.hours:
            later = _later(shop, piece, after.finish, part, left, name=name, hung=in_it)
        return _Ahead(name, later, in_it.hours, blind_h)
    return _Ahead()


def _later(  # noqa: PLR0913 - what was earned, what is left, and where
    shop: Shop,
    piece: Piece,
    finish: Finish,
    part: Draws,
    left_h: Sequence[float],
    *,
    name: MilestoneName,
    hung: Stretch,
) -> Range | None:
    """Return how much later a milestone comes by the outlook at a stretch's end [h].

    Of hours that would have been earned within the stretch the pace is the mean of what was to be
    expected of it.
    """
    at_ms, room = hung.stop_ms, piece.room_at(hung.stop_ms)
    if room is None:
        return None
    laws = plausible(finish, CLOCK_OF[name], shop.room(room))
    draws = [*range(len(laws)), 0, 0]  # the ends of the outlook are of the profile's own law
    found = []
    for draw, lost in zip(draws, part.missed, strict=True):
        ahead, left = law_ahead(shop, room, laws[draw], at_ms), left_h[draw]
        if ahead is None:
            return None
        comes, was_to = (ahead.when(at_ms, hours).likely for hours in (left, left - lost))
        if comes is None or was_to is None:
            return None
        expected = max(lost + part.earned[draw], LEAST_H)
        spare_h = max(lost - left, 0.0) * hung.hours / expected
        found.append((comes - was_to) / MS_PER_H + spare_h)
    return Range.over(found)
