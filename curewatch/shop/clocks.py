"""Clock tracks: running sums of a rate law over a room's climate.

For a room and a rate law the effective hours since the track's start are kept as a running sum
at the minutes of the grid, so that a piece's hours are a difference of two look-ups and a due
time is one inverse look-up. Beside the hours run the same sums for each source of doubt and for
the early end that closing limits use. A track is a cache: it can be rebuilt from readings.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from curewatch.science import evaporation, kinetics
from curewatch.shop.climate import (
    MINUTE_MS,
    RH,
    RH_COVER,
    SURFACE,
    SURFACE_COVER,
    TEMP,
    TEMP_COVER,
    ClimateTrack,
    gaps,
    open_runs,
)
from curewatch.shop.room import DEFAULT_RH_BIAS_FRAC, DEFAULT_TEMP_BIAS_K

if TYPE_CHECKING:
    from curewatch.science.spread import RateSpread
    from curewatch.shop.climate import Floats

HOURS, BY_TEMP, BY_RH, BY_EA, BY_AIR, FAST, COVERED, BEYOND, FAST_DOUBT = range(9)
SUM_ROWS = 9
MS_PER_H = 3_600_000.0
HOTTEST_ROOM_C = 60.0  # no room is hotter: bounds how soon anything can change
SPARE_MINUTES = 1440


@dataclass(frozen=True, slots=True)
class Bias:
    """What a room's sensors may be off by, one standard deviation: [K], [fraction]."""

    temp_k: float = DEFAULT_TEMP_BIAS_K
    rh_frac: float = DEFAULT_RH_BIAS_FRAC


@dataclass(frozen=True, slots=True)
class RateLaw:
    """A rate law as a clock uses it.

    Attributes
    ----------
    law: the physics.
    ea_se_kj_mol: standard error of its activation energy [kJ/mol]; cure laws only.
    """

    law: kinetics.CureLaw | evaporation.WaterDrying | evaporation.SolventDrying
    ea_se_kj_mol: float = 0.0

    @property
    def needs_humidity(self) -> bool:
        """Whether an hour without humidity can be credited."""
        if isinstance(self.law, kinetics.CureLaw):
            return self.law.humidity_exponent != 0.0
        return isinstance(self.law, evaporation.WaterDrying)

    @property
    def on_surface(self) -> bool:
        """Whether the piece's own temperature counts (cure), not the air's (drying)."""
        return isinstance(self.law, kinetics.CureLaw)

    def rates(self, temp_c: Floats, rh_frac: Floats) -> Floats:
        """Return the rate at each instant [effective hours per hour]."""
        match self.law:
            case kinetics.CureLaw() as law:
                return kinetics.rate_unchecked(temp_c, rh_frac, law)
            case evaporation.WaterDrying() as law:
                return evaporation.drying_rate_water_unchecked(temp_c, rh_frac, law=law)
            case evaporation.SolventDrying() as law:  # pragma: no branch - there is no other
                return evaporation.drying_rate_solvent_unchecked(temp_c, law=law)

    def spread(self, temp_c: Floats, rh_frac: Floats, bias: Bias) -> RateSpread:
        """Return half the spread of the rate for each source of doubt."""
        match self.law:
            case kinetics.CureLaw() as law:
                return kinetics.spread_unchecked(
                    temp_c,
                    rh_frac,
                    law,
                    temp_bias_k=bias.temp_k,
                    rh_bias_frac=bias.rh_frac,
                    ea_se_kj_mol=self.ea_se_kj_mol,
                )
            case evaporation.WaterDrying() as law:
                return evaporation.spread_water_unchecked(
                    temp_c, rh_frac, law=law, temp_bias_k=bias.temp_k, rh_bias_frac=bias.rh_frac
                )
            case evaporation.SolventDrying() as law:  # pragma: no branch - there is no other
                return evaporation.spread_solvent_unchecked(
                    temp_c, law=law, temp_bias_k=bias.temp_k
                )

    @property
    def fastest(self) -> float:
        """The largest rate any room can reach [effective hours per hour]."""
        corners_c = np.array([HOTTEST_ROOM_C, HOTTEST_ROOM_C])
        return float(np.nanmax(self.rates(corners_c, np.array([0.0, 0.99]))))


class ClockTrack:
    """Running sums of one rate law over one room's climate."""

    def __init__(self, climate: ClimateTrack, law: RateLaw, bias: Bias) -> None:
        """Build the sums over everything `climate` holds."""
        self.climate = climate
        self.law = law
        self.bias = bias
        self.size = 0
        self.last_rate = 0.0
        self.last_doubt = 0.0
        self._sums = np.zeros((SUM_ROWS, SPARE_MINUTES))
        self._cover = np.zeros(SPARE_MINUTES)
        self._rate = np.zeros((2, SPARE_MINUTES))  # and its standard error
        if climate.size:
            self.extend(0)

    def extend(self, start: int) -> int:
        """Recompute the sums from grid index `start` to the end of the climate track.

        The cell before `start` is taken in again, since its far end may have moved. Returns the
        index from which on anything changed: where the gap began, if `start` lies in one.
        """
        start = max(start - 1, 0)
        size = self.climate.size
        self._reserve(size)
        temp, rh, cover = self._inputs(start)[:3]
        rate = np.nan_to_num(self.law.rates(temp, rh), copy=False, nan=0.0)
        doubt = self.law.spread(temp, rh, self.bias)
        cells = np.empty((SUM_ROWS, size - start - 1))
        for row, values in (
            (HOURS, rate),
            (BY_TEMP, doubt.temp),
            (BY_RH, doubt.rh),
            (BY_EA, doubt.ea),
            (BY_AIR, doubt.air),
        ):
            whole = np.nan_to_num(values, nan=0.0)
            cells[row] = 0.5 * (whole[:-1] + whole[1:]) * cover[:-1]
        cells[[FAST, FAST_DOUBT]] = 0.0
        cells[COVERED] = cover[:-1]
        cells[BEYOND] = cells[HOURS] * self._beyond(temp[:-1])
        self._sums[:, start + 1 : size] = self._sums[:, start : start + 1] + np.cumsum(
            cells, axis=1
        ) * (MINUTE_MS / MS_PER_H)
        self._cover[start:size] = cover
        total = np.sqrt(doubt.temp**2 + doubt.rh**2 + doubt.ea**2 + doubt.air**2)
        self._rate[:, start:size] = rate, np.nan_to_num(total, nan=0.0)
        self.size = size
        self.last_rate, self.last_doubt = (float(one) for one in self._rate[:, size - 1])
        return self._credit_gaps(start)

    def _credit_gaps(self, start: int) -> int:
        """Sum the early end anew from the cell `start` on, or from where its gap began."""
        first = self._gap_begin(start)
        hours = np.diff(self._sums[HOURS, first : self.size])
        credit, doubt = self._gap_credit(first)[:, :-1] * (MINUTE_MS / MS_PER_H)
        for row, gained in ((FAST, hours + credit), (FAST_DOUBT, doubt)):
            sums = self._sums[row, first : self.size]
            sums[1:] = sums[0] + np.cumsum(gained)
        return first

    def _gap_begin(self, start: int) -> int:
        """Return the first of the cells up to `start` that are all open, `start` if none is."""
        first = start
        while first > 0:
            begin = max(first - SPARE_MINUTES, 0)
            full = np.flatnonzero(self._cover[begin:first] >= 1.0)
            if full.size:
                return begin + int(full[-1]) + 1
            first = begin
        return first

    def _reserve(self, size: int) -> None:
        if size > self._cover.size:
            room = size + max(SPARE_MINUTES, size // 8)
            sums, cover, rate = np.zeros((SUM_ROWS, room)), np.zeros(room), np.zeros((2, room))
            sums[:, : self.size] = self._sums[:, : self.size]
            cover[: self.size] = self._cover[: self.size]
            rate[:, : self.size] = self._rate[:, : self.size]
            self._sums, self._cover, self._rate = sums, cover, rate

    def _inputs(self, start: int) -> tuple[Floats, Floats, Floats, Floats]:
        """Return what this law sees from index `start` on, and how far temperature is covered.

        Temperature, humidity, cover of all it needs, cover of temperature alone.
        """
        climate = self.climate
        temp, rh = climate.row(TEMP, start), climate.row(RH, start)
        cover = climate.row(TEMP_COVER, start)
        if self.law.on_surface:
            on_cell = climate.row(SURFACE_COVER, start)
            known = on_cell > 0.0
            known[1:] |= on_cell[:-1] > 0.0
            if start > 0:
                known[0] |= bool(climate.row(SURFACE_COVER, start - 1, start)[0] > 0.0)
            if known.any():
                temp = np.where(known, climate.row(SURFACE, start), temp)
                cover = np.maximum(cover, on_cell)
        if self.law.needs_humidity:
            return temp, rh, np.minimum(cover, climate.row(RH_COVER, start)), cover
        return temp, rh, cover, cover

    def _gap_credit(self, first: int) -> Floats:
        """Return what each cell's open share from `first` on would have earned at the fastest.

        A gap in temperature counts as the faster of its ends. Where humidity alone is missing the
        temperature that was measured counts, with the humidity of the gap's faster end. The
        second row is the standard error of the first.
        """
        temp, rh, cover, warmth = self._inputs(first)
        rate = self._rate[:, first : self.size]
        credit = np.zeros_like(rate)
        for begin, end in open_runs(cover, 0, cover.size):
            stop = min(end + 1, cover.size)
            if warmth is not cover and self.law.on_surface:
                ends = [
                    self._at_humidity(temp[begin:stop], float(rh[i])) for i in (begin, stop - 1)
                ]
                both = np.stack((np.maximum(*ends), rate[1, begin:stop]))
                credit[:, begin:end] = np.maximum(both[:, : end - begin], both[:, begin - end :])
        for begin, end in open_runs(warmth, 0, warmth.size):
            faster = begin + int(np.argmax(rate[0, begin : min(end + 1, warmth.size)]))
            credit[:, begin:end] = rate[:, faster : faster + 1]
        return np.asarray(credit * (1.0 - cover), dtype=np.float64)

    def _at_humidity(self, temp_c: Floats, rh_frac: float) -> Floats:
        return np.nan_to_num(self.law.rates(temp_c, np.full(temp_c.shape, rh_frac)), nan=0.0)

    def _beyond(self, temp_c: Floats) -> Floats:
        upper = self.law.law.upper_limit_c if isinstance(self.law.law, kinetics.CureLaw) else None
        return np.zeros_like(temp_c) if upper is None else (temp_c > upper).astype(np.float64)

    def sums_at(self, at_ms: Floats) -> Floats:
        """Return the running sums at instants [ms], shape (9, n); flat outside the record.

        Only `FAST` and its doubt go on past the newest reading, at the last known rate.
        """
        if self.size == 0:
            return np.zeros((SUM_ROWS, at_ms.size))
        position = (at_ms - self.climate.start_ms) / MINUTE_MS
        last = self.size - 1
        inside = np.minimum(np.maximum(position, 0.0), last)
        cell = np.minimum(inside.astype(np.int64), max(last - 1, 0))
        share = inside - cell
        low = self._sums[:, cell]
        gained = self._sums[:, np.minimum(cell + 1, last)] - low
        cover = self._cover[cell]
        partly = cover < 1.0
        if partly.any():
            earned = np.where(partly, self._within(cell, share), share)
            sums = low + earned * gained
            still_open = np.where(partly, 1.0 - cover, 1.0)
            waited = np.minimum(np.maximum((share - earned * cover) / still_open, 0.0), 1.0)
            sums[FAST] += (waited - earned) * (gained[FAST] - gained[HOURS])
            sums[FAST_DOUBT] += (waited - earned) * gained[FAST_DOUBT]
        else:
            sums = low + share * gained
        if position.max(initial=0.0) > last:
            past_h = np.maximum(position - last, 0.0) * (MINUTE_MS / MS_PER_H)
            sums[FAST] += past_h * self.last_rate
            sums[FAST_DOUBT] += past_h * self.last_doubt
        return np.asarray(sums, dtype=np.float64)

    def _within(self, cell: Floats, share: Floats) -> Floats:
        """Return how much of a partly covered cell's sum is earned after `share` of its minute.

        A cell that a gap opens or closes in earns at the side that readings cover.
        """
        cover = self._cover[cell]
        follows = (cell > 0) & (self._cover[np.maximum(cell - 1, 0)] > 0.0)
        safe = np.where(cover > 0.0, cover, 1.0)
        early = np.minimum(share / safe, 1.0)
        late = np.maximum(share - (1.0 - cover), 0.0) / safe
        return np.asarray(np.where(follows, early, late), dtype=np.float64)

    def when(self, row: int, target_h: float) -> float | None:
        """Return the first instant [ms] at which a rising sum reaches `target_h`, or None."""
        if self.size <= 1 or self._sums[row, self.size - 1] < target_h:
            return None
        sums = self._sums[row, : self.size]
        after = int(np.searchsorted(sums, target_h, side="left"))
        if after == 0:
            return float(self.climate.start_ms)
        cell = after - 1
        share = (target_h - sums[cell]) / (sums[after] - sums[cell])
        cover = float(self._cover[cell])
        if cover < 1.0:
            follows = cell > 0 and self._cover[cell - 1] > 0.0
            share = share * cover if follows else 1.0 - cover + share * cover
        return float(self.climate.start_ms + (cell + share) * MINUTE_MS)

    def gaps(self, start_ms: int, stop_ms: int) -> list[tuple[int, int]]:
        """Return the stretches of [start, stop) without credit, before the newest reading [ms]."""
        return gaps(
            self._cover[: self.size],
            self.climate.first_minute,
            start_ms=start_ms,
            stop_ms=stop_ms,
            frontier_ms=self.climate.frontier_ms,
        )
