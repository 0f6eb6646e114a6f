"""From a scale's masses and a room's record to the panel that is fitted.

A panel's clocks are those of a piece in the same room: effective hours since the coat, by the
finish's own laws, so that a warm afternoon in the record counts as what it was.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from curewatch.errors import BadInput
from curewatch.panel import LEAST_READINGS, Weighing
from curewatch.shop.climate import MINUTE_MS, merge
from curewatch.shop.clocks import COVERED, HOURS, MS_PER_H
from curewatch.shop.laws import cure_law, drying_law
from curewatch.shop.room import LONGEST_GAP_FLOOR_S, Sensor
from curewatch.shop.shop import Shop

if TYPE_CHECKING:
    from collections.abc import Sequence

    from curewatch.shop.climate import Floats, Times
    from curewatch.shop.clocks import RateLaw
    from curewatch.shop.finish import Finish
    from curewatch.shop.reading import Quantity, Reading
    from curewatch.shop.room import Room

LEAST_COVERED = 0.95
"""Mass falls on through a gap while no clock counts: with more left open than this no fit is
honest (our own choice)."""
WET_H, LEAST_COVERED_WET = 3.0, 0.99
"""A minute that does not count while the film is wet goes straight into its water."""
MOST_FITTED = 3000
"""More readings than this are averaged in runs of equal number before they are fitted."""
LIGHTEST_G = 1.0


def weighings(
    shop: Shop, finish: Finish, *, room: str, coat_ms: int, times_ms: Times, mass_g: Floats
) -> tuple[Weighing, ...]:
    """
    Return a panel's weighings by the clocks of the room it dried in.

    Parameters
    ----------
    shop : Shop
        Its book must hold the room's record over the whole span.
    finish : Finish
        What was sprayed; its laws run the clocks.
    room : str
        Where the panel dried.
    coat_ms : int
        When it was sprayed [ms].
    times_ms : ndarray
        Instants of the weighings, sorted [ms]; those before the coat are left out.
    mass_g : ndarray
        What the scale showed; a tared one may go below nought [g].

    Raises
    ------
    BadInput
        Nothing can be fitted: too few weighings, no clock, or too little of the room's record.
    """
    after = times_ms >= coat_ms
    times, mass = times_ms[after], mass_g[after]
    if times.size < LEAST_READINGS:
        raise BadInput(
            f"only {times.size} weighings from the coat on: a fit needs {LEAST_READINGS} or more,"
            " the first ones while the film is wet. Check the times, and let the scale report"
            " every minute or oftener."
        )
    drying, cure = drying_law(finish, shop.room(room)), cure_law(finish)
    if drying is None or cure is None:
        raise BadInput(
            f"{finish.name} is cured by dose, not by the hour: no clock runs, and nothing is fitted"
        )
    hours = [_hours(shop, room, law, coat_ms=coat_ms, times_ms=times) for law in (drying, cure)]
    floor = float(mass.min())
    lifted = mass + (0.0 if floor > 0.0 else LIGHTEST_G - floor)  # only differences are fitted
    every = -(-times.size // MOST_FITTED)
    columns = [_runs(column, every) for column in (*hours, lifted)]
    return tuple(
        Weighing(drying_h=d, cure_h=c, mass_g=m)
        for d, c, m in zip(*(column.tolist() for column in columns), strict=True)
    )


def room_of_log(readings: Sequence[Reading], room: Room, *, from_ms: int) -> Shop:
    """Return a shop of one room whose record is what a file holds.

    Where it begins after `from_ms` [ms] its first row stands for the time before, up to the longest
    gap that is bridged anywhere: the file of a scale begins with the first weighing.
    """
    by_key: dict[tuple[str, Quantity], list[Reading]] = {}
    for reading in readings:
        key, lead_ms = (reading.sensor, reading.quantity), reading.at_ms - from_ms
        if key not in by_key and 0 < lead_ms <= LONGEST_GAP_FLOOR_S * 1000:
            by_key[key] = [replace(reading, at_ms=from_ms)]
        by_key.setdefault((reading.sensor, reading.quantity), []).append(reading)
    series = {
        key: (
            np.array([one.at_ms for one in mine], dtype=np.int64),
            np.array([one.value for one in mine]),
        )
        for key, mine in by_key.items()
    }
    names = dict.fromkeys(sensor for sensor, _ in by_key)
    shop = Shop({room.name: room}, tuple(Sensor(name, room.name) for name in names))
    if series:
        first = min(int(times[0]) for times, _ in series.values()) // MINUTE_MS
        gap_s = shop.longest_gap_s(room.name)
        shop.book.splice(room.name, merge(series, first_minute=first, longest_gap_s=gap_s))
    return shop


def _hours(shop: Shop, room: str, law: RateLaw, *, coat_ms: int, times_ms: Times) -> Floats:
    """Return a clock's effective hours since the coat at each weighing [h]."""
    at = np.concatenate(([coat_ms], times_ms)).astype(np.float64)
    sums = shop.book.clock(room, law).sums_at(at)
    wall_h = (at - at[0]) / MS_PER_H
    covered_h = sums[COVERED] - sums[COVERED, 0]
    wet = min(int(np.searchsorted(wall_h, WET_H)), at.size - 1)
    for last, least, what in (
        (wet, LEAST_COVERED_WET, "the film's first hours"),
        (at.size - 1, LEAST_COVERED, "the time from the coat to the last weighing"),
    ):
        if covered_h[last] < least * wall_h[last]:
            share = 100.0 * covered_h[last] / wall_h[last]
            raise BadInput(
                f"readings of {room} cover only {share:.0f} % of {what}: a fit needs"
                f" {100.0 * least:.0f} %. Fill the gap if you know what the room was like"
                " ('curewatch room fill'), or take another span."
            )
    hours = sums[HOURS, 1:] - sums[HOURS, 0]
    return np.asarray(np.maximum.accumulate(np.maximum(hours, 0.0)))


def _runs(column: Floats, every: int) -> Floats:
    """Return the mean of each run of `every` values; a shorter one at the end is left out."""
    whole = column.size // every * every
    return np.asarray(column[:whole].reshape(-1, every).mean(axis=1))
