"""One pass over a range of readings, straight into arrays."""

from __future__ import annotations

from itertools import islice
from typing import TYPE_CHECKING

import numpy as np

from curewatch.shop.reading import Flag

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from curewatch.storage.database import Database, Row

    Series = tuple[NDArray[np.int64], NDArray[np.float64]]

_CHUNK_ROWS = 65_536
# Time, sensor and quantity travel as one 64-bit integer: fewer values a row, fewer steps.
_QUANTITY_BITS = 4  # schema: quantity is 1 to 15
_SERIES_BITS = 20  # so 65,536 sensors
_PACKED = np.dtype([("when", np.int64), ("value", np.float64)])


def scan_block(
    db: Database, start_ms: int, stop_ms: int, sensors: Sequence[int] | None
) -> dict[tuple[int, int], Series]:
    """Return the series of a range by sensor number and quantity, each in order of time.

    Readings whose time is unknown are left out; `sensors` limits the answer to those numbers.
    """
    where = "" if sensors is None else f" AND sensor IN ({','.join(map(str, sensors))})"
    parts: dict[int, list[Series]] = {}
    with db.cursor(
        f"SELECT (at_ms << {_SERIES_BITS}) + (sensor << {_QUANTITY_BITS}) + quantity, value "  # noqa: S608 - whole numbers of our own
        f"FROM reading WHERE at_ms >= ? AND at_ms < ? AND NOT flags & {Flag.TIME_UNKNOWN:d}{where} "
        "ORDER BY at_ms, sensor, quantity",
        (start_ms, stop_ms),
    ) as rows:
        for chunk in _chunks(rows):
            _split(chunk, parts)
    return {
        divmod(code, 1 << _QUANTITY_BITS): (
            np.concatenate([times for times, _ in pieces]),
            np.concatenate([values for _, values in pieces]),
        )
        for code, pieces in sorted(parts.items())
    }


def _chunks(rows: Iterator[Row]) -> Iterator[NDArray[np.void]]:
    """Yield (packed time and series, value) arrays from the rows as they come."""
    while True:
        chunk = np.fromiter(islice(rows, _CHUNK_ROWS), dtype=_PACKED)
        if chunk.size:
            yield chunk
        if chunk.size < _CHUNK_ROWS:
            return


def _split(chunk: NDArray[np.void], parts: dict[int, list[Series]]) -> None:
    """Append the chunk's series to `parts`, order of time kept within each."""
    packed = chunk["when"]
    codes = packed & ((1 << _SERIES_BITS) - 1)
    codes = codes.astype(np.min_scalar_type(codes.max()))  # narrow integers sort by counting
    order = np.argsort(codes, kind="stable")
    codes = codes[order]
    times = (packed >> _SERIES_BITS)[order]
    values = chunk["value"][order]
    starts = [0, *(np.flatnonzero(codes[1:] != codes[:-1]) + 1).tolist()]
    for start, stop in zip(starts, [*starts[1:], codes.size], strict=True):
        parts.setdefault(int(codes[start]), []).append((times[start:stop], values[start:stop]))
