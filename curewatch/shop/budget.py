"""Error budgets: what a sensor may be off by at an instant, and a room's sensors together.

A sensor's budget is its accuracy, or the uncertainty of its check in its place, and the drift
since then, in quadrature. A room's is the worst of its sensors': a median of several is no better
than that when the others fall silent, and sensors of one make share their faults.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from curewatch.shop.calibration import days_between
from curewatch.shop.reading import Quantity
from curewatch.shop.room import DEFAULT_RH_BIAS_FRAC, DEFAULT_TEMP_BIAS_K

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from curewatch.shop.calibration import Correction
    from curewatch.shop.climate import Floats, Times
    from curewatch.shop.room import Sensor

    Key = tuple[str, Quantity]

DAYS_A_YEAR: Final = 365.25


@dataclass(frozen=True, slots=True)
class Bias:
    """What a room's sensors may be off by, one standard deviation.

    Attributes
    ----------
    temp_k, surface_k: of the air, and of a probe on a piece [K].
    rh_frac: of relative humidity [fraction].
    """

    temp_k: float = DEFAULT_TEMP_BIAS_K
    rh_frac: float = DEFAULT_RH_BIAS_FRAC
    surface_k: float = 0.0

    def at(self, at_ms: int | None, rh_frac: float | None = None) -> Bias:  # noqa: ARG002 - one that grows needs both
        """Return itself: it is the same at all times."""
        return self

    def along(self, times_ms: Times, rh_frac: Floats) -> BiasAlong:  # noqa: ARG002 - as above
        """Return it for instants along a record."""
        return BiasAlong(*(np.array(one) for one in (self.temp_k, self.rh_frac, self.surface_k)))


@dataclass(frozen=True, slots=True)
class BiasAlong:
    """What sensors may be off by at each instant of a stretch, or one value for all."""

    temp_k: Floats
    rh_frac: Floats
    surface_k: Floats


@dataclass(frozen=True, slots=True)
class SensorBudget:
    """What one quantity of one sensor may be off by.

    Attributes
    ----------
    accuracy: by its data sheet, or the generic default; in the quantity's unit.
    drift_per_year: what it may drift in a year.
    since_ms: since when it is known to be in use, None where not known [ms].
    made: its corrections, in order of time.
    humid: whether it is humidity, where one point says little of the rest.
    """

    accuracy: float
    drift_per_year: float
    since_ms: int | None = None
    made: tuple[Correction, ...] = ()
    humid: bool = False

    def at(self, at_ms: int, rh_frac: float | None = None) -> float:
        """Return it at an instant [ms]."""
        rh = np.array([np.nan if rh_frac is None else rh_frac])
        return float(self.along(np.array([at_ms], dtype=np.int64), rh)[0])

    def along(self, times_ms: Times, rh_frac: Floats) -> Floats:
        """Return it at each of some instants [ms], at the humidity that was there."""
        found = self._grown(np.full(times_ms.shape, self.accuracy), self.since_ms, times_ms)
        if self.since_ms is not None:
            new = times_ms < self.since_ms
            found[new] = self.accuracy
        for one in self.made:
            holds = times_ms >= one.from_ms
            if holds.any():
                base = self._checked(one, rh_frac[holds])
                found[holds] = self._grown(base, one.checked_ms, times_ms[holds])
        return found

    def _checked(self, one: Correction, rh_frac: Floats) -> Floats:
        """Return the budget just after a check."""
        if not one.checks:
            return np.full(rh_frac.shape, self.accuracy)
        if one.replace:  # known to be off, and not corrected
            return np.full(rh_frac.shape, max(self.accuracy, abs(one.off), one.error))
        if not self.humid:
            return np.full(rh_frac.shape, one.error)
        return self._away(one, rh_frac)

    def _away(self, one: Correction, rh_frac: Floats) -> Floats:
        """Return the budget of a hygrometer just after a check, at some humidities.

        Its offset is applied where nobody looked at it too, and may be as wrong there as it is
        large: within reach of one point the doubt grows to that in a straight line.
        """
        ends = [max(math.hypot(self.accuracy, shift), one.error) for shift in one.shifts]
        unknown = max(ends[0], ends[-1])
        if one.two_points:
            beyond = np.where(rh_frac < one.low, ends[0], ends[-1])
            inside = (rh_frac >= one.low) & (rh_frac <= one.high)
            found = np.where(inside, one.error, beyond)
        else:
            found = np.interp(
                rh_frac,
                (one.low, one.checks[0].reference, one.high),
                (ends[0], max(self.accuracy, one.error), ends[0]),
            )
        return np.where(np.isnan(rh_frac), unknown, found)

    def _grown(self, base: Floats, since_ms: int | None, times_ms: Times) -> Floats:
        if since_ms is None or self.drift_per_year == 0.0:
            return base
        years = days_between(since_ms, times_ms) / DAYS_A_YEAR
        return np.asarray(np.hypot(base, self.drift_per_year * years), dtype=np.float64)


@dataclass(frozen=True, slots=True)
class RoomBudget:
    """What the sensors of one room may be off by, each quantity by its worst sensor.

    Attributes
    ----------
    air, humidity, surface: budgets of the sensors that measure it.
    """

    air: tuple[SensorBudget, ...] = ()
    humidity: tuple[SensorBudget, ...] = ()
    surface: tuple[SensorBudget, ...] = ()

    def at(self, at_ms: int | None, rh_frac: float | None = None) -> Bias:
        """Return it at an instant [ms]; without one as configured."""
        if at_ms is None:
            return Bias(
                max((one.accuracy for one in self.air), default=DEFAULT_TEMP_BIAS_K),
                max((one.accuracy for one in self.humidity), default=DEFAULT_RH_BIAS_FRAC),
                max((one.accuracy for one in self.surface), default=0.0),
            )
        rh = np.array([np.nan if rh_frac is None else rh_frac])
        here = self.along(np.array([at_ms], dtype=np.int64), rh)
        return Bias(*(float(one[0]) for one in (here.temp_k, here.rh_frac, here.surface_k)))

    def along(self, times_ms: Times, rh_frac: Floats) -> BiasAlong:
        """Return it at instants [ms] along a record, at the humidity that was there."""
        return BiasAlong(
            _worst(self.air, times_ms, rh_frac, default=DEFAULT_TEMP_BIAS_K),
            _worst(self.humidity, times_ms, rh_frac, default=DEFAULT_RH_BIAS_FRAC),
            _worst(self.surface, times_ms, rh_frac, default=0.0),
        )


def _worst(
    budgets: Iterable[SensorBudget], times_ms: Times, rh_frac: Floats, *, default: float
) -> Floats:
    found = [budget.along(times_ms, rh_frac) for budget in budgets]
    if not found:
        return np.full(times_ms.shape, default)
    return np.asarray(np.maximum.reduce(found), dtype=np.float64)


def sensor_budget(
    sensor: Sensor,
    quantity: Quantity,
    *,
    made: Sequence[Correction] = (),
    since_ms: int | None = None,
) -> SensorBudget:
    """Return what a quantity of a sensor may be off by, over time."""
    humid = quantity is Quantity.HUMIDITY
    return SensorBudget(
        accuracy=sensor.rh_bias_frac if humid else sensor.temp_bias_k,
        drift_per_year=sensor.rh_drift_frac if humid else sensor.temp_drift_k,
        since_ms=since_ms,
        made=tuple(made),
        humid=humid,
    )


def room_budgets(
    rooms: Iterable[str],
    sensors: Sequence[Sensor],
    made: Mapping[Key, Sequence[Correction]],
    since_ms: Mapping[str, int],
) -> dict[str, RoomBudget]:
    """Return the budget of each room that has sensors."""
    found = {}
    for room in rooms:
        here = [sensor for sensor in sensors if sensor.room == room and sensor.air]
        if here:
            parts = [
                tuple(
                    sensor_budget(
                        sensor,
                        quantity,
                        made=made.get((sensor.id, quantity), ()),
                        since_ms=since_ms.get(sensor.id),
                    )
                    for sensor in here
                    if quantity in sensor.measures
                )
                for quantity in (
                    Quantity.TEMPERATURE,
                    Quantity.HUMIDITY,
                    Quantity.SURFACE_TEMPERATURE,
                )
            ]
            found[room] = RoomBudget(*parts)
    return found
