"""Effective hours of a piece over its stays in different rooms, with their standard error."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from curewatch.shop.clocks import (
    BEYOND,
    BY_AIR,
    BY_EA,
    BY_RH,
    BY_TEMP,
    COVERED,
    FAST,
    FAST_DOUBT,
    HOURS,
    SUM_ROWS,
    RateLaw,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from curewatch.shop.book import ClockBook
    from curewatch.shop.climate import Floats
    from curewatch.shop.piece import Stay

FOR_EVER_MS = 2**62


@dataclass(frozen=True, slots=True)
class Shares:
    """What each source of doubt contributes to a standard error [h]."""

    temp: float
    rh: float
    ea: float
    air: float


@dataclass(frozen=True, slots=True, eq=False)
class Hours:
    """Effective hours at one or several stops; every array has the shape of the stops.

    Attributes
    ----------
    value: effective hours [h].
    temp, rh, ea, air: share of each source in the standard error [h].
    fast: the same hours with gaps credited at the faster of their ends [h].
    fast_doubt: standard error of what was credited to gaps [h].
    covered: hours that readings (or a filled-in climate) bridge [h].
    beyond: effective hours above the law's upper limit, extrapolated [h].
    """

    value: Floats
    temp: Floats
    rh: Floats
    ea: Floats
    air: Floats
    fast: Floats
    covered: Floats
    beyond: Floats
    fast_doubt: Floats

    @property
    def standard_error(self) -> Floats:
        """The shares taken together [h]."""
        total = self.temp**2 + self.rh**2 + self.ea**2 + self.air**2
        return np.asarray(np.sqrt(total), dtype=np.float64)

    def early(self, z: float) -> Floats:
        """Return the hours a limit that closes counts: gaps credited fast, plus z of the doubt."""
        doubt = self.standard_error + self.fast_doubt
        return np.asarray(self.fast + z * doubt, dtype=np.float64)

    def shares(self) -> Shares:
        """Return the shares at the last stop."""
        return Shares(*(float(part[-1]) for part in (self.temp, self.rh, self.ea, self.air)))


def elapsed(
    book: ClockBook,
    law_in: Callable[[str], RateLaw],
    *,
    stays: Sequence[Stay],
    start_ms: int,
    stops_ms: Floats,
) -> Hours:
    """Return the effective hours from `start_ms` to each of `stops_ms`.

    Time in no room, or in a room without readings, earns nothing. The bias of one room's sensors
    holds all along, so its shares add up within a room and combine in quadrature between rooms;
    the activation energy is one number, so its share adds up over all of them.

    Parameters
    ----------
    book : ClockBook
        The running sums.
    law_in : function of a room's name
        Which rate law runs there (the air moves differently from room to room).
    stays : sequence of Stay
        Where the piece was.
    start_ms : int
        From when [ms].
    stops_ms : ndarray
        Until when [ms], shape (n,).
    """
    rooms: dict[str, Floats] = {}
    stops = stops_ms.astype(np.float64)
    for stay in stays:
        stay_stop = FOR_EVER_MS if stay.stop_ms is None else stay.stop_ms
        begin = max(stay.start_ms, start_ms)
        if begin >= stay_stop:
            continue
        clock = book.clock(stay.room, law_in(stay.room))
        edges = np.empty(stops.size + 1)
        edges[0] = begin
        edges[1:] = np.minimum(np.maximum(stops, begin), stay_stop)
        sums = clock.sums_at(edges)
        gained = sums[:, 1:] - sums[:, :1]
        rooms[stay.room] = rooms[stay.room] + gained if stay.room in rooms else gained
    parts = list(rooms.values()) or [np.zeros((SUM_ROWS, stops.size))]
    added, apart = parts[0], np.abs(parts[0])
    if len(parts) > 1:
        added = np.sum(parts, axis=0)
        apart = np.sqrt(np.sum(np.square(parts), axis=0))
    return Hours(
        value=added[HOURS],
        temp=apart[BY_TEMP],
        rh=apart[BY_RH],
        ea=np.abs(added[BY_EA]),
        air=apart[BY_AIR],
        fast=added[FAST],
        covered=added[COVERED],
        beyond=added[BEYOND],
        fast_doubt=added[FAST_DOUBT],
    )
