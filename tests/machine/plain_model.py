"""A slow, plain model of the shop: lists and loops, everything from scratch at every question.

Nothing here is shared with the code it checks but the rate of one climate (science.kinetics),
which has checks of its own.
"""

from __future__ import annotations

import bisect
import statistics
from dataclasses import dataclass, field

from curewatch.science import kinetics

MINUTE_MS = 60_000


@dataclass
class PlainRoom:
    """A room's readings as {sensor: {at_ms: value}} for each quantity, and its fills."""

    longest_gap_ms: int
    temp: dict[str, dict[int, float]] = field(default_factory=dict)
    rh: dict[str, dict[int, float]] = field(default_factory=dict)
    fills: list[tuple[int, int, float, float]] = field(default_factory=list)

    def frontier_ms(self) -> int | None:
        """Return the newest instant anything is known of."""
        known = [max(one) for side in (self.temp, self.rh) for one in side.values() if one]
        known += [stop for _, stop, _, _ in self.fills]
        return max(known, default=None)

    def covered(self, side: dict[str, dict[int, float]], at_ms: float) -> dict[str, float]:
        """Return each sensor's value at an instant that its readings bridge."""
        found = {}
        for sensor, readings in side.items():
            times = sorted(readings)
            place = bisect.bisect_right(times, at_ms)
            if place == 0 or place == len(times):
                if place and times[-1] == at_ms:
                    found[sensor] = readings[times[-1]]
                continue
            before, after = times[place - 1], times[place]
            if after - before <= self.longest_gap_ms:
                share = (at_ms - before) / (after - before)
                found[sensor] = readings[before] + share * (readings[after] - readings[before])
            elif before == at_ms:
                found[sensor] = readings[before]
        return found

    def climate(self, at_ms: float) -> tuple[float, float] | None:
        """Return temperature and humidity at an instant, None where no hour is earned."""
        temps, rhs = self.covered(self.temp, at_ms), self.covered(self.rh, at_ms)
        if temps and rhs:
            return statistics.median(temps.values()), statistics.median(rhs.values())
        for start, stop, temp_c, rh in self.fills:
            if start <= at_ms < stop:
                return temp_c, rh
        return None

    def hours(self, law: kinetics.CureLaw, start_ms: int, stop_ms: int) -> float:
        """Return effective hours by a sum over short steps: the middle of each counts."""
        step_ms = MINUTE_MS / 6
        total, at_ms = 0.0, float(start_ms)
        while at_ms < stop_ms:
            width = min(step_ms, stop_ms - at_ms)
            climate = self.climate(at_ms + width / 2)
            if climate is not None:
                total += float(kinetics.rate(*climate, law)) * width
            at_ms += width
        return total / 3_600_000


@dataclass
class PlainPiece:
    """A piece as people told it: coats, moves as (at_ms, room), whether each entry stands."""

    tag: str
    coats: dict[int, int] = field(default_factory=dict)  # entry: at_ms
    moves: dict[int, tuple[int, str]] = field(default_factory=dict)  # entry: (at_ms, room)

    def stays(self) -> list[tuple[str, int, int | None]]:
        """Return where it was, as (room, from, to)."""
        moves = sorted((at_ms, entry, room) for entry, (at_ms, room) in self.moves.items())
        stops: list[int | None] = [at_ms for at_ms, _, _ in moves[1:]]
        return [
            (room, at_ms, stop)
            for (at_ms, _, room), stop in zip(moves, [*stops, None], strict=True)
            if stop is None or stop > at_ms
        ]

    def cure_hours(
        self, rooms: dict[str, PlainRoom], law: kinetics.CureLaw, now_ms: int
    ) -> float | None:
        """Return the cure hours since its last coat, None without a coat."""
        coats = [at_ms for at_ms in self.coats.values() if at_ms <= now_ms]
        if not coats:
            return None
        total = 0.0
        for room, start, stop in self.stays():
            begin = max(start, *coats)
            end = now_ms if stop is None else min(stop, now_ms)
            if begin < end:
                total += rooms[room].hours(law, begin, end)
        return total
