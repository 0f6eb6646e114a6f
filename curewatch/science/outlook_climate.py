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
from curewatch.science.outlook_past import DAY_H, hourly, usual_day
from curewatch.science.outlook_paths import RECOVERY_H, RETURN_H, PlannedClimate, paths
from curewatch.science.outlook_plans import Planned
from curewatch.science.saturation import water_pressure_pa

Ends: TypeAlias = tuple[tuple[float, ...], tuple[float, ...]]
Rates: TypeAlias = Callable[[FloatArray, FloatArray], FloatArray]

RECOVERED = 4
"""So many time constants after a stretch it leaves no trace worth following."""
LEADS_H = (1, 3, 6, 12, 24, 72)
"""Leads at which past misses are looked up [h]; the width at others lies between them."""
MEMORY_H = 90 * DAY_H
DEFAULT_TEMP_K, DEFAULT_PRESSURE_PA, DEFAULT_RH_FRAC = 2.0, 150.0, 0.08
"""Half widths 6 h ahead in a room without history; they grow as in `outlook_past`. Our own."""
HIGHEST_PRESSURE_PA = 50_000.0
"""Above this a vapour pressure is a mistake of units (80 degC saturated is 47 kPa)."""


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
    temp_path, pressure_path = paths(records, step_s, planned)
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
    temp_path, pressure_path = paths(records, step_s, planned)
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
