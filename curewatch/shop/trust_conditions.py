"""What is to be said of a sensor's trust: a check that is due, one too far off, two that disagree.

None of it blocks a verdict: doubt that has grown stands in the verdicts by itself.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.shop.alert import AlertKind
from curewatch.shop.apart import LOOKED_AT_H
from curewatch.shop.budget import sensor_budget
from curewatch.shop.calibration import CHECKABLE, DAY_MS
from curewatch.shop.conditions import Condition
from curewatch.shop.reading import Quantity, Urgency
from curewatch.shop.salt_jar import TOO_LONG_MS

if TYPE_CHECKING:
    from curewatch.shop.apart import Apart
    from curewatch.shop.room import Sensor
    from curewatch.shop.shop import Shop


def trust_conditions(shop: Shop, sensor: Sensor, now_ms: int) -> list[Condition]:
    """Return what is to be said of how far one sensor is to be believed."""
    if not sensor.air:
        return []
    return [
        *_jar(shop, sensor, now_ms),
        *_off(shop, sensor, now_ms),
        *_beside(shop, sensor, now_ms),
        *_due(shop, sensor, now_ms),
    ]


def due_ms(shop: Shop, sensor: Sensor, now_ms: int) -> int | None:
    """Return when a sensor's next check is due [ms]; None where nothing is known of it."""
    checked = checked_ms(shop, sensor, now_ms)
    since = shop.trust.since_ms.get(sensor.id) if checked is None else checked
    return None if since is None else since + round(sensor.calibration_every_days * DAY_MS)


def checked_ms(shop: Shop, sensor: Sensor, now_ms: int) -> int | None:
    """Return when a sensor was last checked, by humidity where it tells of that [ms]."""
    told = [quantity for quantity in CHECKABLE if quantity in sensor.measures]
    lead = Quantity.HUMIDITY if Quantity.HUMIDITY in told else next(iter(told), None)
    holds = None if lead is None else shop.trust.ruling(sensor.id, lead, now_ms)
    return None if holds is None else holds.checked_ms


def off_by(shop: Shop, sensor: Sensor, quantity: Quantity, at_ms: int, rh: float | None) -> float:
    """Return what a quantity of a sensor may be off by at an instant [ms]."""
    made = shop.trust.made.get((sensor.id, quantity), ())
    since = shop.trust.since_ms.get(sensor.id)
    return sensor_budget(sensor, quantity, made=made, since_ms=since).at(at_ms, rh)


def apart_said(pair: Apart) -> str:
    """Say by how much two sensors differ, and what they might."""
    scale, unit = (100.0, "points") if pair.quantity is Quantity.HUMIDITY else (1.0, "K")
    more = "more" if pair.middle > 0 else "less"
    return (
        f"{pair.sensor} has shown {abs(pair.middle) * scale:.1f} {unit} {more} than {pair.other} "
        f"for {LOOKED_AT_H} hours, and both together may be {pair.allowed * scale:.1f} {unit} off"
    )


def _jar(shop: Shop, sensor: Sensor, now_ms: int) -> list[Condition]:
    since = shop.trust.jar_since_ms(sensor.id, now_ms)
    if since is None or now_ms - since < TOO_LONG_MS:
        return []
    return [
        Condition(
            AlertKind.SENSOR_IN_JAR,
            f"sensor:{sensor.id}",
            Urgency.TODAY,
            f"sensor {sensor.id} is in a jar since {shop.words.dated(since, now_ms)}; "
            f"it tells nothing of {sensor.room}.",
            f"Keep the check, hang it again and say so: curewatch sensor calibrate {sensor.id} "
            "--back",
        )
    ]


def _off(shop: Shop, sensor: Sensor, now_ms: int) -> list[Condition]:
    for quantity in CHECKABLE:
        holds = shop.trust.ruling(sensor.id, quantity, now_ms)
        if holds is not None and holds.replace:
            return [
                Condition(
                    AlertKind.SENSOR_OFF,
                    f"sensor:{sensor.id}",
                    Urgency.TODAY,
                    f"sensor {sensor.id} in {sensor.room} is past correcting: {holds.replace}.",
                    f"Replace it, and say so: curewatch sensor calibrate {sensor.id} --renewed",
                )
            ]
    return []


def _beside(shop: Shop, sensor: Sensor, now_ms: int) -> list[Condition]:
    found = shop.book.beside.get(sensor.room)
    if found is None or not found.speaks_at(now_ms):
        return []
    said = [
        Condition(
            AlertKind.SENSORS_APART,
            f"sensor:{sensor.id}#apart-{pair.other}-{pair.quantity.word}",
            Urgency.TODAY,
            f"in {sensor.room} {apart_said(pair)}. {_which(shop, pair, now_ms)}",
            "Hang both on one hook for a day; if they stay apart, check them: curewatch "
            "sensor calibrate ID",
        )
        for pair in found.apart
        if pair.sensor == sensor.id
    ]
    if sensor.id in found.flooded:
        said.append(
            Condition(
                AlertKind.SENSOR_WET,
                f"sensor:{sensor.id}",
                Urgency.TODAY,
                f"sensor {sensor.id} in {sensor.room} has shown saturated air for {LOOKED_AT_H} "
                "hours: water has condensed on it, or the room is wet.",
                "Dry it in warm air; if it stays up there, check it over table salt or replace it.",
            )
        )
    return said


def _which(shop: Shop, pair: Apart, now_ms: int) -> str:
    """Say which of two was checked lately; that they disagree says nothing of it."""
    every = {one.id: one.calibration_every_days for one in shop.sensors}
    fresh = []
    for name in (pair.sensor, pair.other):
        holds = shop.trust.ruling(name, pair.quantity, now_ms)
        if holds is not None and holds.checks and not holds.replace:
            age_days = (now_ms - holds.checked_ms) / DAY_MS
            if age_days <= every.get(name, 0.0):
                fresh.append((name, holds.checked_ms))
    if len(fresh) != 1:
        return "Which of them is off, this cannot say."
    (name, at_ms), other = fresh[0], {pair.sensor, pair.other} - {fresh[0][0]}
    return (
        f"{name} was checked {shop.words.dated(at_ms, now_ms)}, {other.pop()} was not: likely the "
        "unchecked one is off."
    )


def _due(shop: Shop, sensor: Sensor, now_ms: int) -> list[Condition]:
    due = due_ms(shop, sensor, now_ms)
    if due is None or now_ms <= due:
        return []
    checked = checked_ms(shop, sensor, now_ms)
    last = (
        "was never checked"
        if checked is None
        else (f"was last checked {shop.words.dated(checked, now_ms)}")
    )
    return [
        Condition(
            AlertKind.SENSOR_CHECK_DUE,
            f"sensor:{sensor.id}",
            Urgency.NOTE,
            f"sensor {sensor.id} in {sensor.room} {last}; every "
            f"{sensor.calibration_every_days:.0f} days is asked. What it may be off by grows "
            "until then.",
            f"Check it: curewatch sensor calibrate {sensor.id}. Nothing waits for it.",
        )
    ]
