"""The clocks of one piece: hours since its last coat, their doubt, and when they were earned."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from curewatch.shop.assumed import assumed
from curewatch.shop.climate import MINUTE_MS
from curewatch.shop.clocks import COVERED, HOURS, MS_PER_H, RateLaw
from curewatch.shop.elapsed import Hours, Shares, elapsed
from curewatch.shop.finish import ClockName, Finish
from curewatch.shop.laws import law_for
from curewatch.shop.room import Room

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from curewatch.shop.ahead import LawAhead
    from curewatch.shop.book import ClockBook
    from curewatch.shop.climate import Floats
    from curewatch.shop.piece import Piece
    from curewatch.shop.waits import Need

    AheadOf = Callable[[str, RateLaw], LawAhead | None]

DAY_MS = 86_400_000
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
    filled_h: of the effective hours those earned on a climate that a person assumed [h].
    """

    effective_hours: float
    standard_error: float
    shares: Shares | None = None
    covered_h: float = 0.0
    beyond_h: float = 0.0
    mean_rate: float | None = None
    filled_h: float = 0.0

    @property
    def relative_error(self) -> float:
        """The standard error as a share of the hours; 0 before the first of them."""
        have = self.effective_hours
        return self.standard_error / have if have > 0.0 else 0.0


class RunningClocks:
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
        ahead_of: AheadOf | None = None,
    ) -> None:
        """Take the piece's facts up to `now_ms`; it must have at least one coat by then.

        `ahead_of` gives the outlook of a room and a law; without it nothing is told of the time
        ahead, which costs less where only the past is asked for.
        """
        self.piece = piece
        self.finish = finish
        self.now_ms = now_ms
        self.coats = piece.coats_until(now_ms)
        self.start_ms = self.coats[-1].at_ms
        self._book = book
        self._rooms = rooms
        self._ahead_of = ahead_of
        self._readings: dict[ClockName, ClockReading | None] = {}
        self._laws: dict[ClockName, Callable[[str], RateLaw] | None] = {}

    def in_unheard_room(self) -> bool:
        """Whether the piece hangs in a room that no sensor ever told of."""
        room = self.piece.room_at(self.now_ms)
        if room is None:
            return False
        track = self._book.climates.get(room)
        return track is None or track.last_known(self.now_ms) is None

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
            return ClockReading(wall_h, 0.0, covered_h=wall_h, mean_rate=1.0)
        hours = self.hours(clock, np.array([float(self.now_ms)]))
        if hours is None:
            return None
        law_in = self.law_in(clock)
        assert law_in is not None  # noqa: S101 - it has hours
        filled = assumed(
            self._book,
            law_in,
            stays=self.piece.stays,
            start_ms=self.start_ms,
            stop_ms=self.now_ms,
        )
        return ClockReading(
            effective_hours=float(hours.value[-1]),
            standard_error=float(hours.standard_error[-1]),
            shares=hours.shares(),
            covered_h=max(float(hours.covered[-1]) - filled.wall_h, 0.0),
            beyond_h=float(hours.beyond[-1]),
            mean_rate=self._mean_rate(clock),
            filled_h=filled.effective_h,
        )

    def _mean_rate(self, clock: ClockName) -> float | None:
        """Return effective hours per covered hour over the room's last 24 h of readings."""
        law_in, room = self.law_in(clock), self.piece.room_at(self.now_ms)
        if law_in is None or room is None:
            return None
        track = self._book.clock(room, law_in(room))
        sums = track.sums_at(np.array([float(self.now_ms - DAY_MS), float(self.now_ms)]))
        gained_h, covered_h = (float(sums[row, 1] - sums[row, 0]) for row in (HOURS, COVERED))
        return gained_h / covered_h if covered_h > 0.0 else None

    def ahead(self, clock: ClockName) -> LawAhead | None:
        """Return what the room where the piece hangs will likely earn by one of its clocks.

        None where the piece hangs nowhere, or nothing can be told or was asked.
        """
        law_in, room = self.law_in(clock), self.piece.room_at(self.now_ms)
        if self._ahead_of is None or law_in is None or room is None:
            return None
        return self._ahead_of(room, law_in(room))

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
                at = track.when(float(first) + left_h)
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
                return round(crossing(stops, spare, int(enough[0])))
            start = int(grid[-1])
        return None


def _spare(hours: Hours, asked: Need) -> Floats:
    """Return hours earned beyond what the cautious rule asks, at each stop [h]."""
    value = np.maximum(hours.value, 1e-12)
    return np.asarray(hours.value - asked.at(hours.standard_error / value), dtype=np.float64)


def crossing(stops: Floats, spare: Floats, first: int) -> float:
    """Return where the straight line through the last negative point crosses nought."""
    if first == 0:
        return float(stops[0])
    before, after = spare[first - 1], spare[first]
    share = -before / (after - before)
    return float(stops[first - 1] + share * (stops[first] - stops[first - 1]))


def _room(rooms: Mapping[str, Room], name: str) -> Room:
    return rooms.get(name) or Room(name)
