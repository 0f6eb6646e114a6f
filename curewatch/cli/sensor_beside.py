"""Is the hygrometer right: `sensor beside` (two sensors) and `sensor salt` (one over a salt)."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from curewatch.cli.bench import bench
from curewatch.cli.entry import TIME_FORMS, past_ms
from curewatch.cli.show import print_json, say
from curewatch.errors import BadInput
from curewatch.shop.hygrometer import AtTheTop, Difference, at_the_top, between, over_salt
from curewatch.shop.plain import FORMAT, instant
from curewatch.shop.reading import Quantity, Standing
from curewatch.shop.salt_jar import BENCH_SALTS, JAR_STEPS, SALT_SOURCE
from curewatch.shop.standings import COUNTED, MEASURED, entry

if TYPE_CHECKING:
    import argparse

    from curewatch.cli.bench import Bench
    from curewatch.shop.climate import Floats
    from curewatch.shop.plain import Plain

HOUR_MS: Final = 3_600_000
DAYS: Final = 30
NOT_PROVED: Final = (
    "Two sensors that agree may both be wrong, and one point says nothing of the rest: nothing "
    "here makes a sensor right. What a sensor may be off by stays as configured."
)
SAID: Final = {
    "within": "no further apart than both may be off",
    "apart": "further apart than both may be off: one of them is wrong, and this cannot say which",
    "drifting": "drifting apart: one of them is changing",
    "off": "off by more than it may be",
    "unknown": "cannot be told: too few readings, or no value for its temperature",
}


def beside_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the two sensors."""
    parser.add_argument("sensor", metavar="ID")
    parser.add_argument("other", metavar="OTHER", help="one that hangs beside it")
    parser.add_argument(
        "--from", dest="start", metavar="TIME", help="since when (default: 30 days)"
    )


def salt_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the salt and the time in the jar."""
    parser.add_argument("sensor", metavar="ID")
    parser.add_argument("--salt", required=True, choices=list(BENCH_SALTS), help="which salt")
    parser.add_argument("--from", dest="start", required=True, metavar="TIME", help=TIME_FORMS)
    parser.add_argument("--to", dest="stop", metavar="TIME", help="until before then")


def run_beside(args: argparse.Namespace) -> int:
    """Compare two sensors over the hours both were heard."""
    if args.sensor == args.other:
        raise BadInput("a sensor cannot be compared with itself: name two")
    with bench(args) as at:
        start_ms = at.now_ms - DAYS * 24 * HOUR_MS
        if args.start is not None:
            start_ms = past_ms(at, args.start, option="--from")
        span = (start_ms, at.now_ms + 1)  # the newest reading is one of them
        ours, theirs = (_bias(at, name) for name in (args.sensor, args.other))
        found = {
            quantity: between(
                _hours(at, args.sensor, quantity, span),
                _hours(at, args.other, quantity, span),
                (ours[quantity] ** 2 + theirs[quantity] ** 2) ** 0.5,
            )
            for quantity in (Quantity.TEMPERATURE, Quantity.HUMIDITY)
        }
        ends = _ends(at, args.sensor, args.other, span, found[Quantity.HUMIDITY].allowed)
    head: Plain = {"sensor": args.sensor, "other": args.other, "from": instant(start_ms)}
    return _answer(args, head, found, ends)


def _ends(
    at: Bench, sensor: str, other: str, span: tuple[int, int], allowed: float
) -> dict[str, AtTheTop]:
    """Return of each of two hygrometers whether it loses its damp end against the other."""
    ours, theirs = (_hours(at, name, Quantity.HUMIDITY, span) for name in (sensor, other))
    return {
        sensor: at_the_top(ours, theirs, allowed),
        other: at_the_top(theirs, ours, allowed),
    }


def run_salt(args: argparse.Namespace) -> int:
    """Compare a sensor in a jar with what its salt keeps."""
    with bench(args) as at:
        start_ms = past_ms(at, args.start, option="--from")
        stop_ms = past_ms(at, args.stop, option="--to")
        allowed = _bias(at, args.sensor)[Quantity.HUMIDITY]
        rh = at.store.readings.series(args.sensor, Quantity.HUMIDITY, start_ms, stop_ms)[1]
        temp = at.store.readings.series(args.sensor, Quantity.TEMPERATURE, start_ms, stop_ms)[1]
        temp_c = float(np.median(temp)) if temp.size else float("nan")
        found = {Quantity.HUMIDITY: over_salt(args.salt, rh, temp_c, allowed)}
    head: Plain = {
        "sensor": args.sensor,
        "salt": args.salt,
        "temp_c": temp_c if np.isfinite(temp_c) else None,
        "steps": [*JAR_STEPS],
    }
    return _answer(args, head, found)


def _bias(at: Bench, name: str) -> dict[Quantity, float]:
    """Return what a sensor may be off by, as configured."""
    for sensor in at.settings.sensors():
        if sensor.id == name:
            return {
                Quantity.TEMPERATURE: sensor.temp_bias_k,
                Quantity.HUMIDITY: sensor.rh_bias_frac,
            }
    known = ", ".join(sensor.id for sensor in at.settings.sensors())
    raise BadInput(f"there is no sensor '{name}' in the configuration: {known or 'none'}")


def _hours(at: Bench, sensor: str, quantity: Quantity, span: tuple[int, int]) -> Floats:
    """Return hourly means of a sensor, NaN where it was not heard."""
    start_ms, stop_ms = span
    times, values = at.store.readings.series(sensor, quantity, start_ms, stop_ms)
    count = max((stop_ms - start_ms) // HOUR_MS + 1, 1)
    cells = (times - start_ms) // HOUR_MS
    sums = np.bincount(cells, weights=values, minlength=count)
    heard = np.bincount(cells, minlength=count).astype(np.float64)
    means = np.divide(sums, heard, out=np.full(sums.shape, np.nan), where=heard > 0.0)
    return np.asarray(means, dtype=np.float64)


def _answer(
    args: argparse.Namespace,
    head: Plain,
    found: dict[Quantity, Difference],
    ends: dict[str, AtTheTop] | None = None,
) -> int:
    ends = ends or {}
    if args.json:
        measured, may = entry(MEASURED, COUNTED), entry("data-sheet", "[[sensor]] as configured")
        told: Plain = {"temp_c": entry(MEASURED, "this sensor")}
        for quantity in found:
            told[quantity.word] = measured
            told[f"{quantity.word}.allowed"] = may
        if "salt" in head:
            told[Quantity.HUMIDITY.word] = entry(Standing.FROM_MEMORY, SALT_SOURCE)
        rows: Plain = {q.word: _plain(q, one) for q, one in found.items()}
        if ends:
            told["damp_end"] = measured
            rows["damp_end"] = [_end_plain(name, one) for name, one in ends.items()]
        print_json({"format": FORMAT, **head, **rows, "not_proved": NOT_PROVED, "standing": told})
        return 0
    for quantity, one in found.items():
        say(f"{quantity.word.capitalize()}: {_said(quantity, one)}")
    for name, end in ends.items():
        if end.lost is not None and end.says != "even":
            say(
                f"{name} reads {100.0 * end.lost:.1f} points lower in damp air than it does in "
                "middling air, held against the other: what solvent does to a sensor. A salt of "
                "75 % tells which of them it is; replace that one."
            )
    say(NOT_PROVED)
    for step in JAR_STEPS if "salt" in head else ():
        say(f"- {step}", indent=2)
    return 0


def _plain(quantity: Quantity, one: Difference) -> Plain:
    scale = 100.0 if quantity is Quantity.HUMIDITY else 1.0

    def told(value: float | None) -> float | None:
        return None if value is None else value * scale

    return {
        "count": one.count,
        "difference": told(one.middle),
        "spread": told(one.spread),
        "drift": told(one.drift),
        "allowed": told(one.allowed),
        "unit": "points" if quantity is Quantity.HUMIDITY else "K",
        "says": one.says,
    }


def _end_plain(name: str, one: AtTheTop) -> Plain:
    """Return how a hygrometer stands at the damp end, in points."""
    points = [None if n is None else 100.0 * n for n in (one.middle, one.top, one.lost)]
    return {
        "sensor": name,
        "count": one.count,
        "middling_points": points[0],
        "damp_points": points[1],
        "lost_points": points[2],
        "says": one.says,
    }


def _said(quantity: Quantity, one: Difference) -> str:
    if one.middle is None:
        return f"{SAID[one.says]}."
    scale, unit = (100.0, "points") if quantity is Quantity.HUMIDITY else (1.0, "K")
    return (
        f"{one.middle * scale:+.1f} {unit} in the middle of {one.count}, {SAID[one.says]} "
        f"({one.allowed * scale:.1f} {unit})."
    )
