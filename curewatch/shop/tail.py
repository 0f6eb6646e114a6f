"""The growing end of a room's record: recent readings, and where the merged record must be redone.

Most readings are newer than everything known; then only the stretch since each sensor's last
reading changes. Readings that fall before the tail that is kept in memory are late: the caller
then hands the room's record from storage in again.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from curewatch.shop.climate import MINUTE_MS, GridBlock, merge

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from curewatch.shop.climate import Series
    from curewatch.shop.piece import Fill
    from curewatch.shop.reading import Quantity, Reading

    Key = tuple[str, Quantity]

KEPT_MS = 6 * 3_600_000  # late by more than this is rare, and read from storage again


class RoomTail:
    """Recent readings of one room's sensors, sorted by time."""

    def __init__(self, longest_gap_s: float) -> None:
        """Start empty; `longest_gap_s` is the room's [s]."""
        self._longest_gap_s = longest_gap_s
        self._series: dict[Key, Series] = {}
        self._complete_from_ms: int | None = None

    def reset(self, series: Mapping[Key, Series], complete_from_ms: int) -> None:
        """Hold these series, complete from `complete_from_ms` on [ms]."""
        self._series = dict(series)
        self._complete_from_ms = complete_from_ms

    @property
    def series(self) -> Mapping[Key, Series]:
        """What is held."""
        return self._series

    def take(self, readings: Sequence[Reading]) -> int | None:
        """Take new readings in; return from where the merged record changes [ms].

        None means that one of them lies before what is held: read the record again.
        """
        changed: list[int] = []
        by_key: dict[Key, dict[int, float]] = {}
        for reading in readings:
            by_key.setdefault((reading.sensor, reading.quantity), {})[reading.at_ms] = reading.value
        for key, new in by_key.items():
            start = self._insert(key, new)
            if start is None:
                return None
            changed.append(start)
        return min(changed, default=None)

    def _insert(self, key: Key, new: dict[int, float]) -> int | None:
        times = np.array(sorted(new), dtype=np.int64)
        values = np.array([new[int(at)] for at in times])
        first = int(times[0])
        held = self._series.get(key)
        if held is None or not held[0].size:
            if self._complete_from_ms is not None and first < self._complete_from_ms:
                return None
            self._series[key] = (times, values)
            return first
        place = int(np.searchsorted(held[0], first))
        if place == 0:
            return None
        if place < held[0].size:
            all_times = np.concatenate((held[0], times))
            order = np.argsort(all_times, kind="stable")
            all_values = np.concatenate((held[1], values))[order]
            self._series[key] = (all_times[order], all_values)
        else:
            self._series[key] = (
                np.concatenate((held[0], times)),
                np.concatenate((held[1], values)),
            )
        return self._seam(int(held[0][place - 1]), first)

    def _seam(self, before: int, first: int) -> int | None:
        """Return from where the record changes when `first` follows the reading at `before` [ms].

        The reading before may be one that is only carried, older than what is held whole. If the
        two are bridged, the others' readings between are needed; if not, nothing there changes.
        """
        whole = self._complete_from_ms
        if whole is None or before >= whole:
            return before
        return None if first - before <= self._longest_gap_s * 1000.0 else max(before, whole)

    def block(self, start_ms: int, fills: Sequence[Fill] = ()) -> GridBlock:
        """Return the merged record from the minute of `start_ms` on."""
        return merge(
            self._series,
            first_minute=start_ms // MINUTE_MS,
            longest_gap_s=self._longest_gap_s,
            fills=fills,
        )

    def trim(self, now_ms: int) -> None:
        """Let go of readings older than what late ones are expected to touch."""
        limit = now_ms - max(KEPT_MS, round(2000.0 * self._longest_gap_s))
        for key, (times, values) in self._series.items():
            keep = max(int(np.searchsorted(times, limit)) - 1, 0)  # the last before it stays
            keep = min(keep, times.size - 1)
            if keep > times.size // 2:
                self._series[key] = (times[keep:].copy(), values[keep:].copy())
        whole = (limit // MINUTE_MS + 1) * MINUTE_MS
        self._complete_from_ms = max(whole, self._complete_from_ms or whole)
