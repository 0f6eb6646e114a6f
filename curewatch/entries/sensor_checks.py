"""Holding a sensor against something known, step by step: into a jar, settled, kept, hung again."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from difflib import get_close_matches
from typing import TYPE_CHECKING, Final

import numpy as np

from curewatch.errors import BadInput
from curewatch.shop.calibration import (
    CHECKABLE,
    MOST_OFF_K,
    NEW,
    Check,
    Jar,
    corrections,
    ruling,
)
from curewatch.shop.reading import Quantity
from curewatch.shop.salt_jar import (
    BENCH_SALTS,
    HOUR_MS,
    LEAST_READINGS,
    SOONEST_H,
    STILL_K,
    Stage,
    check_of,
    settling,
)
from curewatch.shop.typed import AIR, SURFACE, HardlyMeant

if TYPE_CHECKING:
    from curewatch.opened import Opened
    from curewatch.shop.calibration import Correction
    from curewatch.shop.climate import Series
    from curewatch.shop.room import Sensor
    from curewatch.shop.salt_jar import Settling

BESIDE: Final = "thermometer"
BESIDE_H: Final = 2.0  # so long its readings are compared with what the thermometer showed
MOST_REFERENCE_K: Final = 2.0  # a thermometer known no better checks nothing
WAIT: Final = {
    Stage.SILENT: "nothing was heard of it lately: look to its battery, and whether the jar keeps "
    "its signal in",
    Stage.FEW: f"too few readings yet: wait until {LEAST_READINGS} have come",
    Stage.SOON: f"too soon: leave it closed for {SOONEST_H:g} hours at least",
    Stage.DRIFTING: "still drifting, wait",
    Stage.WET: "it shows near saturation: water has condensed on it or salt has splashed; dry it "
    "and begin again",
    Stage.OUTSIDE: "the jar's temperature is not known, or the salt has no value there: 10 to "
    "35 °C (potassium carbonate to 30 °C)",
    Stage.SETTLED: "settled",
}


@dataclass(frozen=True, slots=True)
class Standing:
    """Where the check of a sensor stands.

    Attributes
    ----------
    sensor: which.
    jar: the jar it is in, None where it is in none.
    seen: what is seen of it there.
    check: the check that could be kept now, None while it has not settled.
    made: what corrects its humidity now, None where nothing does.
    """

    sensor: Sensor
    jar: Jar | None
    seen: Settling | None
    check: Check | None
    made: Correction | None


@dataclass(frozen=True, slots=True)
class Kept:
    """A check that was kept, and what now corrects the sensor by it."""

    check: Check
    made: Correction


def sensor_named(at: Opened, name: str) -> Sensor:
    """Return a configured sensor.

    Raises
    ------
    BadInput
        When there is none of that name.
    """
    known = {sensor.id: sensor for sensor in at.settings.sensors()}
    if name in known:
        return known[name]
    near = get_close_matches(name, known, n=1)
    hint = f"did you mean {near[0]}? " if near else ""
    raise BadInput(
        f"there is no sensor '{name}' in the configuration: {hint}"
        f"{', '.join(known) or 'none is there'}"
    )


def put_in(at: Opened, name: str, salt: str, at_ms: int, *, who: str = "") -> Jar:
    """Store that a sensor is over a salt since `at_ms` [ms]; its readings are of no room now."""
    sensor = sensor_named(at, name)
    if Quantity.HUMIDITY not in sensor.measures or not sensor.air:
        raise BadInput(f"{name} tells of no humidity: a salt has nothing to say of it")
    if salt not in BENCH_SALTS:
        raise BadInput(f"'{salt}' is no salt to check by: one of {', '.join(BENCH_SALTS)}")
    jar = Jar(sensor.id, salt, at_ms, who=who)
    return replace(jar, id=at.store.sensor_checks.put_in(jar, at.entered_ms))


def standing(at: Opened, name: str) -> Standing:
    """Return where the check of a sensor stands."""
    sensor = sensor_named(at, name)
    made = corrections(at.store.sensor_checks.all())
    humid = ruling(made.get((sensor.id, Quantity.HUMIDITY), ()), at.now_ms)
    jar = next(
        (
            jar
            for jar in reversed(at.store.sensor_checks.jars())
            if jar.sensor == sensor.id and jar.stop_ms is None
        ),
        None,
    )
    if jar is None:
        return Standing(sensor, None, None, None, humid)
    warm = made.get((sensor.id, Quantity.TEMPERATURE), ())
    times, values = _series(at, sensor.id, Quantity.TEMPERATURE, jar.start_ms)
    holds = ruling(warm, at.now_ms)
    if holds is not None:
        values = holds.apply(values, Quantity.TEMPERATURE)
    seen = settling(
        jar.salt,
        _series(at, sensor.id, Quantity.HUMIDITY, jar.start_ms),
        (times, values),
        put_in_ms=jar.start_ms,
        now_ms=at.now_ms,
    )
    check = check_of(sensor.id, jar.salt, seen) if seen.stage is Stage.SETTLED else None
    return Standing(sensor, jar, seen, check, humid)


def keep(
    at: Opened, name: str, *, from_ms: int | None = None, who: str = "", note: str = ""
) -> Kept:
    """Keep the check of a sensor that has settled in its jar.

    Raises
    ------
    BadInput
        When it is in no jar, or has not settled.
    """
    here = standing(at, name)
    if here.jar is None or here.seen is None:
        raise BadInput(
            f"{name} is in no jar: put it over a salt first and say so: "
            f"curewatch sensor calibrate {name} --salt table"
        )
    if here.check is None:
        raise BadInput(f"{name} over {called(here.jar.salt)}: {WAIT[here.seen.stage]}")
    check = replace(here.check, who=who or here.jar.who, note=note)
    return _kept(at, check if from_ms is None else replace(check, from_ms=from_ms))


@dataclass(frozen=True, slots=True)
class Beside:
    """A trusted thermometer beside a sensor.

    Attributes
    ----------
    temp_c, error_k: what it shows [degC], and may be off by [K].
    surface: whether it is held beside the probe on the piece.
    in_f: whether it was typed in degF.
    really: whether the person insists on it, however far it is from what the sensor says.
    """

    temp_c: float
    error_k: float
    surface: bool = False
    in_f: bool = False
    really: bool = False


def beside(
    at: Opened, name: str, shown: Beside, *, from_ms: int | None = None, who: str = ""
) -> Kept:
    """Keep that a trusted thermometer beside a sensor shows a temperature now.

    Raises
    ------
    BadInput
        When the sensor said too little lately, its temperature moves, or the thermometer is not
        trusted enough or shows what cannot be, or what is hardly meant.
    """
    sensor = sensor_named(at, name)
    quantity = Quantity.SURFACE_TEMPERATURE if shown.surface else Quantity.TEMPERATURE
    if not 0.0 < shown.error_k <= MOST_REFERENCE_K:
        raise BadInput(
            f"a thermometer that may be off by {shown.error_k:g} K checks nothing: above 0, at "
            f"most {MOST_REFERENCE_K:g} K"
        )
    can = SURFACE if shown.surface else AIR
    if not (math.isfinite(shown.temp_c) and can.low <= shown.temp_c <= can.high):
        low, high = at.words.temp(can.low), at.words.temp(can.high)
        raise BadInput(f"what the thermometer shows is mistyped: it can be {low} to {high}")
    start_ms = at.now_ms - round(BESIDE_H * HOUR_MS)
    times, values = _series(at, sensor.id, quantity, start_ms)
    if times.size < LEAST_READINGS:
        raise BadInput(
            f"{name} told its {quantity.word.replace('_', ' ')} {times.size} times in the last "
            f"{BESIDE_H:g} hours, and {LEAST_READINGS} are needed: wait"
        )
    half = times.size // 2
    if abs(float(np.median(values[half:]) - np.median(values[:half]))) > STILL_K:
        raise BadInput(f"{name}: its temperature is {WAIT[Stage.DRIFTING]}")
    read = float(np.median(values[half:]))
    if not shown.really:
        _ask_back(at, name, shown, read)
    return _kept(
        at,
        Check(
            sensor=sensor.id,
            quantity=quantity,
            against=BESIDE,
            reference=shown.temp_c,
            reference_error=shown.error_k,
            read=read,
            read_error=float(np.std(values[half:])),
            temp_c=None,
            start_ms=int(times[half]),
            stop_ms=int(times[-1]),
            from_ms=int(times[-1]) if from_ms is None else from_ms,
            who=who,
        ),
    )


def _ask_back(at: Opened, name: str, shown: Beside, read_c: float) -> None:
    """Ask back what is further from a sensor than is ever corrected: mostly another unit."""
    apart_k, words = abs(shown.temp_c - read_c), at.words
    if apart_k <= MOST_OFF_K:
        return
    raise HardlyMeant(
        f"the thermometer shows {words.temp(shown.temp_c)} and {name} says {words.temp(read_c)}: "
        f"{words.kelvin(apart_k)} apart, and more than {words.kelvin(MOST_OFF_K)} means replacing "
        f"the sensor. Is it in {'°C' if shown.in_f else '°F'}? Nothing was stored; if it is meant "
        "so, add --really"
    )


def measured_by_it_alone(at: Opened, name: str) -> str:
    """Return the room whose humidity no other sensor tells now; '' where another does."""
    mine = sensor_named(at, name)
    in_jars = {jar.sensor for jar in at.store.sensor_checks.jars() if jar.stop_ms is None}
    others = [
        sensor
        for sensor in at.settings.sensors()
        if sensor.room == mine.room
        and sensor.air
        and Quantity.HUMIDITY in sensor.measures
        and sensor.id not in {mine.id, *in_jars}
    ]
    return "" if others else mine.room


def recorded_from(at: Opened, jar: Jar) -> tuple[Check, ...]:
    """Return the checks that were kept of a sensor while it was in a jar."""
    return tuple(
        check
        for check in at.store.sensor_checks.all()
        if check.sensor == jar.sensor
        and check.against == jar.salt
        and check.start_ms >= jar.start_ms
    )


def hang(at: Opened, name: str, at_ms: int) -> Jar:
    """Store that a sensor hangs in its room again since `at_ms` [ms]; return the jar it was in."""
    return at.store.sensor_checks.take_out(sensor_named(at, name).id, at_ms, at.entered_ms)


def renew(at: Opened, name: str, at_ms: int, *, who: str = "") -> tuple[int, ...]:
    """Store that another sensor goes by the name since `at_ms` [ms]: what was checked is over."""
    sensor = sensor_named(at, name)
    rows = [
        Check(sensor.id, q, NEW, 0.0, 0.0, 0.0, 0.0, None, at_ms, at_ms, at_ms, who=who)
        for q in CHECKABLE
        if q in sensor.measures
    ]
    return at.store.sensor_checks.add(rows, at.entered_ms)


def take_back(at: Opened, number: int, why: str) -> Check:
    """Void a check and return it.

    Raises
    ------
    BadInput
        When there is none of that number, it is void already, or no reason is given.
    """
    return at.store.sensor_checks.void(number, why, at.entered_ms)


def called(against: str) -> str:
    """Return what people call what a sensor was held against."""
    if against == NEW:
        return "nothing yet: a new sensor"
    return BENCH_SALTS[against].called if against in BENCH_SALTS else f"a {against}"


def _kept(at: Opened, check: Check) -> Kept:
    (number,) = at.store.sensor_checks.add([check], at.entered_ms)
    made = corrections(at.store.sensor_checks.all())[check.sensor, check.quantity]
    found = next(one for one in made if one.from_ms == check.from_ms)
    return Kept(replace(check, id=number), found)


def _series(at: Opened, sensor: str, quantity: Quantity, start_ms: int) -> Series:
    return at.store.readings.series(sensor, quantity, start_ms, at.now_ms + 1)
