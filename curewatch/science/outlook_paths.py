"""The path of a room's climate over time ahead, and what planned changes make of it.

Temperature and vapour pressure go from their newest values back to the usual day; each plan draws
the path below it to what it keeps, and lets it go afterwards.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from curewatch.errors import BadInput
from curewatch.science.arrays import RH_RANGE_FRAC, TEMP_RANGE_C, FloatArray, checked
from curewatch.science.outlook import LONGEST_H
from curewatch.science.outlook_cold import dampest_seen
from curewatch.science.outlook_past import DAY_H, HOUR_S, hourly, usual_day
from curewatch.science.saturation import water_pressure_pa

Path: TypeAlias = Callable[[FloatArray], FloatArray]

RETURN_H = 24.0
"""A departure from the usual day fades to 1/e in this time [h] (searched for at Sand Point)."""
RECOVERY_H = 3.0
"""After a planned stretch the room returns to its usual ways at this time constant [h]; our own."""


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


def paths(
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
