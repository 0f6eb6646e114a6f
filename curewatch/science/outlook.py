"""What a room will likely do, as seen from its own record, and how well that has served so far.

The outlook of a rate: effective hours ahead, likely and at both ends of an 80 % band, and the times
by which hours still needed will have been earned. `outlook_past` holds the estimate itself.
Planned changes of the room are obeyed (`outlook_plans`), and nothing is promised that the room's
fastest hours could not earn. Nothing here looks past the end of the record it is given.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from curewatch.errors import BadInput
from curewatch.science.arrays import FloatArray, Numbers, checked, refuse_where
from curewatch.science.outlook_band import DEFAULT_AT_H, Band, bands, bands_now, default_half_width
from curewatch.science.outlook_past import (
    DAY_H,
    KNOTS_H,
    OFFSET,
    ORIGIN_EVERY_H,
    AtHorizon,
    Past,
    between_knots,
    hourly,
    look_ahead,
)
from curewatch.science.outlook_plans import Planned, covers_all, obeying, spare_over_fastest

LONGEST_H = 60 * DAY_H
"""An outlook reaches so far ahead [h]; a time beyond it is no time worth telling."""
PERCENT = 100.0


@dataclass(frozen=True, slots=True, eq=False)
class Ahead:
    """
    Effective hours ahead [h], each an array in the shape of the horizons.

    Attributes
    ----------
    least, likely, most : ndarray
        Central estimate and both ends of the 80 % band.
    """

    least: FloatArray
    likely: FloatArray
    most: FloatArray


@dataclass(frozen=True, slots=True)
class When:
    """
    Hours from now until enough has been earned; None: not within `LONGEST_H`.

    Attributes
    ----------
    early, likely, late : float or None
        If the room earns as much, as usual, as little as the 80 % band says [h].
    """

    early: float | None
    likely: float | None
    late: float | None


@dataclass(frozen=True, slots=True, eq=False)
class Outlook:
    """
    A room's hours ahead as running sums; see `of`.

    Attributes
    ----------
    edges_h : ndarray
        Hours from now, ascending, first 0, last `LONGEST_H`.
    least_h, likely_h, most_h : ndarray
        Effective hours earned by each edge [h]; straight lines between.
    """

    edges_h: FloatArray
    least_h: FloatArray
    likely_h: FloatArray
    most_h: FloatArray

    @classmethod
    def of(
        cls, rate_grid: Numbers, step_s: float, *, planned: Sequence[Planned] = ()
    ) -> "Outlook | None":
        """
        Outlook from the end of a record.

        Parameters
        ----------
        rate_grid : array
            Rates [h/h] up to now at instants `step_s` apart, oldest first, NaN where unknown. Some
            months are enough; what a planned change made of the room may be left out as NaN.
        step_s : float
            Step [s]; a whole number of steps makes an hour.
        planned : sequence of Planned
            Changes to obey; where they overlap the later in the list rules.

        Returns
        -------
        Outlook or None
            None where the record holds no rate at all and no plan covers everything.

        Raises
        ------
        BadInput
            A rate is negative or infinite, or the step does not make up an hour.
        """
        cells = _cells(rate_grid, step_s)
        past = Past.of(cells)
        edges = np.arange(LONGEST_H + 1.0)
        if np.any(np.isfinite(cells)):
            looks = [look_ahead(past, knot_h) for knot_h in KNOTS_H]
            likely = _likely(past, looks, edges)
            band = _band(looks, edges)
        elif covers_all(planned, LONGEST_H):
            likely = np.zeros_like(edges)
            band = _strange(edges)
        else:
            return None
        fastest = float(past.fastest[-1]) * spare_over_fastest(cells)
        return cls._with_plans((edges, likely), band, planned, fastest=fastest)

    @classmethod
    def _with_plans(
        cls,
        likely: tuple[FloatArray, FloatArray],
        band: Band,
        planned: Sequence[Planned],
        *,
        fastest: float,
    ) -> "Outlook":
        """Obey the plans, lay the band around what comes out, and keep it below what can be."""
        sums = obeying(*likely, planned, fastest=fastest)
        edges = sums.edges_h
        low, high = (np.interp(edges, likely[0], end) for end in band)
        strange = [plan.start_h for plan in planned if plan.free and not plan.low]
        released = edges > min(strange, default=math.inf)
        wide_low, wide_high = _strange(edges)
        low = np.where(released, np.minimum(low, wide_low), low)
        high = np.where(released, np.maximum(high, wide_high), high)
        least = np.maximum.accumulate(sums.open_h * np.exp(low) + sums.low_h)
        most = np.maximum.accumulate(sums.open_h * np.exp(high) + sums.high_h)
        most = np.maximum(np.minimum(most, sums.ceiling_h), sums.likely_h)
        return cls(edges, least, sums.likely_h, most)

    def effective_hours(self, horizons_h: Numbers) -> Ahead:
        """
        Effective hours that will have been earned.

        Parameters
        ----------
        horizons_h : float or array
            Hours from now [h], 0 to `LONGEST_H`.

        Returns
        -------
        Ahead

        Raises
        ------
        BadInput
            A horizon is out of range.
        """
        at = checked(horizons_h, "horizons_h", allowed=(0.0, float(LONGEST_H)), unit="h")
        least, likely, most = (
            np.asarray(np.interp(at, self.edges_h, sums), dtype=np.float64)
            for sums in (self.least_h, self.likely_h, self.most_h)
        )
        return Ahead(least, likely, most)

    def when(self, hours_needed: float) -> When:
        """
        How long it will take to earn hours.

        Parameters
        ----------
        hours_needed : float
            Effective hours still to earn [h]; nothing or less takes no time.

        Returns
        -------
        When

        Raises
        ------
        BadInput
            `hours_needed` is not finite.
        """
        needed = float(checked(hours_needed, "hours_needed", allowed=(-1e9, 1e9), unit="h"))
        return When(
            early=self._reached(self.most_h, needed),
            likely=self._reached(self.likely_h, needed),
            late=self._reached(self.least_h, needed),
        )

    def _reached(self, sums: FloatArray, needed: float) -> float | None:
        if needed <= 0.0:
            return 0.0
        if sums[-1] < needed:
            return None
        after = int(np.searchsorted(sums, needed, side="left"))
        share = (needed - sums[after - 1]) / (sums[after] - sums[after - 1])
        edges = self.edges_h
        return float(edges[after - 1] + share * (edges[after] - edges[after - 1]))


@dataclass(frozen=True, slots=True)
class Hindcast:
    """
    How outlooks over one horizon would have served; errors in ln of effective hours, times 100.

    Attributes
    ----------
    horizon_h : int
        Horizon [h].
    n : int
        Outlooks held to account; neighbours overlap.
    coverage_80_pct : float or None
        How often the 80 % band held [%]; None where n is 0, as below.
    rmse_pct, rmse_as_now_pct, rmse_mean_24h_pct : float or None
        Root mean square error of the central estimate, of 'as in the newest hour' and of 'as in the
        last 24 h' [%].
    """

    horizon_h: int
    n: int
    coverage_80_pct: float | None = None
    rmse_pct: float | None = None
    rmse_as_now_pct: float | None = None
    rmse_mean_24h_pct: float | None = None


def hindcast(
    rate_grid: Numbers,
    step_s: float,
    *,
    horizons_h: Sequence[int] = (24, 72),
    every_h: int = ORIGIN_EVERY_H,
) -> tuple[Hindcast, ...]:
    """
    Outlooks that would have been given all along a record, held against what came.

    Parameters
    ----------
    rate_grid, step_s
        As for `Outlook.of`. Lift the finish's temperature limits before computing rates, or a cold
        week has nothing to divide by.
    horizons_h : sequence of int
        Whole hours, 1 to `LONGEST_H`.
    every_h : int
        An outlook every so many hours; a multiple of 3.

    Returns
    -------
    tuple of Hindcast
        One for each horizon, as given.

    Raises
    ------
    BadInput
        As for `Outlook.of`, or a horizon or spacing that cannot be.

    Notes
    -----
    Every outlook, its weights and its band come from what lay before its origin alone. Counted are
    origins with a day of known hours before them, a known newest hour, and nine tenths of the hours
    to the horizon known. A rate of 0.002 h/h is added on both sides, so that a standstill has a
    logarithm. The band is judged without the ceiling that an outlook has besides.
    """
    if every_h < 1 or every_h % ORIGIN_EVERY_H:
        raise BadInput(f"every_h is {every_h}; it must be a multiple of {ORIGIN_EVERY_H} h.")
    for horizon_h in horizons_h:
        if int(horizon_h) != horizon_h or not 1 <= horizon_h <= LONGEST_H:
            raise BadInput(
                f"horizons_h holds {horizon_h}; give whole hours from 1 to {LONGEST_H}, such as 24."
            )
    past = Past.of(_cells(rate_grid, step_s))
    looks: dict[int, AtHorizon] = {}
    rows = []
    for horizon_h in horizons_h:
        chain = [*(knot for knot in KNOTS_H if DEFAULT_AT_H <= knot < horizon_h), int(horizon_h)]
        for one in chain:
            if one not in looks:
                looks[one] = look_ahead(past, one)
        band = bands([looks[one] for one in chain])[-1]
        rows.append(_account(past, looks[int(horizon_h)], band=band, every_h=every_h))
    return tuple(rows)


def _account(past: Past, look: AtHorizon, *, band: Band, every_h: int) -> Hindcast:
    held = np.isfinite(look.errors) & np.isfinite(past.newest) & np.isfinite(past.last_day)
    held &= (past.origins[-1] - past.origins) % every_h == 0
    count = int(held.sum())
    if count == 0:
        return Hindcast(look.horizon_h, 0)
    errors = look.errors[held]
    inside = (errors >= band[0][held]) & (errors <= band[1][held])
    came = np.log(past.came(look.horizon_h)[held] / look.horizon_h + OFFSET)
    as_now = came - np.log(past.newest[held] + OFFSET)
    as_day = came - np.log(past.last_day[held] + OFFSET)
    return Hindcast(
        look.horizon_h,
        count,
        PERCENT * float(inside.mean()),
        _rms(errors),
        _rms(as_now),
        _rms(as_day),
    )


def _rms(errors: FloatArray) -> float:
    return PERCENT * float(np.sqrt(np.mean(errors**2)))


def _cells(rate_grid: Numbers, step_s: float) -> FloatArray:
    cells = hourly(rate_grid, step_s)
    refuse_where(
        np.asarray(rate_grid) < 0.0, "rate_grid", "is negative. A rate is never below 0 h/h."
    )
    return cells


def _likely(past: Past, looks: list[AtHorizon], edges: FloatArray) -> FloatArray:
    """Add up the central estimate from the record's end, at whole hours."""
    weights = between_knots(np.stack([look.weights[-1] for look in looks]), edges)
    plain = np.concatenate(([0.0], np.cumsum(np.resize(past.shape[-1], edges.size - 1))))
    sums = plain * (past.level[-1] + OFFSET) * np.exp(weights @ past.departures[-1])
    sums = np.minimum(sums - OFFSET * edges, past.fastest[-1] * edges)
    return np.maximum.accumulate(np.maximum(sums, 0.0))


def _strange(edges: FloatArray) -> Band:
    """Return both ends of the band around a room without history [ln]."""
    half = np.array([default_half_width(hours) for hours in edges])
    return -half, half


def _band(looks: list[AtHorizon], edges: FloatArray) -> Band:
    """Return both ends of the band at the edges [ln]."""
    at_knots = np.array([[float(end[-1]) for end in band] for band in bands_now(looks)])
    ends = between_knots(at_knots, edges)
    return ends[:, 0], ends[:, 1]
