"""A room's climate over the hours ahead: for a spray check, and for what a planned change will do.

Temperature and vapour pressure go on from their newest values and return, within about a day, to
the usual day: 0.3 of yesterday and 0.7 of the mean of the last 7 days at the same hour. The band
comes from what this would have missed along the room's own record. Planned changes are obeyed. A
room whose heating is off keeps its vapour, up to saturation or to what its own record shows of
hours as cold (`outlook_cold`).
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TypeAlias

import numpy as np

from curewatch.errors import BadInput
from curewatch.science.arrays import (
    RH_RANGE_FRAC,
    TEMP_RANGE_C,
    FloatArray,
    Numbers,
    as_numbers,
    checked,
    checked_positive,
    refuse_where,
)
from curewatch.science.outlook import LONGEST_H
from curewatch.science.outlook_band import (
    BAND_TAIL,
    DEFAULT_AT_H,
    DEFAULT_COUNTS_AS,
    WIDTH_GROWTH,
    Band,
)
from curewatch.science.outlook_cold import dampest_seen
from curewatch.science.outlook_past import DAY_H, HOUR_S, hourly, usual_day
from curewatch.science.outlook_plans import Planned
from curewatch.science.saturation import water_pressure_pa

Path: TypeAlias = Callable[[FloatArray], FloatArray]
Ends: TypeAlias = tuple[tuple[float, ...], tuple[float, ...]]
Rates: TypeAlias = Callable[[FloatArray, FloatArray], FloatArray]

RETURN_H = 24.0
"""A departure from the usual day fades to 1/e in this time [h] (searched for at Sand Point)."""
RECOVERY_H = 3.0
"""After a planned stretch the room returns to its usual ways at this time constant [h]; our own."""
RECOVERED = 4
"""So many time constants after a stretch it leaves no trace worth following."""
LEADS_H = (1, 3, 6, 12, 24, 72)
"""Leads at which past misses are looked up [h]; the width at others lies between them."""
MEMORY_H = 90 * DAY_H
DEFAULT_TEMP_K, DEFAULT_PRESSURE_PA, DEFAULT_RH_FRAC = 2.0, 150.0, 0.08
"""Half widths 6 h ahead in a room without history; they grow as in `outlook_past`. Our own."""
HIGHEST_PRESSURE_PA = 50_000.0
"""Above this a vapour pressure is a mistake of units (80 degC saturated is 47 kPa)."""


@dataclass(frozen=True, slots=True)
class PlannedClimate:
    """
    A stretch ahead in which someone has said what the room will be like.

    Attributes
    ----------
    start_h, stop_h : float
        Hours from now; before 0 it is running already, infinite is 'from now on'.
    temp_c : float or None
        Temperature that is set, or towards which a room left to itself drifts [degC].
    rh_frac : float or None
        Relative humidity that is kept [fraction]; None leaves the vapour pressure as it would be.
    settling_h : float
        Time constant of the approach [h]; 0 is at once.
    free : bool
        Whether the room is left to itself (heater off): the band is then at least the default one.
    temp_at_least : bool
        Whether the temperature is only kept from falling: a heater cannot cool.
    rh_at_most : bool
        Whether the humidity is only kept from rising: a dehumidifier cannot wet the air.
    """

    start_h: float
    stop_h: float = math.inf
    temp_c: float | None = None
    rh_frac: float | None = None
    settling_h: float = 0.0
    free: bool = False
    temp_at_least: bool = False
    rh_at_most: bool = False

    def __post_init__(self) -> None:
        """Refuse a stretch that cannot be meant."""
        if not (math.isfinite(self.start_h) and self.start_h < self.stop_h):
            raise BadInput(
                f"A planned change runs from {self.start_h:g} to {self.stop_h:g} h from now; it"
                " must start before it stops. Correct one of them."
            )
        if self.temp_c is None and self.rh_frac is None:
            raise BadInput("A planned change sets nothing. Give temp_c, rh_frac or both.")
        if self.temp_c is not None:
            checked(self.temp_c, "temp_c", allowed=TEMP_RANGE_C, unit="degC")
        if self.rh_frac is not None:
            checked(self.rh_frac, "rh_frac", allowed=RH_RANGE_FRAC, unit="as a fraction")
        checked(self.settling_h, "settling_h", allowed=(0.0, 1000.0), unit="h")


@dataclass(frozen=True, slots=True, eq=False)
class Range:
    """Central estimate and both ends of an 80 % band, arrays in the shape of the leads."""

    low: FloatArray
    likely: FloatArray
    high: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class ClimateAhead:
    """
    A room's climate at the asked leads; what nothing is known of is None.

    Attributes
    ----------
    temp_c : Range
        [degC].
    vapour_pressure_pa : Range or None
        [Pa].
    rh_frac : Range or None
        Relative humidity [fraction].
    """

    temp_c: Range
    vapour_pressure_pa: Range | None
    rh_frac: Range | None


def climate_ahead(
    temp_c: Numbers,
    vapour_pressure_pa: Numbers,
    step_s: float,
    *,
    hours: Numbers,
    planned: Sequence[PlannedClimate] = (),
) -> ClimateAhead | None:
    """
    Climate that a room will likely have.

    Parameters
    ----------
    temp_c, vapour_pressure_pa : array
        Record up to now [degC], [Pa], `step_s` apart, oldest first, NaN where unknown, one length.
    step_s : float
        Step [s]; a whole number of steps makes an hour.
    hours : float or array
        Leads from now [h], 0 to 60 days.
    planned : sequence of PlannedClimate
        Changes to obey; where they overlap the later in the list rules.

    Returns
    -------
    ClimateAhead or None
        None where the record holds no temperature.

    Raises
    ------
    BadInput
        Shapes that do not fit, or a value that cannot be.
    """
    leads = checked(hours, "hours", allowed=(0.0, float(LONGEST_H)), unit="h")
    records = _records(temp_c, vapour_pressure_pa, step_s)
    if not np.any(np.isfinite(records[0])):
        return None
    temp_path, pressure_path = _paths(records, step_s, planned)
    released_h = min((change.start_h for change in planned if change.free), default=math.inf)
    temp_cells, pressure_cells = (hourly(record, step_s, name="record") for record in records)
    temp, pressure = temp_path(leads), pressure_path(leads)

    def band(likely: FloatArray, cells: FloatArray, default: float) -> Range:
        low, high = _misses(cells, leads, default)
        least = np.where(leads > released_h, default * _growth(leads), 0.0)
        return Range(likely + np.minimum(low, -least), likely, likely + np.maximum(high, least))

    temp_range = band(temp, temp_cells, DEFAULT_TEMP_K)
    if not np.all(np.isfinite(pressure)):
        return ClimateAhead(temp_range, None, None)
    rh_cells = pressure_cells / water_pressure_pa(temp_cells)
    rh = pressure / water_pressure_pa(temp)
    return ClimateAhead(
        temp_range,
        _clipped(band(pressure, pressure_cells, DEFAULT_PRESSURE_PA), (0.0, HIGHEST_PRESSURE_PA)),
        _clipped(band(rh, rh_cells, DEFAULT_RH_FRAC), RH_RANGE_FRAC),
    )


def planned_rates(
    temp_c: Numbers,
    vapour_pressure_pa: Numbers,
    step_s: float,
    *,
    planned: Sequence[PlannedClimate],
    rates: Rates,
) -> tuple[Planned, ...]:
    """
    Say what planned changes of the climate mean to one rate law, for `Outlook.of`.

    Parameters
    ----------
    temp_c, vapour_pressure_pa, step_s
        As for `climate_ahead`. A record without values serves where a plan sets what the law asks
        for, and does so at once.
    planned : sequence of PlannedClimate
        Changes to obey.
    rates : function of temperature [degC] and relative humidity [fraction]
        The law [h/h].

    Returns
    -------
    tuple of Planned
        One stretch for each change, in hourly parts, with the recovery after it. Hours at which the
        rate is not known are left to the outlook. Where the room is left to itself each part also
        has the rates at both ends of the climate's band (`climate_ahead`).

    Raises
    ------
    BadInput
        As for `climate_ahead`.
    """
    records = _records(temp_c, vapour_pressure_pa, step_s)
    temp_path, pressure_path = _paths(records, step_s, planned)
    found: list[Planned] = []
    for change in planned:
        recovered_h = change.stop_h + RECOVERED * RECOVERY_H
        turns = np.clip([change.start_h, change.stop_h, recovered_h], 0.0, LONGEST_H).tolist()
        for begin, end in pairwise(turns):
            parts = math.ceil(end - begin)
            if parts == 0:
                continue
            middles = begin + (np.arange(parts) + 0.5) * (end - begin) / parts
            temp = temp_path(middles)
            there = rates(temp, pressure_path(middles) / water_pressure_pa(temp))
            if not np.all(np.isfinite(there)):
                continue
            ends: Ends = ((), ())
            if change.free:
                ahead = climate_ahead(*records, step_s, hours=middles, planned=planned)
                ends = ((), ()) if ahead is None else _end_rates(ahead, rates, there)
            found.append(Planned(begin, end, tuple(there.tolist()), change.free, *ends))
    return tuple(found)


def _end_rates(ahead: ClimateAhead, rates: Rates, likely: FloatArray) -> Ends:
    """
    Rates at both ends of a climate's band: one of its quantities at an end, the other as likely.

    Both at their ends at once would be rarer than what the band stands for.
    """
    temp = ahead.temp_c
    temps = np.clip(np.stack([temp.low, temp.high, temp.likely, temp.likely]), *TEMP_RANGE_C)
    moist = np.full(temps.shape, np.nan)
    if ahead.vapour_pressure_pa is not None and ahead.rh_frac is not None:
        moist[:2] = np.minimum(ahead.vapour_pressure_pa.likely / water_pressure_pa(temps[:2]), 1.0)
        moist[2:] = ahead.rh_frac.low, ahead.rh_frac.high
    there = np.vstack([likely, rates(temps.ravel(), moist.ravel()).reshape(temps.shape)])
    return tuple(there.min(axis=0).tolist()), tuple(there.max(axis=0).tolist())


def _records(
    temp_c: Numbers, vapour_pressure_pa: Numbers, step_s: float
) -> tuple[FloatArray, FloatArray]:
    """Both records as rows of one length; an unknown value is NaN in its own."""
    checked_positive(step_s, "step_s", unit="s")
    temp, pressure = (
        as_numbers(temp_c, "temp_c"),
        as_numbers(vapour_pressure_pa, "vapour_pressure_pa"),
    )
    if temp.ndim != 1 or temp.shape != pressure.shape:
        raise BadInput(
            f"temp_c has shape {temp.shape} and vapour_pressure_pa {pressure.shape}; they must be"
            " two rows of one length."
        )
    low, high = TEMP_RANGE_C
    refuse_where((temp < low) | (temp > high), "temp_c", f"is not from {low:g} to {high:g} degC.")
    refuse_where(
        (pressure < 0.0) | (pressure > HIGHEST_PRESSURE_PA),
        "vapour_pressure_pa",
        f"is not from 0 to {HIGHEST_PRESSURE_PA:g} Pa.",
    )
    return temp, pressure


def _paths(
    records: tuple[FloatArray, FloatArray], step_s: float, planned: Sequence[PlannedClimate]
) -> tuple[Path, Path]:
    """Temperature and vapour pressure over time from now [h], plans obeyed; NaN where unknown."""
    temp, plain = (_unplanned(record, step_s) for record in records)
    to_come = [change for change in planned if change.stop_h > 0.0]
    for change in to_come:
        if change.temp_c is not None:
            limit = np.maximum if change.temp_at_least else None
            temp = _obeying(temp, change, _steady(change.temp_c), limit=limit)
    temp_cells, pressure_cells = (hourly(record, step_s, name="record") for record in records)

    def as_damp_as_ever(at_h: FloatArray) -> FloatArray:
        there = temp(at_h)
        return dampest_seen(temp_cells, pressure_cells, there) * water_pressure_pa(there)

    return temp, _moist(plain, _saturated(temp), to_come, as_damp_as_ever)


def _moist(
    plain: Path, saturated: Path, to_come: Sequence[PlannedClimate], as_damp_as_ever: Path
) -> Path:
    """Vapour pressure over time: what a cooling room is known for first, then kept humidities."""
    pressure = _drier(plain, saturated)
    for change in to_come:
        if change.free:
            pressure = _obeying(pressure, change, as_damp_as_ever, limit=np.minimum)
    for change in to_come:
        if change.rh_frac is not None:
            kept = _scaled(saturated, change.rh_frac)
            limit = np.minimum if change.rh_at_most else None
            pressure = _obeying(pressure, change, kept, limit=limit)
    return _drier(pressure, saturated)


def _saturated(temp: Path) -> Path:
    return lambda at_h: water_pressure_pa(temp(at_h))


def _drier(one: Path, other: Path) -> Path:
    return lambda at_h: np.minimum(one(at_h), other(at_h))


def _steady(value: float) -> Path:
    return lambda at_h: np.full(np.shape(at_h), value)


def _scaled(path: Path, by: float) -> Path:
    return lambda at_h: by * path(at_h)


def _obeying(
    path: Path, change: PlannedClimate, target: Path, *, limit: np.ufunc | None = None
) -> Path:
    """
    `path`, but drawn to `target` during the change and back to itself after it.

    With a `limit` it is drawn to whichever of the two that picks: kept to one side only.
    """
    start = np.array(max(change.start_h, 0.0))
    stop = np.array(min(change.stop_h, 2.0 * LONGEST_H))

    def aim(at_h: FloatArray, alone: FloatArray) -> FloatArray:
        there = target(at_h)
        return there if limit is None else np.asarray(limit(alone, there), dtype=np.float64)

    at_start, at_stop = path(start), path(stop)
    off = at_start - aim(start, at_start)

    def during(at_h: FloatArray, alone: FloatArray) -> FloatArray:
        if change.settling_h == 0.0:
            return aim(at_h, alone)
        fading = np.exp(-np.maximum(at_h - start, 0.0) / change.settling_h)
        return np.asarray(aim(at_h, alone) + off * fading, dtype=np.float64)

    left = during(stop, at_stop) - at_stop

    def obeyed(at_h: FloatArray) -> FloatArray:
        alone = path(at_h)  # once: plans lie one over the other
        after = alone + left * np.exp(-np.maximum(at_h - stop, 0.0) / RECOVERY_H)
        later = np.where(at_h < stop, during(at_h, alone), after)
        return np.asarray(np.where(at_h < start, alone, later), dtype=np.float64)

    return obeyed


def _unplanned(record: FloatArray, step_s: float) -> Path:
    """From the newest value back to the usual day; flat where no usual day is known."""
    known = np.flatnonzero(np.isfinite(record))
    if known.size == 0:
        return _steady(math.nan)
    newest = float(record[known[-1]])
    age_h = (record.size - 1 - int(known[-1])) * step_s / HOUR_S
    cells = hourly(record, step_s, name="record")
    usual = usual_day(cells)
    usual = np.concatenate((usual, np.tile(usual[-DAY_H:], 2 * LONGEST_H // DAY_H)))
    centres = np.arange(usual.size) + 0.5 - cells.size
    off = newest - float(np.interp(-age_h, centres, usual))

    def path(at_h: FloatArray) -> FloatArray:
        back = np.interp(at_h, centres, usual) + off * np.exp(-(at_h + age_h) / RETURN_H)
        return np.asarray(np.where(np.isfinite(back), back, newest), dtype=np.float64)

    return path


def _misses(cells: FloatArray, leads: FloatArray, default: float) -> Band:
    """Lay the band at the leads from what was missed along the record and the default."""
    lows, highs = [], []
    for lead_h in LEADS_H:
        missed = _missed(cells, lead_h)[-MEMORY_H:]
        missed = missed[np.isfinite(missed)]
        own = missed.size / (missed.size + DEFAULT_COUNTS_AS * lead_h)
        low, high = np.quantile(missed, (BAND_TAIL, 1.0 - BAND_TAIL)) if missed.size else (0.0, 0.0)
        half = (1.0 - own) * default * float(_growth(np.array(float(lead_h))))
        lows.append(min(own * float(low), 0.0) - half)
        highs.append(max(own * float(high), 0.0) + half)
    where, knots = np.log(np.maximum(leads, LEADS_H[0])), np.log(LEADS_H)
    return np.interp(where, knots, lows), np.interp(where, knots, highs)


def _missed(cells: FloatArray, lead_h: int) -> FloatArray:
    """Return how far each hour lay above what was to be expected `lead_h` hours before."""
    usual = usual_day(cells)[: cells.size]
    days = DAY_H * ((lead_h - 1) // DAY_H)  # an older usual day, for none newer was known then
    expected = np.full(cells.size, np.nan)
    expected[days:] = usual[: max(cells.size - days, 0)]
    newest, usual_then = (
        np.concatenate((np.full(lead_h, np.nan), row))[: cells.size] for row in (cells, usual)
    )
    back = expected + (newest - usual_then) * math.exp(-lead_h / RETURN_H)
    return np.asarray(cells - np.where(np.isfinite(back), back, newest), dtype=np.float64)


def _growth(leads: FloatArray) -> FloatArray:
    return np.asarray((np.maximum(leads, 0.25) / DEFAULT_AT_H) ** WIDTH_GROWTH, dtype=np.float64)


def _clipped(value: Range, allowed: tuple[float, float]) -> Range:
    low, likely, high = (np.clip(part, *allowed) for part in (value.low, value.likely, value.high))
    return Range(low, likely, high)
