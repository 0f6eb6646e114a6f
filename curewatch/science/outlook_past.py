"""What a room's own record says about the hours after any moment in it.

Everything is worked out for many moments ("origins") at once and from what lay before each of them,
so that the same lines give an outlook from now and a hindcast of every outlook that could have been
given. An outlook at a horizon is, in the logarithm of effective hours,

    last 7 days' level x diurnal shape, and three departures times their weights:
    the newest hour from the last day, the last day from the last 7 days, those from the last 30.

The weights start from values fitted once and move, in each room and at each horizon, towards those
that would have served that room best so far (ridge regression on the outlooks whose end is known).

Three things keep a night at nothing from teaching nonsense. An outlook that missed by far counts
less: it shows that the room was changed, not how its departures fade. A departure that the room has
hardly shown does not weigh more for that: the first weights count as if it had shown some. And the
weights stay inside `WEIGHT_RANGE`. Beyond them stands a bound that no learning moves: nothing ahead
goes on faster than the fastest hour of the last 90 days.

Where the constants come from. The first weights and yesterday's share were fitted on one typical
year of outdoor air (Sand Point, Alaska) under three rate laws, and confirmed on another (Greensboro
in North Carolina), where weights of its own would lower the error by less than 4 % of itself. How
much the first weights count was settled on made-up rooms (flickering, wandering, slow). Memory,
tails, growth and default of the band were chosen with three records in view, those two and sixteen
days of a heated office: their coverage is a fit, not a confirmation. What a far miss teaches and
the least departure were chosen with both years and all six laws in view; made-up wandering rooms
are what confirms them.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from curewatch.errors import BadInput
from curewatch.science.arrays import FloatArray, Numbers, as_numbers, checked_positive, refuse_where

Places = npt.NDArray[np.int64]

HOUR_S = 3600.0
ROUNDING_S = 1e-6
DAY_H, WEEK_H, MONTH_H = 24, 168, 720
ORIGIN_EVERY_H = 3
"""Spacing of the origins [h]: all times of day, an eighth of the work."""
KNOTS_H = (1, 6, 24, 72, 168, 336)
"""Horizons at which weights and bands are learnt [h]; between them they run with the logarithm."""
FIRST_WEIGHTS = (
    (0.94, 0.98, -0.02),
    (0.84, 0.94, -0.06),
    (0.57, 0.82, -0.17),
    (0.43, 0.68, -0.39),
    (0.30, 0.43, -0.59),
    (0.20, 0.24, -0.62),
)
"""Weights of the three departures at `KNOTS_H` before a room has taught its own."""
FIRST_WEIGHTS_COUNT_AS = 10.0
"""The first weights weigh as much as so many independent outlooks of the room's own."""
LEAST_DEPARTURE = 0.2
"""What a departure is taken to have been usually, at least, where the first weights are weighed
against the room's own [ln]: a little less than outdoor air shows, more than a heated room does."""
MISS_HALVES_AT = 2.0
"""An outlook that missed by so much [ln] teaches half as much as one that served; our own."""
WEIGHT_RANGE = (-1.0, 1.5)
"""A weight that a room teaches is held inside this; the first weights lie well inside (our own)."""
FASTEST_OF_H = 90 * DAY_H
"""The fastest hour of so many hours bounds what is likely ahead."""
YESTERDAY_SHARE = 0.3
"""Share of yesterday in the diurnal shape; the rest is the mean of the last 7 days."""
OFFSET = 0.002
"""Added to every rate before its logarithm is taken, so that a standstill has one [h/h]."""
SHAPE_RANGE = (0.05, 20.0)
KNOWN_SHARE = 0.9
"""An outlook is held to account where at least this share of its hours is known."""


def hourly(values: Numbers, step_s: float, *, name: str = "rate_grid") -> FloatArray:
    """
    Means of the hours that end with the record.

    Parameters
    ----------
    values : array
        Values at grid instants `step_s` apart, oldest first, NaN where unknown, shape (n,).
    step_s : float
        Step [s]; a whole number of steps makes an hour.
    name : str
        What to call the values in a complaint.

    Returns
    -------
    ndarray
        One mean for each hour, oldest first; NaN where less than half of an hour is known. The
        oldest hour may be a part of one.

    Raises
    ------
    BadInput
        A wrong shape or step, or an infinite value.
    """
    grid = as_numbers(values, name)
    step = float(checked_positive(step_s, "step_s", unit="s"))
    per_hour = round(HOUR_S / step)
    if grid.ndim != 1 or per_hour < 1 or abs(per_hour * step - HOUR_S) > ROUNDING_S:
        raise BadInput(
            f"{name} has shape {grid.shape} at a step of {step:g} s; it must be one row of values"
            " at a step of which a whole number makes an hour. Put it on such a grid."
        )
    refuse_where(np.isinf(grid), name, "is infinite. Write NaN where nothing is known.")
    missing = -grid.size % per_hour
    cells = np.concatenate((np.full(missing, np.nan), grid)).reshape(-1, per_hour)
    known = np.isfinite(cells)
    count = known.sum(axis=1)
    starting = 2 * int(count.max(initial=0)) < per_hour  # then take what there is
    enough = count > 0 if starting else 2 * count >= per_hour
    total = np.where(known, cells, 0.0).sum(axis=1)
    return np.asarray(np.where(enough, total / np.maximum(count, 1), np.nan), dtype=np.float64)


@dataclass(frozen=True, slots=True, eq=False)
class Past:
    """
    A room's hours and what was known at each origin.

    Attributes
    ----------
    cells : ndarray
        Rate of each hour [h/h], NaN where unknown.
    origins : ndarray
        Hours of the record before each origin, ascending; the last is the whole record.
    level : ndarray
        Mean rate of the last 7 days [h/h].
    newest, last_day : ndarray
        Mean rate of the newest hour and of the last 24 h; NaN where none of it is known.
    departures : ndarray
        The three departures [ln], shape (origins, 3); 0 where unknown.
    shape : ndarray
        Diurnal shape of the 24 h to come, mean 1, shape (origins, 24).
    fastest : ndarray
        Rate of the fastest hour of the last 90 days, or before where these are silent [h/h].
    """

    cells: FloatArray
    origins: Places
    level: FloatArray
    newest: FloatArray
    last_day: FloatArray
    departures: FloatArray
    shape: FloatArray
    fastest: FloatArray

    @classmethod
    def of(cls, cells: FloatArray) -> "Past":
        """Look back from every origin of a record of hours."""
        origins = np.arange(cells.size % ORIGIN_EVERY_H, cells.size + 1, ORIGIN_EVERY_H)
        newest = _trailing_mean(cells, origins, 1)
        last_day = _trailing_mean(cells, origins, DAY_H)
        week = _else(_trailing_mean(cells, origins, WEEK_H), last_day)
        month = _trailing_mean(cells, origins, MONTH_H)
        ever = _else(month, _trailing_mean(cells, origins, cells.size))
        level = np.nan_to_num(_else(week, ever), nan=0.0)
        shape, shape_now = _shapes(cells, origins)
        log_day = _log(_else(last_day, level))
        departures = np.stack(
            (
                np.log((newest + OFFSET) / shape_now) - log_day,
                log_day - _log(level),
                _log(level) - _log(ever),
            ),
            axis=1,
        )
        return cls(
            cells,
            origins,
            level,
            newest,
            last_day,
            np.nan_to_num(departures, nan=0.0),
            shape,
            _fastest(cells, origins),
        )

    def plain(self, horizon_h: int) -> FloatArray:
        """Level and shape carried on: effective hours, with the offset [h], one per origin."""
        days, hours = divmod(horizon_h, DAY_H)
        shape = days * self.shape.sum(axis=1) + self.shape[:, :hours].sum(axis=1)
        return np.asarray((self.level + OFFSET) * shape, dtype=np.float64)

    def came(self, horizon_h: int) -> FloatArray:
        """
        Effective hours that came within a horizon [h], one per origin.

        NaN where too few of them are known, and at origins with less than a day of known hours
        before them: what is said of a room that only starts tells little of how well it is known.
        """
        known = np.isfinite(self.cells)
        sums = np.concatenate(([0.0], np.cumsum(np.where(known, self.cells, 0.0))))
        counts = np.concatenate(([0], np.cumsum(known)))
        inside = self.origins + horizon_h <= self.cells.size
        end = np.minimum(self.origins + horizon_h, self.cells.size)
        count = counts[end] - counts[self.origins]
        mean = (sums[end] - sums[self.origins]) / np.maximum(count, 1)
        held = inside & (count >= KNOWN_SHARE * horizon_h) & (counts[self.origins] >= DAY_H)
        return np.asarray(np.where(held, mean * horizon_h, np.nan), dtype=np.float64)


@dataclass(frozen=True, slots=True, eq=False)
class AtHorizon:
    """
    Outlooks from every origin over one horizon.

    Attributes
    ----------
    weights : ndarray
        As learnt from what was known at the origin, shape (origins, 3).
    likely : ndarray
        Central estimate [effective hours], with the offset.
    errors : ndarray
        ln of what came over `likely`; NaN where that is not known.
    """

    horizon_h: int
    weights: FloatArray
    likely: FloatArray
    errors: FloatArray


def look_ahead(past: Past, horizon_h: int) -> AtHorizon:
    """Give the outlook over `horizon_h` hours from every origin, as it would have been given."""
    first = first_weights(float(horizon_h))
    plain = np.log(past.plain(horizon_h))
    missed = np.log(past.came(horizon_h) + OFFSET * horizon_h) - plain - past.departures @ first
    weights = np.clip(first + _learnt(past.departures, missed, horizon_h), *WEIGHT_RANGE)
    said = plain + np.sum(past.departures * weights, axis=1)
    moved = np.minimum(said, np.log((past.fastest + OFFSET) * horizon_h))
    missed += plain + past.departures @ first - moved
    return AtHorizon(horizon_h, weights, np.exp(moved), missed)


def first_weights(horizon_h: float) -> FloatArray:
    """Weights for a horizon [h] before a room has taught its own."""
    return between_knots(np.array(FIRST_WEIGHTS), horizon_h)


def between_knots(at_knots: FloatArray, horizon_h: Numbers) -> FloatArray:
    """Interpolate rows given at `KNOTS_H` in the logarithm of the horizon [h]; held outside."""
    where = np.log(np.maximum(horizon_h, KNOTS_H[0]))
    knots = np.log(KNOTS_H)
    columns = [np.interp(where, knots, column) for column in at_knots.T]
    return np.stack(columns, axis=-1)


def _learnt(departures: FloatArray, missed: FloatArray, horizon_h: int) -> FloatArray:
    """Return what the outlooks that have ended by each origin add to the first weights."""
    known = np.isfinite(missed)
    teaches = np.where(known, 1.0 / (1.0 + (missed / MISS_HALVES_AT) ** 2), 0.0)
    seen = teaches[:, None] * departures
    squares = np.cumsum(seen[:, :, None] * departures[:, None, :], axis=0)
    products = np.cumsum(seen * np.where(known, missed, 0.0)[:, None], axis=0)
    # Outlooks that overlap are not independent: together they count as their span over the horizon.
    share = min(ORIGIN_EVERY_H / horizon_h, 1.0)
    typical = np.cumsum(departures**2, axis=0) / np.arange(1, missed.size + 1)[:, None]
    ridge = FIRST_WEIGHTS_COUNT_AS * np.maximum(typical, LEAST_DEPARTURE**2)
    ended = np.arange(missed.size) - -(-horizon_h // ORIGIN_EVERY_H)
    some = ended >= 0
    ended = np.maximum(ended, 0)
    left = np.where(some[:, None, None], share * squares[ended], 0.0)
    right = np.where(some[:, None], share * products[ended], 0.0)
    left += ridge[:, :, None] * np.eye(3)
    return np.asarray(np.linalg.solve(left, right[:, :, None])[:, :, 0], dtype=np.float64)


def _trailing_mean(cells: FloatArray, origins: Places, hours: int) -> FloatArray:
    """Mean of the known among the last `hours` before each origin, NaN where there are none."""
    known = np.isfinite(cells)
    sums = np.concatenate(([0.0], np.cumsum(np.where(known, cells, 0.0))))
    counts = np.concatenate(([0], np.cumsum(known)))
    begin = np.maximum(origins - hours, 0)
    count = counts[origins] - counts[begin]
    mean = np.maximum(sums[origins] - sums[begin], 0.0) / np.maximum(count, 1)
    return np.asarray(np.where(count > 0, mean, np.nan), dtype=np.float64)


def _fastest(cells: FloatArray, origins: Places) -> FloatArray:
    """Greatest of the last `FASTEST_OF_H` hours before each origin, of all if these are silent."""
    known = np.where(np.isfinite(cells), cells, -1.0)
    padded = np.concatenate((np.full(FASTEST_OF_H, -1.0), known))
    windows = np.lib.stride_tricks.sliding_window_view(padded, FASTEST_OF_H)
    newer = windows[origins[0] :: ORIGIN_EVERY_H].max(axis=1)
    ever = np.maximum.accumulate(np.concatenate(([0.0], known)))[origins]
    return np.asarray(np.where(newer < 0.0, ever, newer), dtype=np.float64)


def _shapes(cells: FloatArray, origins: Places) -> tuple[FloatArray, FloatArray]:
    """Diurnal shape ahead of each origin, and the shape of the newest hour as expected before."""
    usual = usual_day(cells) + OFFSET
    windows = np.lib.stride_tricks.sliding_window_view(usual, DAY_H)
    ahead = _flat_unless_known(windows[origins])
    before = np.maximum(origins - 1, 0)
    return ahead, _flat_unless_known(windows[before])[:, 0]


def _flat_unless_known(window: FloatArray) -> FloatArray:
    """Values over their mean; 1 where unknown, and throughout where half a day is not known."""
    known = np.isfinite(window)
    count = known.sum(axis=1, keepdims=True)
    mean = np.where(known, window, 0.0).sum(axis=1, keepdims=True) / np.maximum(count, 1)
    usable = known & (2 * count >= DAY_H)
    ratio = np.divide(window, mean, out=np.ones_like(window), where=usable)
    return np.asarray(np.clip(ratio, *SHAPE_RANGE), dtype=np.float64)


def usual_day(cells: FloatArray) -> FloatArray:
    """
    Expect of an hour what the same hour of the days before brought.

    Parameters
    ----------
    cells : ndarray
        Hourly means, NaN where unknown, shape (n,).

    Returns
    -------
    ndarray
        For each hour and the 24 to come, shape (n + 24,): 0.3 of yesterday and 0.7 of the mean of
        the last 7 days; NaN where none of these hours is known.
    """
    size = cells.size + DAY_H
    total, count = np.zeros(size), np.zeros(size)
    known = np.isfinite(cells)
    plain = np.where(known, cells, 0.0)
    for lag in range(DAY_H, WEEK_H + 1, DAY_H):
        reach = max(min(cells.size, size - lag), 0)
        total[lag : lag + reach] += plain[:reach]
        count[lag : lag + reach] += known[:reach]
    mean = np.divide(total, count, out=np.full(size, np.nan), where=count > 0)
    yesterday = np.concatenate((np.full(DAY_H, np.nan), cells))
    mixed = YESTERDAY_SHARE * yesterday + (1.0 - YESTERDAY_SHARE) * mean
    return np.asarray(np.where(np.isfinite(yesterday), mixed, mean), dtype=np.float64)


def _else(values: FloatArray, instead: FloatArray) -> FloatArray:
    return np.asarray(np.where(np.isfinite(values), values, instead), dtype=np.float64)


def _log(rates: FloatArray) -> FloatArray:
    return np.asarray(np.log(rates + OFFSET), dtype=np.float64)
