"""Clock tracks: running sums of a rate law over a room's climate.

For a room and a rate law the effective hours since the track's start are kept as a running sum
at the minutes of the grid, so that a piece's hours are a difference of two look-ups and a due
time is one inverse look-up. Beside the hours run the same sums for each source of doubt and for
what gaps are credited by the early end that closing limits use. A track is a cache: it can be
rebuilt from readings, and it keeps no more than they do not tell at once.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from curewatch.science import evaporation, kinetics
from curewatch.shop.budget import Bias as Bias  # noqa: PLC0414, TC001 - handed on
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
from curewatch.shop.running_sums import DenseSums, StepSums

if TYPE_CHECKING:
    from collections.abc import Callable

    from curewatch.science.spread import RateSpread
    from curewatch.shop.budget import BiasAlong, RoomBudget
    from curewatch.shop.climate import Floats, Times

HOURS, BY_TEMP, BY_RH, BY_EA, BY_AIR, FAST, COVERED, BEYOND, FAST_DOUBT = range(9)
SUM_ROWS = 9
DENSE_ROWS = 5  # hours and the four doubts
STEP_ROWS = 4
OPEN, CREDIT, CREDIT_DOUBT, HOT = range(4)  # what moves in few cells: [ms], then [h]
MS_PER_H = 3_600_000.0
MINUTE_H = MINUTE_MS / MS_PER_H
HOTTEST_ROOM_C = 60.0  # no room is hotter: bounds how soon anything can change
MARGIN_MINUTES = 2880  # sums begin so long before the instant asked about: others lie near it
NOWHERE = 2**62
LAW_MINUTES = 2880  # so many minutes go through a law at once: longer arrays only take memory
SEARCH_MINUTES = 1440  # so much is looked through at once for where a gap began


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

    def spread(self, temp_c: Floats, rh_frac: Floats, bias: Bias | BiasAlong) -> RateSpread:
        """Return half the spread of the rate for each source of doubt."""
        temp_k, rh_off = np.asarray(bias.temp_k), np.asarray(bias.rh_frac)
        if self.on_surface:  # air or probe, whichever it is: the worse of them
            temp_k = np.maximum(temp_k, bias.surface_k)
        match self.law:
            case kinetics.CureLaw() as law:
                return kinetics.spread_unchecked(
                    temp_c,
                    rh_frac,
                    law,
                    temp_bias_k=temp_k,
                    rh_bias_frac=rh_off,
                    ea_se_kj_mol=self.ea_se_kj_mol,
                )
            case evaporation.WaterDrying() as law:
                return evaporation.spread_water_unchecked(
                    temp_c, rh_frac, law=law, temp_bias_k=temp_k, rh_bias_frac=rh_off
                )
            case evaporation.SolventDrying() as law:  # pragma: no branch - there is no other
                return evaporation.spread_solvent_unchecked(temp_c, law=law, temp_bias_k=temp_k)

    @property
    def fastest(self) -> float:
        """The largest rate any room can reach [effective hours per hour]."""
        corners_c = np.array([HOTTEST_ROOM_C, HOTTEST_ROOM_C])
        return float(np.nanmax(self.rates(corners_c, np.array([0.0, 0.99]))))


class ClockTrack:
    """Running sums of one rate law over one room's climate.

    They begin shortly before the earliest instant anybody asked about, and are brought up to the
    climate track when somebody asks: a record that comes in costs a clock nothing until then.
    """

    margin = MARGIN_MINUTES

    def __init__(self, climate: ClimateTrack, law: RateLaw, bias: Bias | RoomBudget) -> None:
        """Run over what `climate` holds; say with `extend` when that changes."""
        self.climate = climate
        self.law = law
        self.bias = bias
        self._forget()

    def _forget(self) -> None:
        self._begin = self._stale = NOWHERE  # grid index of the first sum; from where on to redo
        self._last = (0.0, 0.0)
        self._sums = DenseSums(DENSE_ROWS)
        self._steps = StepSums(STEP_ROWS)
        self._open_from = 0  # the first of the open cells at the end of the record
        self._open_rates = np.zeros((2, 0))  # rate and standard error from there on

    @property
    def last_rate(self) -> float:
        """The rate at the newest reading [h/h]."""
        self._reach(self.climate.size - 1)
        return self._last[0]

    @property
    def last_doubt(self) -> float:
        """Its standard error [h/h]."""
        self._reach(self.climate.size - 1)
        return self._last[1]

    def extend(self, start: int) -> int:
        """Note that the climate track was changed from grid index `start` on.

        The cell before `start` is taken in again, since its far end may have moved. Returns the
        index from which on any sum changes: where the gap began, if `start` lies in one.
        """
        start = max(start - 1, 0)
        self._stale = min(self._stale, start)
        return self._gap_begin(start)

    def _reach(self, index: int) -> None:
        """Have the sums from grid index `index`, or before it, to the end of the climate track."""
        if index < 0:  # there is no record
            return
        if index < self._begin:  # at least as much again, so that asking ever further back is cheap
            self._build(min(index - self.margin, 2 * self._begin - self.climate.size))
        elif self._stale < self._begin:
            self._build(self._begin)
        elif self._stale < NOWHERE:
            self._sum(self._stale)

    def _build(self, index: int) -> None:
        begin = self._gap_begin(max(index, 0))
        self._forget()
        self._begin = begin
        self._sum(begin)

    def _sum(self, start: int) -> None:
        """Sum anew from grid index `start` to the end of the climate track."""
        first = self._gap_begin(start)
        temp, rh, cover = self._inputs(start)[:3]
        rates, known = self._rates(temp, rh, start)
        cells = 0.5 * (known[:, :-1] + known[:, 1:]) * cover[:-1]
        self._sums.put(start - self._begin, cells * MINUTE_H)
        self._last = (float(rates[0, -1]), float(rates[1, -1]))
        self._take_steps(first, np.hstack((self._known_rates(first, start), rates)))
        self._stale = NOWHERE

    def _rates(self, temp_c: Floats, rh_frac: Floats, start: int) -> tuple[Floats, Floats]:
        """Return the rate and its standard error, (2, n); and the rate and each doubt, (5, n)."""
        parts = []
        first = self.climate.first_minute + start
        for at in range(0, temp_c.size, LAW_MINUTES):
            here = temp_c[at : at + LAW_MINUTES], rh_frac[at : at + LAW_MINUTES]
            minutes = np.arange(first + at, first + at + here[0].size, dtype=np.int64)
            doubt = self.law.spread(*here, self.bias.along(minutes * MINUTE_MS, here[1]))
            parts.append((self.law.rates(*here), doubt.temp, doubt.rh, doubt.ea, doubt.air))
        rows = np.concatenate([np.stack(part) for part in parts], axis=1)
        total = np.sqrt(np.sum(np.square(rows[BY_TEMP:]), axis=0))
        both = np.nan_to_num(np.stack((rows[HOURS], total)), copy=False, nan=0.0)
        return both, np.nan_to_num(rows, copy=False, nan=0.0)

    def _known_rates(self, first: int, start: int) -> Floats:
        """Return rate and standard error between two indices that were taken in before."""
        if first == start or first >= self._open_from:
            begin = max(first - self._open_from, 0)
            return self._open_rates[:, begin : begin + start - first]
        temp, rh = self._inputs(first)[:2]
        return self._rates(temp[: start - first], rh[: start - first], first)[0]

    def _take_steps(self, first: int, rates: Floats) -> None:
        """Sum anew what moves in few cells, from `first` on: where the gap there began."""
        temp, rh, cover, warmth = self._inputs(first)
        steps = np.empty((STEP_ROWS, cover.size - 1))
        steps[OPEN] = np.rint((1.0 - cover[:-1]) * MINUTE_MS)  # whole, so that sums are exact
        credit = self._gap_credit(temp, rh, cover, warmth, rates)
        steps[[CREDIT, CREDIT_DOUBT]] = credit[:, :-1] * MINUTE_H
        hot, begin, size = self._beyond(temp[:-1]), self._begin, self.climate.size
        gained = np.diff(self._sums.row(HOURS, first - begin, size - begin)) if hot.any() else hot
        steps[HOT] = gained * hot
        self._steps.put(first - begin, steps)
        self._open_from = self._gap_begin(size - 1)
        self._open_rates = rates[:, self._open_from - first :].copy()

    def _gap_begin(self, start: int) -> int:
        """Return the first of the cells up to `start` that are all open, `start` if none is."""
        first = start
        if start > 0 and self._cover(np.array([start - 1]))[0] >= 1.0:
            return start  # as nearly always
        while first > 0:
            begin = max(first - SEARCH_MINUTES, 0)
            full = np.flatnonzero(self._cover(np.arange(begin, first)) >= 1.0)
            if full.size:
                return begin + int(full[-1]) + 1
            first = begin
        return first

    def _cover(self, cells: Times) -> Floats:
        """Return how far readings cover each cell, in all that this law needs."""
        return self._covered(lambda row: self.climate.row(row)[cells])

    def _covered(self, part: Callable[[int], Floats]) -> Floats:
        cover = part(TEMP_COVER)
        if self.law.on_surface:
            cover = np.maximum(cover, part(SURFACE_COVER))
        return np.minimum(cover, part(RH_COVER)) if self.law.needs_humidity else cover

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

    def _gap_credit(
        self, temp: Floats, rh: Floats, cover: Floats, warmth: Floats, rates: Floats
    ) -> Floats:
        """Return what each cell's open share would have earned at the fastest.

        A gap in temperature counts as the faster of its ends. Where humidity alone is missing the
        temperature that was measured counts, with the humidity of the gap's faster end. The
        second row is the standard error of the first.
        """
        credit = np.zeros_like(rates)
        for begin, end in open_runs(cover, 0, cover.size):
            stop = min(end + 1, cover.size)
            if warmth is not cover and self.law.on_surface:
                ends = [
                    self._at_humidity(temp[begin:stop], float(rh[i])) for i in (begin, stop - 1)
                ]
                both = np.stack((np.maximum(*ends), rates[1, begin:stop]))
                credit[:, begin:end] = np.maximum(both[:, : end - begin], both[:, begin - end :])
        for begin, end in open_runs(warmth, 0, warmth.size):
            faster = begin + int(np.argmax(rates[0, begin : min(end + 1, warmth.size)]))
            credit[:, begin:end] = rates[:, faster : faster + 1]
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
        last = self.climate.size - 1
        if last < 0 or not at_ms.size:
            return np.zeros((SUM_ROWS, at_ms.size))
        position = (at_ms - self.climate.start_ms) / MINUTE_MS
        inside = np.minimum(np.maximum(position, 0.0), last)
        self._reach(max(min(int(inside.min()), last - 1), 0))
        cell = np.minimum(inside.astype(np.int64), max(last - 1, 0))
        share = inside - cell
        ends = self._at(np.concatenate((cell, np.minimum(cell + 1, last))))
        low = ends[:, : cell.size]
        gained = ends[:, cell.size :] - low
        cover = self._cover(cell) if len(self._steps) else np.ones(cell.size)
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
            sums[FAST] += past_h * self._last[0]
            sums[FAST_DOUBT] += past_h * self._last[1]
        return np.asarray(sums, dtype=np.float64)

    def _at(self, index: Times) -> Floats:
        """Return the running sums at instants of the grid, shape (9, n)."""
        index = index - self._begin
        sums = self._sums.at(index, SUM_ROWS)
        sums[FAST] = sums[HOURS]
        covered_ms = index * float(MINUTE_MS)
        if len(self._steps):
            steps = self._steps.at(index)
            sums[[FAST, FAST_DOUBT, BEYOND]] += steps[[CREDIT, CREDIT_DOUBT, HOT]]
            covered_ms -= steps[OPEN]
        sums[COVERED] = covered_ms / MS_PER_H
        return sums

    def _within(self, cell: Times, share: Floats) -> Floats:
        """Return how much of a partly covered cell's sum is earned after `share` of its minute.

        A cell that a gap opens or closes in earns at the side that readings cover.
        """
        cover = self._cover(cell)
        follows = (cell > 0) & (self._cover(np.maximum(cell - 1, 0)) > 0.0)
        safe = np.where(cover > 0.0, cover, 1.0)
        early = np.minimum(share / safe, 1.0)
        late = np.maximum(share - (1.0 - cover), 0.0) / safe
        return np.asarray(np.where(follows, early, late), dtype=np.float64)

    def when(self, target_h: float) -> float | None:
        """Return the first instant [ms] at which the hours reach `target_h`, or None.

        A target is a sum of `sums_at` and what is to be earned beyond; only what lies behind the
        earliest instant asked about there is looked through.
        """
        size = self.climate.size
        if size <= 1:
            return None
        self._reach(0 if self._begin == NOWHERE else self._begin)
        sums = self._sums.row(HOURS, 0, size - self._begin)
        if sums[-1] < target_h:
            return None
        after = int(np.searchsorted(sums, target_h, side="left"))
        if after == 0:
            return float(self.climate.start_ms + self._begin * MINUTE_MS)
        share = (target_h - sums[after - 1]) / (sums[after] - sums[after - 1])
        cell = self._begin + after - 1
        before, cover = (float(one) for one in self._cover(np.array([max(cell - 1, 0), cell])))
        if cover < 1.0:
            follows = cell > 0 and before > 0.0
            share = share * cover if follows else 1.0 - cover + share * cover
        return float(self.climate.start_ms + (cell + share) * MINUTE_MS)

    def gaps(self, start_ms: int, stop_ms: int) -> list[tuple[int, int]]:
        """Return the stretches of [start, stop) without credit, before the newest reading [ms]."""
        begin = min(
            max(self.climate.index(start_ms) - 1, 0), self.climate.size
        )  # the cell before tells
        return gaps(
            self._covered(lambda row: self.climate.row(row, begin)),
            self.climate.first_minute + begin,
            start_ms=start_ms,
            stop_ms=stop_ms,
            frontier_ms=self.climate.frontier_ms,
        )
