"""Milestones of a piece: which are reached, since when, and when the others will be.

Ready milestones have a nominal instant, when the profile's hours are earned, and a cautious one,
when they are earned even at the late end of the doubt: hours >= required (1 + 1.28 se). Ahead they
have an early, a likely and a late instant by the room's outlook. Limits that close use the early
end: the wall clock, or effective hours with gaps credited at the faster end plus 1.28 standard
errors and then what the room earns at most, whichever comes first.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from curewatch.shop.ahead import Eta
from curewatch.shop.climate import MINUTE_MS
from curewatch.shop.clocks import MS_PER_H
from curewatch.shop.finish import ClockName, MilestoneName
from curewatch.shop.laws import CLOCK_OF, READY_MILESTONES, required_h
from curewatch.shop.piece_clocks import RunningClocks, crossing
from curewatch.shop.sink import Settling, decides, settling
from curewatch.shop.waits import CONFIDENT_Z, Need, need, slowness

if TYPE_CHECKING:
    from collections.abc import Mapping

    from curewatch.science.learning import Learnt
    from curewatch.shop.book import ClockBook
    from curewatch.shop.finish import Finish
    from curewatch.shop.piece import Piece
    from curewatch.shop.piece_clocks import AheadOf, ClockReading
    from curewatch.shop.room import Room

DAY_MS = 86_400_000
ROUNDING_H = 1e-6  # far more than sums are rounded by: near a threshold the search itself decides
NEVER_MS = 2**62
FILM_MILESTONES = (MilestoneName.BUFF, MilestoneName.FULL_CURE)  # a cured film lies still


@dataclass(frozen=True, slots=True)
class Milestone:
    """One milestone of a piece as it stands.

    Attributes
    ----------
    name, clock: which, and on which clock.
    required_hours: effective hours asked for [h]; None where the finish gives no answer.
    reached_hours: what that clock shows [h]; None where it does not run.
    reached_at: instant [ms] the nominal hours were earned, None if not yet.
    cautious_at: instant [ms] they were earned even at the cautious end, None if not yet.
    eta: the same ahead; None where both have been, or nothing can be told. Of a closing limit
        `early` is the end to go by, `late` the wall clock.
    cautious_hours: what the cautious end asks for before doubt [h]: a film may ask more, outcomes
        more or less.
    late_hours: the same with the doubt of the hours earned so far [h].
    planned: whether `eta` rests on what someone said the room will be like.
    """

    name: MilestoneName
    clock: ClockName
    required_hours: float | None
    reached_hours: float | None
    reached_at: int | None = None
    cautious_at: int | None = None
    eta: Eta | None = None
    cautious_hours: float | None = None
    late_hours: float | None = None
    planned: bool = False

    @property
    def eta_at(self) -> int | None:
        """When the nominal instant is expected [ms]."""
        return None if self.eta is None else self.eta.likely

    @property
    def eta_cautious_at(self) -> int | None:
        """When the cautious instant is expected [ms]: of a limit its early end, else the late."""
        if self.eta is None:
            return None
        limit = self.name is MilestoneName.RECOAT_CLOSES
        return self.eta.early if limit else self.eta.late


@dataclass(frozen=True, slots=True)
class Closing:
    """When a limit closes: the clock that closes it first, nominal and early instants [ms].

    `left_h` are the cure hours still left at the early end by now [h].
    """

    clock: ClockName
    nominal_ms: int
    early_ms: int
    left_h: float


class PieceClocks(RunningClocks):
    """A piece's clocks, and what its finish and its coats ask of them."""

    def __init__(  # noqa: PLR0913 - what a piece is judged by, each a fact of its own
        self,
        piece: Piece,
        finish: Finish,
        *,
        book: ClockBook,
        rooms: Mapping[str, Room],
        now_ms: int,
        learnt: Learnt | None = None,
        ahead_of: AheadOf | None = None,
    ) -> None:
        """Take the piece's facts up to `now_ms`; it must have at least one coat by then.

        `learnt` is what outcomes say of the finish's pace, None where there are none; `ahead_of`
        gives the outlook of a room and a law, None where nobody asks for the time ahead.
        """
        super().__init__(piece, finish, book=book, rooms=rooms, now_ms=now_ms, ahead_of=ahead_of)
        self._learnt = learnt
        self._undried: dict[MilestoneName, float] = {}
        self._closings: dict[float, Closing] = {}
        self._settling: tuple[Settling | None] | None = None

    def settling(self) -> Settling | None:
        """Return what the coats still hold; None where the finish has no film model."""
        if self._settling is None:
            found = None
            if self.finish.film is not None:
                laid_ms = [coat.at_ms for coat in self.coats]
                along = self.hours(ClockName.CURE, np.array(laid_ms, dtype=np.float64), laid_ms[0])
                slow = slowness(self._learnt)
                if along is not None:
                    found = settling(self.finish, self.coats, along.value, slow)
            self._settling = (found,)
        return self._settling[0]

    def asks(self, name: MilestoneName) -> tuple[float | None, Need]:
        """Return the hours that a milestone asks for by its rule [h], and at its cautious end.

        The film has its say from buffing on. Where its figures are known here it decides beside
        the clock; where they are not, it only makes the cautious end later.
        """
        asked, film_h = required_h(self.finish, name, self.coats), 0.0
        if asked is None:
            return None, Need(0.0)
        if CLOCK_OF[name] is ClockName.DRYING:
            asked += self.undried_h(name)
        film = self.finish.film
        if film is not None and name in FILM_MILESTONES:
            stack = self.settling()
            film_h = 0.0 if stack is None else stack.under_h
        cautious = need(
            self.finish, name, self.coats, rule_h=asked, film_h=film_h, learnt=self._learnt
        )
        return (max(asked, film_h) if film is not None and decides(film) else asked), cautious

    def undried_h(self, name: MilestoneName) -> float:
        """Return the drying hours that the coats below still asked for when the last was laid [h].

        A thin coat over a wet one does not dry the sooner for being thin.
        """
        if name not in self._undried:
            laid_ms = np.array([coat.at_ms for coat in self.coats], dtype=np.float64)
            along = self.hours(ClockName.DRYING, laid_ms, self.coats[0].at_ms)
            left_h = 0.0
            for number in range(1, len(self.coats) if along is not None else 0):
                own_h = required_h(self.finish, name, self.coats[:number]) or 0.0
                dried_h = 0.0 if along is None else along.value[number] - along.value[number - 1]
                left_h = max(left_h + own_h - float(dried_h), 0.0)
            self._undried[name] = left_h
        return self._undried[name]

    def ready(self, name: MilestoneName) -> Milestone:
        """Return a ready milestone: reached, cautiously reached, or ahead."""
        clock, (asked, cautious_need) = CLOCK_OF[name], self.asks(name)
        reading = self.reading(clock)
        if asked is None or reading is None:
            shown = ClockName.DOSE if reading is None else clock
            return Milestone(
                name, shown, asked, None if reading is None else reading.effective_hours
            )
        reached, cautious = self._been(clock, reading, asked, cautious_need)
        late_h = float(cautious_need.at(reading.relative_error))
        eta = None
        if cautious is None:
            eta = self._eta(clock, reading, None if reached is not None else asked, late_h)
        return Milestone(
            name,
            clock,
            asked,
            reading.effective_hours,
            reached,
            cautious,
            eta,
            float(cautious_need.at(0.0)),
            late_h,
            planned=eta is not None and self._is_planned(clock),
        )

    def _been(
        self, clock: ClockName, reading: ClockReading, asked: float, cautious_need: Need
    ) -> tuple[int | None, int | None]:
        """Return when the hours were earned by now, nominally and at their cautious end [ms]."""
        earned = reading.effective_hours >= asked - ROUNDING_H
        reached = self.reached_at(clock, asked) if earned else None
        cautious_h, near = float(cautious_need.at(0.0)), reached
        if cautious_h != asked:  # from there on it is worth looking at every minute
            near = self.reached_at(clock, cautious_h)
        return reached, None if near is None else self.cautious_at(clock, cautious_need, near)

    def _eta(
        self, clock: ClockName, reading: ClockReading, asked: float | None, late_h: float
    ) -> Eta | None:
        """Return when hours will be earned; `asked` is None where only the late end is ahead."""
        ahead, have = self.ahead(clock), reading.effective_hours
        if ahead is None:
            return None
        if asked is None:
            eta = Eta(None, None, ahead.when(self.now_ms, late_h - have).late)
        else:
            eta = ahead.when(self.now_ms, asked - have, late_h - have)
        return eta if eta.told else None

    def _is_planned(self, clock: ClockName) -> bool:
        ahead = self.ahead(clock)
        return ahead is not None and ahead.planned

    def closes(self, asked_h: float) -> Closing:
        """Return when a limit of `asked_h` closes, from the early end of what is known."""
        if asked_h not in self._closings:
            self._closings[asked_h] = self._closing(asked_h)
        return self._closings[asked_h]

    def _closing(self, asked_h: float) -> Closing:
        wall_ms = round(self.start_ms + asked_h * MS_PER_H)
        last_ms = min(self.now_ms, wall_ms)
        so_far = self.hours(ClockName.CURE, np.array([float(last_ms)]))
        if so_far is None:
            return Closing(ClockName.WALL, wall_ms, wall_ms, 0.0)
        left_h = [asked_h - float(so_far.early(z)[-1]) for z in (0.0, CONFIDENT_Z)]
        fast = float(so_far.fast[-1])
        doubt = (float(so_far.early(1.0)[-1]) - fast) / fast if fast > 0.0 else 0.0
        nominal = self._closing_at(asked_h, 0.0, last_ms, left_h[0])
        # What is left is earned with the doubt of what has been: as if less of it were left.
        left_early_h = left_h[1] / (1.0 + CONFIDENT_Z * min(doubt, 1.0))
        early = min(self._closing_at(asked_h, CONFIDENT_Z, last_ms, left_early_h), nominal)
        clock = ClockName.CURE if early < wall_ms else ClockName.WALL
        return Closing(clock, min(nominal, wall_ms), min(early, wall_ms), max(left_h[1], 0.0))

    def _closing_at(self, asked_h: float, z: float, last_ms: int, left_h: float) -> int:
        """Return when cure hours with gaps credited fast, plus z se, pass `asked_h` [ms].

        Ahead of now the room earns what it likely will, or at the early end the most it may.
        """
        if left_h > 0.0:
            ahead = self.ahead(ClockName.CURE)
            if ahead is None:
                return NEVER_MS
            eta = ahead.when(last_ms, left_h)
            at_ms = eta.early if z > 0.0 else eta.likely
            return NEVER_MS if at_ms is None else at_ms
        stops = np.append(np.arange(self.start_ms, last_ms, MINUTE_MS), last_ms).astype(np.float64)
        along = self.hours(ClockName.CURE, stops)
        assert along is not None  # noqa: S101 - the clock has just been read
        over = along.early(z) - asked_h
        return round(crossing(stops, over, int(np.flatnonzero(over >= 0.0)[0])))


def milestones(clocks: PieceClocks) -> tuple[Milestone, ...]:
    """Return every milestone of a piece, in order."""
    found = {name: clocks.ready(name) for name in READY_MILESTONES}
    found[MilestoneName.RECOAT_CLOSES] = closing_milestone(clocks)
    return tuple(found[name] for name in MilestoneName)


def closing_milestone(clocks: PieceClocks) -> Milestone:
    """Return the recoat limit as a milestone; `reached` means it has closed."""
    name = MilestoneName.RECOAT_CLOSES
    asked = required_h(clocks.finish, name, clocks.coats)
    wall_h = (clocks.now_ms - clocks.start_ms) / MS_PER_H
    if asked is None:
        return Milestone(name, CLOCK_OF[name], None, wall_h)
    closing, now = clocks.closes(asked), clocks.now_ms
    reading = clocks.reading(closing.clock)
    wall_ms = round(clocks.start_ms + asked * MS_PER_H)
    early, likely, late = (
        at if at > now else None for at in (closing.early_ms, closing.nominal_ms, wall_ms)
    )
    return Milestone(
        name=name,
        clock=closing.clock,
        required_hours=asked,
        reached_hours=None if reading is None else reading.effective_hours,
        reached_at=closing.nominal_ms if likely is None else None,
        cautious_at=closing.early_ms if early is None else None,
        eta=None if likely is None else Eta(early, likely, late),
    )
