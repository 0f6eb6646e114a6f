"""Milestones of a piece: which are reached, since when, and when the others will be.

Ready milestones have a nominal instant, when the profile's hours are earned, and a cautious one,
when they are earned even at the late end of the doubt: hours >= required (1 + 1.28 se). Limits
that close use the early end: the wall clock, or effective hours with gaps credited at the faster
end plus 1.28 standard errors, whichever comes first.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from curewatch.shop.climate import MINUTE_MS
from curewatch.shop.clocks import COVERED, HOURS, MS_PER_H, RateLaw
from curewatch.shop.elapsed import Hours, Shares, elapsed
from curewatch.shop.finish import ClockName, Finish, MilestoneName
from curewatch.shop.laws import CLOCK_OF, READY_MILESTONES, law_for, required_h
from curewatch.shop.room import Room
from curewatch.shop.sink import Settling, decides, settling
from curewatch.shop.waits import CONFIDENT_Z, Need, need, slowness

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from curewatch.science.learning import Learnt
    from curewatch.shop.book import ClockBook
    from curewatch.shop.climate import Floats
    from curewatch.shop.piece import Piece

DAY_MS = 86_400_000
SLOWEST_ETA_RATE = 0.02  # below this the coming climate gives no date worth telling
ROUNDING_H = 1e-6  # far more than sums are rounded by: near a threshold the search itself decides
NEVER_MS = 2**62
FILM_MILESTONES = (MilestoneName.BUFF, MilestoneName.FULL_CURE)  # a cured film lies still
SEARCH_STEP = 240  # grid points looked at together while searching a cautious instant


@dataclass(frozen=True, slots=True)
class ClockReading:
    """One clock of a piece, counted from its last coat.

    Attributes
    ----------
    effective_hours, standard_error: [h].
    shares: what each source of doubt contributes [h]; None for the wall clock.
    covered_h: hours bridged by readings [h].
    beyond_h: effective hours above the law's upper limit, extrapolated [h].
    mean_rate: effective hours per hour over the last 24 h, None where nothing is known.
    recent_h: how many of those 24 h readings bridge [h].
    """

    effective_hours: float
    standard_error: float
    shares: Shares | None = None
    covered_h: float = 0.0
    beyond_h: float = 0.0
    mean_rate: float | None = None
    recent_h: float = 0.0


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
    eta_at, eta_cautious_at: the same ahead, if the room goes on as in the last 24 h [ms].
    cautious_hours: what the cautious end asks for before doubt [h]: a film may ask more, outcomes
        more or less.
    late_hours: the same with the doubt of the hours earned so far [h].
    """

    name: MilestoneName
    clock: ClockName
    required_hours: float | None
    reached_hours: float | None
    reached_at: int | None = None
    cautious_at: int | None = None
    eta_at: int | None = None
    eta_cautious_at: int | None = None
    cautious_hours: float | None = None
    late_hours: float | None = None


class PieceClocks:
    """The clocks of one piece from its last coat on, at a moment.

    Pure look-ups into the clock book; nothing is kept.
    """

    def __init__(
        self,
        piece: Piece,
        finish: Finish,
        *,
        book: ClockBook,
        rooms: Mapping[str, Room],
        now_ms: int,
        learnt: Learnt | None = None,
    ) -> None:
        """Take the piece's facts up to `now_ms`; it must have at least one coat by then.

        `learnt` is what outcomes say of the finish's pace, None where there are none.
        """
        self.piece = piece
        self.finish = finish
        self.now_ms = now_ms
        self.coats = piece.coats_until(now_ms)
        self.start_ms = self.coats[-1].at_ms
        self._learnt = learnt
        self._book = book
        self._rooms = rooms
        self._readings: dict[ClockName, ClockReading | None] = {}
        self._undried: dict[MilestoneName, float] = {}
        self._laws: dict[ClockName, Callable[[str], RateLaw] | None] = {}
        self._closings: dict[float, Closing] = {}
        self._settling: tuple[Settling | None] | None = None

    def law_in(self, clock: ClockName) -> Callable[[str], RateLaw] | None:
        """Return which law a clock follows in each room, None where the finish has none."""
        if clock not in self._laws:
            self._laws[clock] = self._choice(clock)
        return self._laws[clock]

    def _choice(self, clock: ClockName) -> Callable[[str], RateLaw] | None:
        if law_for(self.finish, clock, _room(self._rooms, "")) is None:
            return None
        known: dict[str, RateLaw] = {}

        def choose(room: str) -> RateLaw:
            if room not in known:
                law = law_for(self.finish, clock, _room(self._rooms, room))
                assert law is not None  # noqa: S101 - the same finish has one in every room
                known[room] = law
            return known[room]

        return choose

    def hours(
        self, clock: ClockName, stops_ms: Floats, start_ms: int | None = None
    ) -> Hours | None:
        """Return the effective hours since the last coat (or `start_ms`) at `stops_ms`."""
        law_in = self.law_in(clock)
        if law_in is None:
            return None
        begin = self.start_ms if start_ms is None else start_ms
        return elapsed(
            self._book, law_in, stays=self.piece.stays, start_ms=begin, stops_ms=stops_ms
        )

    def reading(self, clock: ClockName) -> ClockReading | None:
        """Return a clock as it stands now, None where the finish has no such clock."""
        if clock not in self._readings:
            self._readings[clock] = self._read(clock)
        return self._readings[clock]

    def _read(self, clock: ClockName) -> ClockReading | None:
        wall_h = (self.now_ms - self.start_ms) / MS_PER_H
        if clock is ClockName.WALL:
            return ClockReading(wall_h, 0.0, covered_h=wall_h, mean_rate=1.0, recent_h=24.0)
        hours = self.hours(clock, np.array([float(self.now_ms)]))
        if hours is None:
            return None
        gained_h, recent_h = self._last_day(clock)
        return ClockReading(
            effective_hours=float(hours.value[-1]),
            standard_error=float(hours.standard_error[-1]),
            shares=hours.shares(),
            covered_h=float(hours.covered[-1]),
            beyond_h=float(hours.beyond[-1]),
            mean_rate=gained_h / recent_h if recent_h > 0.0 else None,
            recent_h=recent_h,
        )

    def mean_rate(self, clock: ClockName) -> float | None:
        """Return effective hours per covered hour over the room's last 24 h of readings."""
        gained_h, covered_h = self._last_day(clock)
        return gained_h / covered_h if covered_h > 0.0 else None

    def _last_day(self, clock: ClockName) -> tuple[float, float]:
        """Return effective and covered hours of the room's last 24 h [h]."""
        law_in, room = self.law_in(clock), self.piece.room_at(self.now_ms)
        if law_in is None or room is None:
            return 0.0, 0.0
        track = self._book.clock(room, law_in(room))
        sums = track.sums_at(np.array([float(self.now_ms - DAY_MS), float(self.now_ms)]))
        return float(sums[HOURS, 1] - sums[HOURS, 0]), float(sums[COVERED, 1] - sums[COVERED, 0])

    def gaps(self, longest_gap_s: Callable[[str], float]) -> tuple[tuple[int, int], ...]:
        """Return the stretches since the last coat without credit, as (start, stop) [ms].

        Time in no room is a gap; so is the silence since the newest reading once it is longer
        than the room's longest gap.
        """
        law_in = self.law_in(ClockName.CURE)
        if law_in is None:
            return ()
        found: list[tuple[int, int]] = []
        at = self.start_ms
        for stay in self.piece.stays:
            begin = max(stay.start_ms, self.start_ms)
            end = self.now_ms if stay.stop_ms is None else min(stay.stop_ms, self.now_ms)
            if begin >= end:
                continue
            if begin > at:
                found.append((at, begin))
            track = self._book.clock(stay.room, law_in(stay.room))
            found += track.gaps(begin, end)
            frontier = track.climate.frontier_ms
            silent_from = begin if frontier is None else max(frontier, begin)
            if found and found[-1][0] >= begin and found[-1][1] == silent_from:
                silent_from = found.pop()[0]  # one sensor fell silent before the last one did
            if end - silent_from > longest_gap_s(stay.room) * 1000.0:
                found.append((silent_from, end))
            at = end
        if at < self.now_ms:
            found.append((at, self.now_ms))
        return tuple(found)

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
        earned = reading.effective_hours >= asked - ROUNDING_H
        reached = self.reached_at(clock, asked) if earned else None
        cautious_h, near = float(cautious_need.at(0.0)), reached
        if cautious_h != asked:  # from there on it is worth looking at every minute
            near = self.reached_at(clock, cautious_h)
        cautious = None if near is None else self.cautious_at(clock, cautious_need, near)
        have = reading.effective_hours
        relative = reading.standard_error / have if have > 0.0 else 0.0
        late_h = float(cautious_need.at(relative))
        eta, _ = self._ahead(reading, asked, nominal=reached is None, cautious=False)
        _, eta_cautious = self._ahead(
            reading,
            late_h / (1.0 + CONFIDENT_Z * relative),
            nominal=False,
            cautious=cautious is None,
        )
        return Milestone(
            name,
            clock,
            asked,
            reading.effective_hours,
            reached,
            cautious,
            eta,
            eta_cautious,
            cautious_h,
            late_h,
        )

    def reached_at(self, clock: ClockName, asked_h: float) -> int | None:
        """Return the instant [ms] by `now` at which `asked_h` were earned."""
        law_in = self.law_in(clock)
        if law_in is None:
            return None
        left_h = asked_h
        for stay in self.piece.stays:
            begin = max(stay.start_ms, self.start_ms)
            end = self.now_ms if stay.stop_ms is None else min(stay.stop_ms, self.now_ms)
            if begin >= end:
                continue
            track = self._book.clock(stay.room, law_in(stay.room))
            first, last = track.sums_at(np.array([float(begin), float(end)]))[HOURS]
            if last - first >= left_h:
                at = track.when(HOURS, float(first) + left_h)
                return end if at is None else min(max(round(at), begin), end)
            left_h -= float(last - first)
        return None

    def cautious_at(self, clock: ClockName, asked: Need, reached_ms: int) -> int | None:
        """Return the first instant [ms] at which the hours suffice even at their late end."""
        start = reached_ms
        while start <= self.now_ms:
            grid = (start // MINUTE_MS + 1 + np.arange(SEARCH_STEP)) * MINUTE_MS
            stops = np.minimum(np.concatenate(([start], grid)), self.now_ms).astype(np.float64)
            hours = self.hours(clock, stops)
            assert hours is not None  # noqa: S101 - the clock has just been read
            spare = _spare(hours, asked)
            enough = np.flatnonzero(spare >= 0.0)
            if enough.size:
                return round(_crossing(stops, spare, int(enough[0])))
            start = int(grid[-1])
        return None

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
        nominal, early = (
            min(self._closing_at(asked_h, z, last_ms, left, doubt), wall_ms)
            for z, left in zip((0.0, CONFIDENT_Z), left_h, strict=True)
        )
        clock = ClockName.CURE if early < wall_ms else ClockName.WALL
        return Closing(clock, nominal, early, max(left_h[1], 0.0))

    def _closing_at(
        self, asked_h: float, z: float, last_ms: int, left_h: float, doubt: float
    ) -> int:
        """Return when cure hours with gaps credited fast, plus z se, pass `asked_h` [ms].

        Ahead of now the mean of the room's last 24 h goes on.
        """
        if left_h > 0.0:
            reading = self.reading(ClockName.CURE)
            rate = None if reading is None else reading.mean_rate
            if rate is None or rate <= 0.0:
                return NEVER_MS
            early_rate = rate * (1.0 + z * min(doubt, 1.0))
            return round(min(last_ms + left_h / early_rate * MS_PER_H, NEVER_MS))
        stops = np.append(np.arange(self.start_ms, last_ms, MINUTE_MS), last_ms).astype(np.float64)
        along = self.hours(ClockName.CURE, stops)
        assert along is not None  # noqa: S101 - the clock has just been read
        over = along.early(z) - asked_h
        return round(_crossing(stops, over, int(np.flatnonzero(over >= 0.0)[0])))

    def _ahead(
        self,
        reading: ClockReading,
        asked_h: float,
        *,
        nominal: bool,
        cautious: bool,
    ) -> tuple[int | None, int | None]:
        """Return nominal and cautious instants ahead, if the last 24 h go on."""
        rate = reading.mean_rate
        if rate is None or rate < SLOWEST_ETA_RATE:
            return None, None
        have = reading.effective_hours
        relative = reading.standard_error / have if have > 0.0 else 0.0
        late_h = asked_h * (1.0 + CONFIDENT_Z * relative)

        def due(hours: float) -> int:
            return round(self.now_ms + max(hours - have, 0.0) / rate * MS_PER_H)

        return (due(asked_h) if nominal else None, due(late_h) if cautious else None)


@dataclass(frozen=True, slots=True)
class Closing:
    """When a limit closes: the clock that closes it first, nominal and early instants [ms].

    `left_h` are the cure hours still left at the early end by now [h].
    """

    clock: ClockName
    nominal_ms: int
    early_ms: int
    left_h: float


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
    return Milestone(
        name=name,
        clock=closing.clock,
        required_hours=asked,
        reached_hours=None if reading is None else reading.effective_hours,
        reached_at=closing.nominal_ms if closing.nominal_ms <= now else None,
        cautious_at=closing.early_ms if closing.early_ms <= now else None,
        eta_at=None if closing.nominal_ms <= now else closing.nominal_ms,
        eta_cautious_at=None if closing.early_ms <= now else closing.early_ms,
    )


def _spare(hours: Hours, asked: Need) -> Floats:
    """Return hours earned beyond what the cautious rule asks, at each stop [h]."""
    value = np.maximum(hours.value, 1e-12)
    return np.asarray(hours.value - asked.at(hours.standard_error / value), dtype=np.float64)


def _crossing(stops: Floats, spare: Floats, first: int) -> float:
    """Return where the straight line through the last negative point crosses nought."""
    if first == 0:
        return float(stops[0])
    before, after = spare[first - 1], spare[first]
    share = -before / (after - before)
    return float(stops[first - 1] + share * (stops[first] - stops[first - 1]))


def _room(rooms: Mapping[str, Room], name: str) -> Room:
    return rooms.get(name) or Room(name)
