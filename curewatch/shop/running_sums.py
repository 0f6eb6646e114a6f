"""Running sums over a room's minutes, several rows of them, kept small.

A row that is all nought so far is not kept. What moves in few cells only (gaps, heat beyond a
law's limit) is kept as steps: the cells where it moves, and the sums behind them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from curewatch.shop.climate import Floats, Times

SPARE_MINUTES = 1440  # room to append a day before arrays are copied


class DenseSums:
    """Sums that grow in nearly every cell: a value at every instant of the grid."""

    def __init__(self, rows: int) -> None:
        """Start with nought everywhere."""
        self._rows = rows
        self._kept: list[int] = []
        self._sums = np.zeros((0, SPARE_MINUTES))

    @property
    def kept(self) -> int:
        """How many rows are kept."""
        return len(self._kept)

    def put(self, start: int, gained: Floats) -> None:
        """Sum anew from the cell `start` on, given what each cell gains, shape (rows, n)."""
        end = start + gained.shape[1] + 1
        more = [row for row in range(self._rows) if row not in self._kept and gained[row].any()]
        if more or end > self._sums.shape[1]:
            self._kept += more
            self._grow(end)
        sums = self._sums[:, start:end]
        np.cumsum(gained[self._kept], axis=1, out=sums[:, 1:])
        sums[:, 1:] += sums[:, :1]

    def _grow(self, end: int) -> None:
        held = self._sums
        length = held.shape[1] if end <= held.shape[1] else end + max(SPARE_MINUTES, end // 8)
        self._sums = np.zeros((len(self._kept), length))
        self._sums[: held.shape[0], : held.shape[1]] = held

    def at(self, index: Times, rows: int) -> Floats:
        """Return the sums at grid instants, shape (rows, n); rows beyond ours are nought."""
        found = np.zeros((rows, index.size))
        for place, row in enumerate(self._kept):
            found[row] = self._sums[place].take(index)
        return found

    def row(self, row: int, start: int, stop: int) -> Floats:
        """Return one row between two grid instants."""
        if row not in self._kept:
            return np.zeros(stop - start)
        return self._sums[self._kept.index(row), start:stop]


class StepSums:
    """Sums that grow in few cells only."""

    def __init__(self, rows: int) -> None:
        """Start with nought everywhere."""
        self._cells: Times = np.zeros(0, dtype=np.int64)
        self._sums = np.zeros((rows, 1))

    def __len__(self) -> int:
        """Return in how many cells anything grows."""
        return self._cells.size

    def put(self, start: int, gained: Floats) -> None:
        """Sum anew from the cell `start` on, given what each cell gains, shape (rows, n)."""
        held = int(np.searchsorted(self._cells, start))
        moves = np.flatnonzero(gained.any(axis=0))
        if held == self._cells.size and not moves.size:
            return
        behind = self._sums[:, held : held + 1] + np.cumsum(gained[:, moves], axis=1)
        self._cells = np.concatenate((self._cells[:held], start + moves))
        self._sums = np.concatenate((self._sums[:, : held + 1], behind), axis=1)

    def at(self, index: Times) -> Floats:
        """Return the sums at grid instants, shape (rows, n)."""
        return self._sums[:, np.searchsorted(self._cells, index)]
