"""The climate track of a room: its sensors' readings merged onto a one-minute grid.

Readings of one sensor are joined by straight lines; a silence longer than the room's longest
gap is not bridged. `cover` says for every minute cell which share of it is bridged, so that a
gap which starts or ends inside a minute is accounted to the millisecond. Where several sensors
measure one quantity their median stands for the room.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from curewatch.shop.reading import Quantity

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from curewatch.shop.piece import Fill

    Floats = np.ndarray[tuple[int, ...], np.dtype[np.float64]]
    Times = np.ndarray[tuple[int, ...], np.dtype[np.int64]]
    Bools = np.ndarray[tuple[int, ...], np.dtype[np.bool_]]
    Series = tuple[Times, Floats]

MINUTE_MS = 60_000
TEMP, RH, SURFACE, TEMP_COVER, RH_COVER, SURFACE_COVER, ASSUMED = range(7)
QUANTITY_ROW = {
    Quantity.TEMPERATURE: TEMP,
    Quantity.HUMIDITY: RH,
    Quantity.SURFACE_TEMPERATURE: SURFACE,
}
CLIMATE = frozenset(QUANTITY_ROW)
"""What makes up a room's climate; whatever else a sensor measures has no part in it."""
SPARE_MINUTES = 1440  # room to append a day before arrays are copied


class ClimateTrack:
    """A room's climate on the minute grid, with its gap mask.

    Row `TEMP` [degC], `RH` [fraction] and `SURFACE` [degC] hold values at the grid instants;
    the cover rows hold, at index i, the share of the cell from instant i to i+1 that readings
    bridge; `ASSUMED` the share of which a person assumed temperature, humidity or both.
    """

    def __init__(self, first_minute: int) -> None:
        """Start an empty track at `first_minute` (minutes since the epoch)."""
        self.first_minute = first_minute
        self.size = 0
        self.frontier_ms: int | None = None
        self._rows = np.zeros((7, SPARE_MINUTES))

    def splice(self, block: GridBlock) -> int:
        """Replace everything from the block's first minute on; return its index in this track."""
        start = block.first_minute - self.first_minute
        if not 0 <= start <= max(self.size - 1, 0):
            msg = f"a block at index {start} does not join a track of {self.size} minutes"
            raise ValueError(msg)
        end = start + block.rows.shape[1]
        if end > self._rows.shape[1]:
            grown = np.zeros((7, end + max(SPARE_MINUTES, end // 8)))
            grown[:, : self.size] = self._rows[:, : self.size]
            self._rows = grown
        self._rows[:, start:end] = block.rows
        self.size = end
        self.frontier_ms = block.frontier_ms
        return start

    def row(self, which: int, start: int = 0, stop: int | None = None) -> Floats:
        """Return one row between two indices, as a view."""
        return self._rows[which, start : self.size if stop is None else min(stop, self.size)]

    def index(self, at_ms: int) -> int:
        """Return the index of the cell that holds the instant [ms]."""
        return at_ms // MINUTE_MS - self.first_minute

    def coverage_pct(self, start_ms: int, stop_ms: int) -> float:
        """Return the share of whole minutes in [start, stop) that readings (no fills) cover [%]."""
        first, last = max(self.index(start_ms), 0), min(self.index(stop_ms), self.size)
        minutes = max((stop_ms - start_ms) // MINUTE_MS, 1)
        known, assumed = self._rows[[TEMP_COVER, ASSUMED], first : max(last, first)]
        return float(np.maximum(known - assumed, 0.0).sum()) / minutes * 100.0

    @property
    def start_ms(self) -> int:
        """The instant of index 0 [ms]."""
        return self.first_minute * MINUTE_MS

    def at(self, at_ms: int) -> Climate | None:
        """Return the climate at an instant [ms], None in a gap or outside the record.

        Past the newest reading the climate is not known: use `latest` and say its age.
        """
        cell = self.index(at_ms)
        if not 0 <= cell < self.size:
            return None
        values = self._rows[:, cell]
        if values[TEMP_COVER] <= 0.0:
            return None
        with_rh, with_surface = values[RH_COVER] > 0.0, values[SURFACE_COVER] > 0.0
        return self._climate(cell, at_ms, bool(with_rh), bool(with_surface))

    def last_known(self, at_ms: int) -> Climate | None:
        """Return the climate at an instant [ms], or the newest known before it, however old."""
        here = self.at(at_ms)
        if here is not None or self.size == 0:
            return here
        end = min(self.index(at_ms) + 1, self.size)
        while end > 0:
            begin = max(end - SPARE_MINUTES, 0)
            covered = np.flatnonzero(self._rows[TEMP_COVER, begin:end] > 0.0)
            if covered.size:
                cell = begin + int(covered[-1])
                share = self._rows[TEMP_COVER, cell]
                known_ms = (self.first_minute + cell) * MINUTE_MS + round(share * MINUTE_MS)
                near = min(cell + 1, self.size - 1)
                with_rh, with_surface = self._rows[[RH_COVER, SURFACE_COVER], cell] > 0.0
                return self._climate(near, known_ms, bool(with_rh), bool(with_surface))
            end = begin
        return None

    def fresh_at(self, at_ms: int, *, within_ms: float) -> Climate | None:
        """Return the newest climate known by an instant [ms], each part as new as it is known.

        What one sensor tells does not make older what another told a few minutes before: parts
        missing from the newest climate are taken from the last `within_ms` [ms].
        """
        found = self.last_known(at_ms)
        if found is None:
            return None
        since = max(self.index(at_ms - int(within_ms)), 0)
        stop = min(self.index(at_ms) + 1, self.size)
        rh, surface = found.rh_frac, found.surface_c
        if rh is None:
            rh = self._newest(RH, since, stop)
        if surface is None:
            surface = self._newest(SURFACE, since, stop)
        return Climate(found.at_ms, found.temp_c, rh, surface)

    def _newest(self, row: int, since: int, stop: int) -> float | None:
        """Return the newest value of a row between two indices, None where none is covered."""
        covered = np.flatnonzero(self._rows[row + TEMP_COVER, since : max(stop, since)] > 0.0)
        return float(self._rows[row, since + int(covered[-1])]) if covered.size else None

    def _climate(self, cell: int, at_ms: int, with_rh: bool, with_surface: bool) -> Climate:  # noqa: FBT001 - private, two flags of one kind
        values = self._rows[:, cell]
        return Climate(
            at_ms=at_ms,
            temp_c=float(values[TEMP]),
            rh_frac=float(values[RH]) if with_rh else None,
            surface_c=float(values[SURFACE]) if with_surface else None,
        )


@dataclass(frozen=True, slots=True)
class Climate:
    """A room's climate at an instant: None where nothing measures it."""

    at_ms: int
    temp_c: float
    rh_frac: float | None
    surface_c: float | None


@dataclass(frozen=True, slots=True)
class GridBlock:
    """A stretch of a room's merged record: rows as in `ClimateTrack`, from `first_minute` on."""

    first_minute: int
    rows: Floats
    frontier_ms: int | None


def merge(
    series: Mapping[tuple[str, Quantity], Series],
    *,
    first_minute: int,
    longest_gap_s: float,
    fills: Sequence[Fill] = (),
) -> GridBlock:
    """Merge the readings of a room's sensors onto the minute grid from `first_minute` on.

    Parameters
    ----------
    series : mapping of (sensor, quantity) to (times [ms], values), sorted by time
        Must reach back to each sensor's last reading before the minute that ends at
        `first_minute`, so that the record across the seam is the same as in one piece.
    first_minute : int
        First grid instant, minutes since the epoch.
    longest_gap_s : float
        Silence longer than this is not bridged [s].
    fills : sequence of Fill
        Gaps a person filled with an assumed climate.
    """
    frontier = _frontier(series, fills)
    lead = first_minute - 1  # whether a sensor is known at an instant hangs on the cell before it
    minutes = 2 if frontier is None else max(-(-frontier // MINUTE_MS) - lead + 1, 2)
    rows = np.zeros((7, minutes))
    for quantity, row in QUANTITY_ROW.items():
        mine = [
            value for (_, q), value in sorted(series.items()) if q is quantity and value[0].size
        ]
        if not mine:
            rows[row] = np.nan
            continue
        layers = [_on_grid(one, lead, minutes, longest_gap_s * 1000.0) for one in mine]
        rows[row], rows[row + TEMP_COVER] = _median(layers, [one[0] for one in mine], lead)
    for fill in fills:
        _apply(fill, rows, lead)
    return GridBlock(first_minute, rows[:, 1:], frontier)


def _frontier(series: Mapping[tuple[str, Quantity], Series], fills: Sequence[Fill]) -> int | None:
    ends = [int(t[-1]) for (_, q), (t, _) in series.items() if q in CLIMATE and t.size]
    ends += [fill.stop_ms for fill in fills]
    return max(ends, default=None)


def _on_grid(
    series: Series, first_minute: int, minutes: int, longest_gap_ms: float
) -> tuple[Floats, Floats]:
    """Return one sensor's values at the grid instants and the cover of each cell."""
    times = (series[0] - first_minute * MINUTE_MS).astype(np.float64)
    grid = np.arange(minutes + 1, dtype=np.float64) * MINUTE_MS
    values = np.interp(grid[:-1], times, series[1])
    silence = np.diff(times)
    bridged = np.where(silence > longest_gap_ms, 0.0, silence)
    covered = np.interp(grid, times, np.concatenate(([0.0], np.cumsum(bridged))))
    cover = np.diff(covered) / MINUTE_MS
    if bridged.size and not np.all(bridged):
        left = np.clip(np.searchsorted(times, grid[:-1], side="right") - 1, 0, times.size - 2)
        inside = (bridged[left] == 0.0) & (grid[:-1] > times[left]) & (grid[:-1] < times[left + 1])
        nearer = np.where(grid[:-1] - times[left] <= times[left + 1] - grid[:-1], left, left + 1)
        values[inside] = series[1][nearer[inside]]
    return values, cover


def _median(
    layers: Sequence[tuple[Floats, Floats]], times: Sequence[Times], first_minute: int
) -> tuple[Floats, Floats]:
    """Return the median over the sensors that know each instant, and the best cover."""
    if len(layers) == 1:
        return layers[0]
    values = np.stack([layer[0] for layer in layers])
    cover = np.stack([layer[1] for layer in layers])
    known = cover > 0.0
    known[:, 1:] |= cover[:, :-1] > 0.0
    if not known.any(axis=0).all():
        _hold(known, times, first_minute)
    return _middle(values, known), cover.max(axis=0)


def _middle(values: Floats, known: Bools) -> Floats:
    """Return the median over the rows of what is known, at least one in each column.

    numpy's own goes over masked arrays where so few rows are looked at, which is slow.
    """
    ranked = np.sort(np.where(known, values, np.inf), axis=0)
    count = np.count_nonzero(known, axis=0)[None]
    low = np.take_along_axis(ranked, (count - 1) // 2, axis=0)
    high = np.take_along_axis(ranked, count // 2, axis=0)
    return np.asarray(0.5 * (low[0] + high[0]), dtype=np.float64)


def _hold(known: Bools, times: Sequence[Times], first_minute: int) -> None:
    """Say whose nearest value holds where no sensor is known.

    Those in whose record the instant lies; else those that have spoken before; else whoever
    speaks first. So a sensor that comes later changes nothing before it.
    """
    grid = (first_minute + np.arange(known.shape[1])) * MINUTE_MS
    begins = np.array([[one[0]] for one in times])
    ends = np.array([[one[-1]] for one in times])
    first = np.broadcast_to(begins == begins.min(), known.shape)
    for held in ((grid >= begins) & (grid <= ends), grid >= begins, first):
        known |= held & ~known.any(axis=0)


def _apply(fill: Fill, rows: Floats, first_minute: int) -> None:
    """Lay an assumed climate into the cells that no sensor covers."""
    minutes = rows.shape[1]
    edges = np.arange(minutes + 1, dtype=np.float64) * MINUTE_MS
    start, stop = (float(at - first_minute * MINUTE_MS) for at in (fill.start_ms, fill.stop_ms))
    share = np.diff(np.clip(edges, start, stop)) / MINUTE_MS
    most = np.zeros(minutes)
    for row, value in ((TEMP, fill.temp_c), (RH, fill.rh_frac)):
        cover = rows[row + TEMP_COVER]
        empty = (share > 0.0) & (cover <= 0.0)
        points = empty.copy()
        points[1:] |= empty[:-1] & (cover[1:] <= 0.0)
        rows[row][points] = value
        added = np.minimum(share, 1.0 - cover)
        rows[row + TEMP_COVER] = cover + added
        most = np.maximum(most, added)
    rows[ASSUMED] = np.minimum(rows[ASSUMED] + most, 1.0)


def gaps(
    cover: Floats, first_minute: int, *, start_ms: int, stop_ms: int, frontier_ms: int | None
) -> list[tuple[int, int]]:
    """Return the stretches of [start, stop) that `cover` leaves open, as (start, stop) [ms].

    The stretch after the newest reading is left out: it is a gap only once it is longer than
    the room allows, which a caller who knows 'now' adds.
    """
    if frontier_ms is None or cover.size == 0:
        return []
    stop_ms = min(stop_ms, frontier_ms)
    first = max(start_ms // MINUTE_MS - first_minute, 0)
    last = min(-(-stop_ms // MINUTE_MS) - first_minute, cover.size)
    found = [(start_ms, min(first_minute * MINUTE_MS, stop_ms))]
    for begin, end in open_runs(cover, first, last):
        opening, closing = ((first_minute + i) * MINUTE_MS for i in (begin, end))
        leads = begin > 0 and cover[begin - 1] > 0.0
        if leads:
            opening += round(cover[begin] * MINUTE_MS)
        if not leads or end - begin > 1:
            closing -= round(cover[end - 1] * MINUTE_MS)
        found.append((max(opening, start_ms), min(closing, stop_ms)))
    return _joined(found)


def open_runs(cover: Floats, first: int, last: int) -> list[tuple[int, int]]:
    """Return the runs of cells in [first, last) that are not fully covered, as (begin, end)."""
    if last <= first:
        return []
    holes = np.flatnonzero(cover[first:last] < 1.0) + first
    if not holes.size:
        return []
    breaks = np.flatnonzero(np.diff(holes) > 1)
    begins = holes[np.concatenate(([0], breaks + 1))]
    ends = holes[np.concatenate((breaks, [holes.size - 1]))] + 1
    return [(int(begin), int(end)) for begin, end in zip(begins, ends, strict=True)]


def _joined(stretches: Iterable[tuple[int, int]]) -> list[tuple[int, int]]:
    """Drop empty stretches and join those that touch."""
    joined: list[tuple[int, int]] = []
    for start, stop in stretches:
        if stop <= start:
            continue
        if joined and start <= joined[-1][1]:
            joined[-1] = (joined[-1][0], stop)
        else:
            joined.append((start, stop))
    return joined
