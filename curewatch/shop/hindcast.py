"""How well a room is known: the rates of a clock by the hour, and outlooks held to account."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from curewatch.science.kinetics import CureLaw
from curewatch.science.outlook import hindcast
from curewatch.shop.clocks import COVERED, HOURS, MS_PER_H, Bias, ClockTrack, RateLaw

if TYPE_CHECKING:
    from collections.abc import Sequence

    from curewatch.science.outlook import Hindcast
    from curewatch.shop.climate import ClimateTrack, Floats

LOOK_BACK_H = 120 * 24  # what an outlook learns from: the band's 90 days and a month before them
HOUR_S = 3600.0
ENOUGH = 0.5  # an hour of which less is covered is not known


def hindcast_room(
    climate: ClimateTrack, law: RateLaw, *, horizons_h: Sequence[int] = (24, 72)
) -> tuple[Hindcast, ...]:
    """Return how outlooks would have served along a room's whole record, limits lifted."""
    track = ClockTrack(climate, without_limits(law), Bias())
    until_ms = climate.start_ms if climate.frontier_ms is None else climate.frontier_ms
    hours = int(-((climate.start_ms - until_ms) // MS_PER_H))
    return hindcast(hourly_rates(track, until_ms, hours=hours), HOUR_S, horizons_h=horizons_h)


def hourly_rates(track: ClockTrack, until_ms: int, *, hours: int = LOOK_BACK_H) -> Floats:
    """Return the mean rate of each of the hours that end at `until_ms`, NaN where unknown.

    A room that has not covered half of any hour yet gives what it has.
    """
    edges = float(until_ms) - np.arange(hours, -1.0, -1.0, dtype=np.float64) * MS_PER_H
    sums = track.sums_at(edges)
    gained, covered = (np.diff(sums[row]) for row in (HOURS, COVERED))
    least = ENOUGH if covered.max(initial=0.0) >= ENOUGH else 0.0
    known = (covered >= least) & (covered > 0.0)
    rates = np.divide(gained, covered, out=np.full(hours, np.nan), where=known)
    return np.asarray(rates, dtype=np.float64)


def without_limits(law: RateLaw) -> RateLaw:
    """Return a law without temperature limits, so that a cold week still has a rate."""
    if not isinstance(law.law, CureLaw):
        return law
    return replace(law, law=replace(law.law, lower_limit_c=None, upper_limit_c=None))
