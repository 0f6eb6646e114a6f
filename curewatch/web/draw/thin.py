"""Tens of thousands of points made few: the least and the most of each pixel."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


def least_and_most(x: Floats, y: Floats, *, pixels: int) -> list[tuple[Floats, Floats]]:
    """Return runs of points that draw the same line on so many pixels.

    Parameters
    ----------
    x, y : ndarray
        Points in ascending order of x; y NaN where nothing is known: there the line breaks.
    pixels : int
        Columns that the whole range of x is drawn on.

    Returns
    -------
    list of (x, y)
        One pair of arrays for each unbroken run.
    """
    known = np.isfinite(y)
    edges = np.flatnonzero(np.diff(np.concatenate(([False], known, [False])).astype(np.int8)))
    low = float(x[0]) if x.size else 0.0
    span = (float(x[-1]) - low) or 1.0 if x.size else 1.0
    return [
        _thinned(x[start:stop], y[start:stop], low=low, per_pixel=span / pixels)
        for start, stop in zip(edges[::2], edges[1::2], strict=True)
    ]


def _thinned(x: Floats, y: Floats, *, low: float, per_pixel: float) -> tuple[Floats, Floats]:
    """Keep the first, least, most and last point of every column, in order."""
    column = np.floor((x - low) / per_pixel).astype(np.int64)
    starts = np.flatnonzero(np.concatenate(([True], column[1:] != column[:-1])))
    if x.size <= 4 * starts.size:
        return x, y
    ends = np.concatenate((starts[1:], [x.size])) - 1
    order = np.lexsort((y, column))
    least, most = order[starts], order[ends]
    keep = np.unique(np.concatenate((starts, least, most, ends)))
    return x[keep], y[keep]
