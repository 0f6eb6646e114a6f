"""A sensor in a closed jar over a saturated salt: which salts, what to do, and whether it settled.

What people at the bench do is common practice without a source; how long and how still is our own
rule. The values that salts keep are published (`science.salts`).
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING, Final

import numpy as np

from curewatch.science.salts import SALTS, TEMP_C, kept_rh_frac, unequal_error_frac
from curewatch.shop.calibration import Check
from curewatch.shop.reading import Quantity

if TYPE_CHECKING:
    from curewatch.shop.climate import Floats, Series

HOUR_MS: Final = 3_600_000
SOONEST_H: Final = 4.0  # no sensor is believed to have settled before
LOOKED_AT_H: Final = 3.0  # so much of the end is looked at
LEAST_READINGS: Final = 4
STILL_FRAC: Final = 0.005  # halves of that differ by no more
STILL_K: Final = 0.3
SPREAD_FRAC: Final = 0.015  # nor do any two of its readings
SILENT_H: Final = 2.5  # nothing heard for so long: not settling, but silent
WET_FRAC: Final = 0.97  # wetter than any salt here: water has condensed, or salt has splashed
JAR_APART_K: Final = 0.2  # sensor and salt may differ by this in a room that keeps its warmth
RESOLUTION_FRAC: Final = 0.0005
TOO_LONG_MS: Final = 3 * 24 * HOUR_MS  # in the jar: somebody has forgotten it


@dataclass(frozen=True, slots=True)
class BenchSalt:
    """A salt that is sensible for a workshop: its formula, and what people call it and mind."""

    formula: str
    called: str
    mind: str


BENCH_SALTS: Final = {
    "table": BenchSalt("NaCl", "table salt", "kitchen salt without anything added"),
    "magnesium": BenchSalt("MgCl2", "magnesium chloride", "draws water: keep the pack closed"),
    "carbonate": BenchSalt("K2CO3", "potassium carbonate", "caustic: gloves and goggles"),
    "potassium": BenchSalt("KCl", "potassium chloride", "sold as a salt substitute if pure"),
}
"""Left out on purpose: lithium chloride (draws water for ever), magnesium nitrate (feeds a fire),
potassium sulfate (so wet that sensors are flooded)."""
JAR_STEPS: Final = (
    "Stir the salt with a little water to wet sand: slush with salt lying in it, never a solution.",
    "Put it into a small jar with a tight lid, a low dish for the salt; label it.",
    "Hang the sensor above it, dry, touching neither salt nor glass, and close the lid.",
    (
        "Salt, jar and sensor must be equally warm: let all stand in one room first, out of "
        "the sun and away from heaters; one degree apart is several points of humidity."
    ),
    "Leave it closed: 4 hours at least for a small chip, a day for a bulky case.",
    (
        "Do a second salt afterwards (table salt and magnesium chloride are the usual pair): one "
        "point says little of the rest of the range."
    ),
)
SALT_SOURCE: Final = (
    "Greenspan 1977, Journal of Research of the National Bureau of Standards 81A, 89-96, tables "
    "1 and 2"
)


class Stage(StrEnum):
    """How far a sensor in its jar has come."""

    SILENT = "silent"
    FEW = "too-few"
    SOON = "too-soon"
    DRIFTING = "still-drifting"
    WET = "wet"
    OUTSIDE = "not-at-a-salts-temperature"
    SETTLED = "settled"


@dataclass(frozen=True, slots=True)
class Settling:
    """What is seen of a sensor in its jar.

    Attributes
    ----------
    stage: how far it has come; a check can be made of `SETTLED` only.
    read, scatter: middle and spread of what it says [fraction], None with too few readings.
    moved: how far its last readings lie above those before them [fraction].
    temp_c: how warm it was [degC], None where it does not say.
    keeps: what the salt keeps at that [fraction].
    count: readings looked at.
    start_ms, stop_ms: when they were made [ms].
    """

    stage: Stage
    read: float | None = None
    scatter: float | None = None
    moved: float | None = None
    temp_c: float | None = None
    keeps: float | None = None
    count: int = 0
    start_ms: int = 0
    stop_ms: int = 0


def settling(
    salt: str, humidity: Series, temperature: Series, *, put_in_ms: int, now_ms: int
) -> Settling:
    """
    Return how far a sensor in a jar has come.

    Parameters
    ----------
    salt : str
        A word of `BENCH_SALTS`.
    humidity, temperature : (times [ms], values)
        What it has said, as it said it; temperature corrected, if it is.
    put_in_ms, now_ms : int
        When it was put in, and the moment [ms].
    """
    times, rh = _since(humidity, max(put_in_ms, now_ms - round(LOOKED_AT_H * HOUR_MS)))
    if not times.size or now_ms - int(times[-1]) > SILENT_H * HOUR_MS:
        return Settling(Stage.SILENT)
    if times.size < LEAST_READINGS:
        return Settling(Stage.FEW, count=times.size)
    half = times.size // 2
    warmth = _since(temperature, int(times[0]))[1]
    temp_c = float(np.median(warmth)) if warmth.size else None
    found = Settling(
        Stage.SETTLED,
        read=float(np.median(rh)),
        scatter=float(np.std(rh)),
        moved=float(np.median(rh[half:]) - np.median(rh[:half])),
        temp_c=temp_c,
        keeps=None if temp_c is None else keeps_rh_frac(salt, temp_c),
        count=times.size,
        start_ms=int(times[0]),
        stop_ms=int(times[-1]),
    )
    return _at(found, _stage(found, rh, warmth, waited_ms=now_ms - put_in_ms))


def _at(found: Settling, stage: Stage) -> Settling:
    return Settling(
        *(stage, found.read, found.scatter, found.moved, found.temp_c, found.keeps),
        *(found.count, found.start_ms, found.stop_ms),
    )


def _stage(found: Settling, rh: Floats, warmth: Floats, *, waited_ms: int) -> Stage:
    assert found.moved is not None  # noqa: S101 - there are readings
    if float(np.max(rh)) >= WET_FRAC:
        return Stage.WET
    if waited_ms < SOONEST_H * HOUR_MS:
        return Stage.SOON
    half = warmth.size // 2
    warmed = abs(float(np.median(warmth[half:]) - np.median(warmth[:half]))) if half else 0.0
    restless = abs(found.moved) > STILL_FRAC or float(np.ptp(rh)) > SPREAD_FRAC
    if restless or warmed > STILL_K:
        return Stage.DRIFTING
    return Stage.OUTSIDE if found.keeps is None else Stage.SETTLED


def keeps_rh_frac(salt: str, temp_c: float) -> float | None:
    """Return what a salt keeps [fraction], None at a temperature [degC] it has no value for."""
    formula = BENCH_SALTS[salt].formula
    if not TEMP_C[0] <= temp_c <= SALTS[formula].highest_c:
        return None
    return float(kept_rh_frac(formula, temp_c))


def check_of(
    sensor: str, salt: str, found: Settling, *, from_ms: int | None = None, who: str = ""
) -> Check:
    """Return the check that a settled sensor gives; it holds from `from_ms`, else from its end."""
    assert found.read is not None  # noqa: S101 - it has settled
    assert found.scatter is not None  # noqa: S101
    assert found.keeps is not None  # noqa: S101
    error = np.hypot(
        SALTS[BENCH_SALTS[salt].formula].error_frac, unequal_error_frac(found.keeps, JAR_APART_K)
    )
    return Check(
        sensor=sensor,
        quantity=Quantity.HUMIDITY,
        against=salt,
        reference=found.keeps,
        reference_error=float(error),
        read=found.read,
        read_error=float(np.hypot(found.scatter, RESOLUTION_FRAC)),
        temp_c=found.temp_c,
        start_ms=found.start_ms,
        stop_ms=found.stop_ms,
        from_ms=found.stop_ms if from_ms is None else from_ms,
        who=who,
    )


def _since(series: Series, start_ms: int) -> Series:
    times, values = series
    first = int(np.searchsorted(times, start_ms))
    return times[first:], values[first:]
