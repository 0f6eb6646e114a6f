"""Old readings thinned to the one-minute grid, so that a rebuilt clock is the same clock.

A clock reads a sensor's record only at the grid instants (whole epoch minutes), on straight lines
between neighbouring readings. Where readings stand closer than a minute, their values at those
instants say all a clock can ask; the first and last of every such stretch stay as they were, so
silences keep their edges. What is switched has nothing between on and off: a fan's readings become
the nearest of those that were said.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from curewatch.shop.reading import Flag, Quantity
from curewatch.storage.sensors import SensorNumbers

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from curewatch.storage.database import Database, Row

GRID_MS = 60_000
DAY_MS = 86_400_000


@dataclass(frozen=True, slots=True)
class Thinning:
    """What one day's thinning did: its range [ms], rows before and after, when it was done."""

    start_ms: int
    stop_ms: int
    rows_before: int
    rows_after: int
    at_ms: int


def thin(
    db: Database,
    before_ms: int,
    longest_gap_ms_of: Callable[[str], float],
    *,
    at_ms: int,
    from_ms: int | None = None,
) -> tuple[Thinning, ...]:
    """Thin the whole UTC days before `before_ms`, one transaction a day.

    Parameters
    ----------
    before_ms
        Days that end at or before this are thinned [ms].
    longest_gap_ms_of
        The longest silence that is still bridged [ms], by sensor. A sensor whose silences of
        less than a minute count as gaps is left alone: a grid of minutes would be all gaps.
    at_ms
        Now [ms].
    from_ms
        Where to begin [ms]; after what was thinned last when not given.
    """
    if from_ms is None:
        from_ms = int(db.value("SELECT coalesce(max(stop_ms), 0) FROM thinning"))
    oldest_ms = db.value("SELECT min(at_ms) FROM reading")
    if oldest_ms is None:
        return ()
    start, stop = max(from_ms, oldest_ms) // DAY_MS * DAY_MS, before_ms // DAY_MS * DAY_MS
    names = SensorNumbers(db).names()
    dense = {n for n, name in names.items() if longest_gap_ms_of(name) >= GRID_MS}
    done = []
    for day_ms in range(start, stop, DAY_MS):
        with db.transaction():
            report = _thin_day(db, day_ms, dense, at_ms)
        if report is not None:
            done.append(report)
    return tuple(done)


def _thin_day(db: Database, start_ms: int, sensors: set[int], at_ms: int) -> Thinning | None:
    """Thin one day and write down that it was; None when nothing became fewer."""
    stop_ms = start_ms + DAY_MS
    rows = db.rows(
        "SELECT sensor, quantity, at_ms, value, origin, flags FROM reading "
        "WHERE at_ms >= ? AND at_ms < ? AND NOT flags & ? ORDER BY sensor, quantity, at_ms",
        (start_ms, stop_ms, Flag.TIME_UNKNOWN),
    )
    gone: list[Row] = []
    come: list[Row] = []
    for stretch in _stretches(rows):
        if stretch[0][0] in sensors:
            _thin_stretch(stretch, gone, come)
    if not gone:
        return None
    before = int(
        db.value("SELECT count(*) FROM reading WHERE at_ms >= ? AND at_ms < ?", (start_ms, stop_ms))
    )
    db.many("DELETE FROM reading WHERE at_ms = ? AND sensor = ? AND quantity = ?", gone)
    db.many(
        "INSERT INTO reading (at_ms, sensor, quantity, value, origin, flags) "
        "VALUES (?, ?, ?, ?, ?, ?)",
        come,
    )
    after = before - len(gone) + len(come)
    db.insert(
        "INSERT INTO thinning (start_ms, stop_ms, rows_before, rows_after, at_ms) "
        "VALUES (?, ?, ?, ?, ?)",
        (start_ms, stop_ms, before, after, at_ms),
    )
    return Thinning(start_ms, stop_ms, before, after, at_ms)


def _stretches(rows: list[Row]) -> list[list[Row]]:
    """Cut rows (sensor, quantity, at_ms, value, origin, flags) where a stretch ends.

    Within a stretch neighbours are at most a minute apart and of one sensor, quantity, origin
    and set of flags.
    """
    if not rows:
        return []
    columns = np.array([(r[0], r[1], r[4], r[5], r[2]) for r in rows], dtype=np.int64)
    steps = np.diff(columns, axis=0)
    cuts = (steps[:, :4] != 0).any(axis=1) | (steps[:, 4] > GRID_MS)
    edges = [0, *(np.flatnonzero(cuts) + 1).tolist(), len(rows)]
    return [rows[a:b] for a, b in pairwise(edges)]


def _thin_stretch(stretch: list[Row], gone: list[Row], come: list[Row]) -> None:
    """Put the grid's values in place of a stretch's inside, when that makes fewer rows."""
    sensor, quantity, first_ms, _, origin, flags = stretch[0]
    last_ms = stretch[-1][2]
    grid = np.arange(first_ms // GRID_MS + 1, -(-last_ms // GRID_MS), dtype=np.int64) * GRID_MS
    if len(stretch) - 2 <= grid.size:
        return
    times = np.array([row[2] for row in stretch], dtype=np.int64)
    values = np.array([row[3] for row in stretch], dtype=np.float64)
    along = _nearest if quantity == Quantity.FAN_ON else _interpolated
    on_grid = along(grid, times, values)
    gone.extend((row[2], sensor, quantity) for row in stretch[1:-1])
    come.extend(
        (at, sensor, quantity, value, origin, flags)
        for at, value in zip(grid.tolist(), on_grid.tolist(), strict=True)
    )


def _nearest(
    grid: NDArray[np.int64], times: NDArray[np.int64], values: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return at `grid` the value of the reading nearest in time, of two the earlier [ms]."""
    after = np.searchsorted(times, grid)  # the grid lies within what was read
    earlier = grid - times[after - 1] <= times[after] - grid
    nearest: NDArray[np.float64] = values[np.where(earlier, after - 1, after)]
    return nearest


def _interpolated(
    grid: NDArray[np.int64], times: NDArray[np.int64], values: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return the straight lines' values at `grid`, from times relative to the first [ms]."""
    values_there: NDArray[np.float64] = np.interp(
        (grid - times[0]).astype(np.float64), times - times[0], values
    )
    return values_there
