"""What checks of a sensor say of its readings: corrections, from a stated instant on.

A check is a fact: what a salt or a trusted thermometer kept, and what the sensor said there. What
is made of it is worked out here each time, so that a check taken back leaves nothing behind.
Between two points checked the correction goes over in a straight line; beyond them it stays as it
is at the nearer one, for a line drawn on would claim what nobody looked at.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from curewatch.shop.reading import Quantity

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from curewatch.shop.climate import Floats, Series, Times

    Key = tuple[str, Quantity]

DAY_MS: Final = 86_400_000
NEW: Final = "new"  # what a check is held against where another sensor was hung in its place
CHECKABLE: Final = (Quantity.TEMPERATURE, Quantity.HUMIDITY, Quantity.SURFACE_TEMPERATURE)
TOGETHER_MS: Final = 30 * DAY_MS  # checks of one round of salts (our own rule)
APART_FRAC: Final = 0.25  # two salts nearer than this draw no line (our own rule)
MOST_OFF_FRAC: Final = 0.10  # more than this is no longer corrected (our own rule)
MOST_OFF_K: Final = 2.0
MOST_LOST: Final = 0.20  # share of its span that a sensor may have lost, or gained (our own rule)
BETWEEN_FRAC: Final = 0.010  # hysteresis and bend between two points [from memory: chips' sheets]
REACH_FRAC: Final = 0.10  # so far beyond what was checked it says something (our own rule)


@dataclass(frozen=True, slots=True)
class Check:
    """One sensor held against something known.

    Attributes
    ----------
    sensor, quantity: what was checked; values below are in the quantity's unit.
    against: a salt's word, or what else it was held against; `NEW` where from then on another
        sensor goes by the name, of which nothing is known yet.
    reference, reference_error: what that kept, and its standard uncertainty.
    read, read_error: what the sensor said, as it said it, and how far that scattered.
    temp_c: how warm the jar was, None where that has no part in it [degC].
    start_ms, stop_ms: when it was read [ms].
    from_ms: from when on its correction holds [ms].
    who, note: as entered.
    id: storage's number.
    """

    sensor: str
    quantity: Quantity
    against: str
    reference: float
    reference_error: float
    read: float
    read_error: float
    temp_c: float | None
    start_ms: int
    stop_ms: int
    from_ms: int
    who: str = ""
    note: str = ""
    id: int = 0

    @property
    def shift(self) -> float:
        """What makes what it read what it should have read."""
        return self.reference - self.read

    @property
    def error(self) -> float:
        """The standard uncertainty of that."""
        return float(np.hypot(self.reference_error, self.read_error))


@dataclass(frozen=True, slots=True)
class Correction:
    """A correction from an instant on, and how far it is to be believed.

    Attributes
    ----------
    from_ms: since when it holds [ms].
    checked_ms: when its newest check was made; doubt grows from there [ms].
    reads, shifts: what the sensor says at the points checked, and what is added there; none where
        it is too far off to be corrected.
    error: standard uncertainty of what is corrected, in reach of the points checked.
    low, high: the reach, in corrected values.
    off: the largest correction asked for, applied or not.
    replace: why the sensor should be replaced; '' where it need not.
    checks: the checks it is made of; none for a sensor that is new.
    """

    from_ms: int
    checked_ms: int
    reads: tuple[float, ...]
    shifts: tuple[float, ...]
    error: float
    low: float
    high: float
    off: float
    replace: str
    checks: tuple[Check, ...]

    @property
    def two_points(self) -> bool:
        """Whether it was checked at two points at least."""
        return len(self.reads) > 1

    def apply(self, values: Floats, quantity: Quantity) -> Floats:
        """Return corrected values; humidity stays between nought and saturation."""
        if not self.reads:
            return values
        found = values + np.interp(values, self.reads, self.shifts)
        return np.clip(found, 0.0, 1.0) if quantity is Quantity.HUMIDITY else found


def corrections(checks: Iterable[Check]) -> dict[Key, tuple[Correction, ...]]:
    """Return what each sensor's quantity is corrected by, in order of time.

    At an instant the newest check that holds by then rules, together with those of other salts
    made within a month before it.
    """
    by_key: dict[Key, list[Check]] = {}
    for check in checks:
        by_key.setdefault((check.sensor, check.quantity), []).append(check)
    found = {}
    for key, mine in by_key.items():
        begins = sorted({check.from_ms for check in mine})
        found[key] = tuple(
            _made_of(begin, [check for check in mine if check.from_ms <= begin]) for begin in begins
        )
    return found


def corrected(series: Series, quantity: Quantity, made: Sequence[Correction]) -> Series:
    """Return a sensor's series with its corrections, each from its own instant on."""
    times, values = series
    if not made or not times.size:
        return series
    begins = np.array([one.from_ms for one in made], dtype=np.int64)
    if int(times[-1]) < begins[0]:
        return series
    values = values.copy()
    edges = [*(int(edge) for edge in np.searchsorted(times, begins)), times.size]
    for one, begin, end in zip(made, edges[:-1], edges[1:], strict=True):
        values[begin:end] = one.apply(values[begin:end], quantity)
    return times, values


def ruling(made: Sequence[Correction], at_ms: int) -> Correction | None:
    """Return the correction that holds at an instant [ms]."""
    held = [one for one in made if one.from_ms <= at_ms]
    return held[-1] if held else None


def _made_of(from_ms: int, known: Sequence[Check]) -> Correction:
    """Return what the checks known by an instant amount to."""
    newest = max(known, key=_age)
    renewed = max((_age(check) for check in known if check.against == NEW), default=(0, 0))
    if newest.against == NEW:
        return Correction(from_ms, newest.stop_ms, (), (), 0.0, 0.0, 0.0, 0.0, "", ())
    known = [check for check in known if _age(check) > renewed]
    humid = newest.quantity is Quantity.HUMIDITY
    points = _round_of(newest, known) if humid else [newest]
    span = points[-1].reference - points[0].reference
    reads = tuple(point.read for point in points)
    shifts = tuple(point.shift for point in points)
    off = max(shifts, key=abs)
    why = _too_far(points, off, humid=humid)
    worst = max(point.error for point in points)
    return Correction(
        from_ms=from_ms,
        checked_ms=newest.stop_ms,
        reads=() if why else reads,
        shifts=() if why else shifts,
        error=float(np.hypot(worst, BETWEEN_FRAC)) if humid and span > 0.0 else worst,
        low=points[0].reference - REACH_FRAC,
        high=points[-1].reference + REACH_FRAC,
        off=off,
        replace=why,
        checks=tuple(points),
    )


def _age(check: Check) -> tuple[int, int]:
    """Return what tells an earlier check from a later one."""
    return check.stop_ms, check.id


def _round_of(newest: Check, known: Iterable[Check]) -> list[Check]:
    """Return the checks of one round that draw a line, by reference; else the newest alone."""
    latest: dict[str, Check] = {}
    for check in sorted(known, key=_age):
        if newest.stop_ms - check.stop_ms <= TOGETHER_MS:
            latest[check.against] = check
    points = sorted(latest.values(), key=lambda check: check.reference)
    low, high = points[0], points[-1]
    if high.reference - low.reference < APART_FRAC:
        return [newest]
    rising = [low]
    for point in points[1:]:
        if point.reference > rising[-1].reference and point.read > rising[-1].read:
            rising.append(point)
    if high not in rising:  # what ought to read higher reads lower: a line would hide it
        return [low, high]
    return rising


def _too_far(points: Sequence[Check], off: float, *, humid: bool) -> str:
    """Return why a sensor is past correcting, '' where it is not."""
    most = MOST_OFF_FRAC if humid else MOST_OFF_K
    if abs(off) > most:
        said = f"{100.0 * off:+.1f} points" if humid else f"{off:+.1f} K"
        limit = f"{100.0 * most:.0f} points" if humid else f"{most:g} K"
        return f"it would need {said}, and no more than {limit} is corrected"
    if len(points) > 1:
        span = points[-1].reference - points[0].reference
        kept = (points[-1].read - points[0].read) / span
        if abs(kept - 1.0) > MOST_LOST:
            return f"it shows {100.0 * kept:.0f} % of the difference between the two salts"
    return ""


@dataclass(frozen=True, slots=True)
class Jar:
    """A span in which a sensor was in a jar and told nothing of its room.

    Attributes
    ----------
    sensor, salt: which sensor, over what.
    start_ms: put in [ms].
    stop_ms: hung in its room again, None while it is in the jar [ms].
    who: who put it there.
    id: storage's number.
    """

    sensor: str
    salt: str
    start_ms: int
    stop_ms: int | None = None
    who: str = ""
    id: int = 0


def out_of_jars(series: Series, spans: Sequence[tuple[int, int]]) -> Series:
    """Return a sensor's series without the spans [ms] that it was in a jar."""
    times, values = series
    if not spans or not times.size:
        return series
    hung: np.ndarray[tuple[int, ...], np.dtype[np.bool_]] = np.ones(times.shape, dtype=bool)
    for start_ms, stop_ms in spans:
        hung &= (times < start_ms) | (times >= stop_ms)
    return series if hung.all() else (times[hung], values[hung])


def rebuilt(
    block: Mapping[Key, Series],
    made: Mapping[Key, Sequence[Correction]],
    jars: Mapping[str, Sequence[tuple[int, int]]],
) -> dict[Key, Series]:
    """Return readings as they count: corrected, without what was read in a jar."""
    found: dict[Key, Series] = {}
    for key, series in block.items():
        hung = out_of_jars(series, jars.get(key[0], ()))
        if hung[0].size or not series[0].size:
            found[key] = corrected(hung, key[1], made.get(key, ()))
    return found


def days_between(checked_ms: int, times_ms: Times) -> Times:
    """Return whole days between a check and instants on either side of it."""
    return np.abs(times_ms - checked_ms) // DAY_MS
