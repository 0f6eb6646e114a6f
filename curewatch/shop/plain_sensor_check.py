"""Checks of sensors, what corrects them and what they may be off by, as plain data."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from curewatch.shop.calibration import CHECKABLE
from curewatch.shop.plain import FORMAT, instant
from curewatch.shop.reading import Quantity, Standing
from curewatch.shop.salt_jar import SALT_SOURCE
from curewatch.shop.standings import COUNTED, LOGGED, MEASURED, entry
from curewatch.shop.trust_conditions import checked_ms, due_ms, off_by

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from curewatch.shop.calibration import Check, Correction
    from curewatch.shop.plain import Plain, PlainValue
    from curewatch.shop.room import Sensor
    from curewatch.shop.salt_jar import Settling
    from curewatch.shop.shop import Shop

BUDGET: Final = "[[sensor]] as configured, or its check in its place, and the drift since"
OWN_RULE: Final = "by our own rules from the checks that were kept"


def trusted_plain(
    shop: Shop,
    now_ms: int,
    checks: Iterable[Check],
    voids: Mapping[int, str],
    *,
    sensor: str | None = None,
) -> Plain:
    """Return how far the shop's sensors are to be believed, and every check, void ones too."""
    rows: list[PlainValue] = [
        check_plain(check, void_why=voids.get(check.id))
        for check in checks
        if sensor in (None, check.sensor)
    ]
    here: list[PlainValue] = [
        sensor_trust_plain(shop, one, now_ms)
        for one in shop.sensors
        if one.air and sensor in (None, one.id)
    ]
    return {"format": FORMAT, "sensors": here, "checks": rows}


def sensor_trust_plain(shop: Shop, sensor: Sensor, now_ms: int) -> Plain:
    """Return how far one sensor is to be believed."""
    told = [quantity for quantity in CHECKABLE if quantity in sensor.measures]
    off: Plain = {}
    made: list[PlainValue] = []
    for quantity in told:
        humid = quantity is Quantity.HUMIDITY
        heard = shop.heard.get((sensor.id, quantity))
        said = heard.value if humid and heard is not None else None
        rh = None if said is None else shop.trust.value(sensor.id, quantity, now_ms, said)
        by = off_by(shop, sensor, quantity, now_ms, rh)
        off[f"{quantity.word}_off_{'pct' if humid else 'k'}"] = by * (100.0 if humid else 1.0)
        holds = shop.trust.ruling(sensor.id, quantity, now_ms)
        if holds is not None:
            made.append(correction_plain(holds, quantity))
    return {
        "sensor": sensor.id,
        "room": sensor.room,
        **off,
        "corrections": made,
        "jar_since": instant(shop.trust.jar_since_ms(sensor.id, now_ms)),
        "checked_at": instant(checked_ms(shop, sensor, now_ms)),
        "due_at": instant(due_ms(shop, sensor, now_ms)),
        "standing": dict.fromkeys(off, entry(Standing.DATA_SHEET, BUDGET)),
    }


def check_plain(check: Check, *, void_why: str | None = None) -> Plain:
    """Return one check; humidity in percent, temperatures in degC."""
    scale = 100.0 if check.quantity is Quantity.HUMIDITY else 1.0
    return {
        "id": check.id,
        "sensor": check.sensor,
        "quantity": check.quantity.word,
        "unit": _unit(check.quantity),
        "against": check.against,
        "reference": check.reference * scale,
        "reference_error": check.reference_error * scale,
        "read": check.read * scale,
        "read_error": check.read_error * scale,
        "temp_c": check.temp_c,
        "start_at": instant(check.start_ms),
        "stop_at": instant(check.stop_ms),
        "from": instant(check.from_ms),
        "who": check.who,
        "note": check.note,
        "void_why": void_why,
        "standing": {
            "reference": entry(Standing.FROM_MEMORY, SALT_SOURCE)
            if check.quantity is Quantity.HUMIDITY
            else entry(MEASURED, "read off a thermometer"),
            "reference_error": entry(Standing.COMMON_PRACTICE, OWN_RULE),
            "read": entry(MEASURED, "this sensor, uncorrected"),
            "read_error": entry(MEASURED, "this sensor, uncorrected"),
            "temp_c": entry(MEASURED, "this sensor"),
            "id": entry(MEASURED, LOGGED),
        },
    }


def correction_plain(made: Correction, quantity: Quantity) -> Plain:
    """Return what corrects a quantity of a sensor."""
    scale = 100.0 if quantity is Quantity.HUMIDITY else 1.0
    points: list[PlainValue] = [
        {"reads": read * scale, "add": shift * scale}
        for read, shift in zip(made.reads, made.shifts, strict=True)
    ]
    return {
        "quantity": quantity.word,
        "unit": _unit(quantity),
        "from": instant(made.from_ms),
        "checked_at": instant(made.checked_ms),
        "points": points,
        "error": made.error * scale,
        "off": made.off * scale,
        "replace": made.replace,
        "standing": {
            "points": entry(Standing.PHYSICS, OWN_RULE),
            "error": entry(Standing.PHYSICS, OWN_RULE),
            "off": entry(Standing.PHYSICS, OWN_RULE),
        },
    }


def settling_plain(seen: Settling) -> Plain:
    """Return what is seen of a sensor in its jar, in percent and degC."""

    def pct(value: float | None) -> float | None:
        return None if value is None else 100.0 * value

    return {
        "stage": seen.stage.value,
        "reads_pct": pct(seen.read),
        "scatter_pct": pct(seen.scatter),
        "moved_pct": pct(seen.moved),
        "temp_c": seen.temp_c,
        "keeps_pct": pct(seen.keeps),
        "count": seen.count,
        "standing": {
            **dict.fromkeys(
                ("reads_pct", "scatter_pct", "moved_pct", "temp_c"), entry(MEASURED, "this sensor")
            ),
            "keeps_pct": entry(Standing.FROM_MEMORY, SALT_SOURCE),
            "count": entry(MEASURED, COUNTED),
        },
    }


def _unit(quantity: Quantity) -> str:
    return "%" if quantity is Quantity.HUMIDITY else "degC"
