"""Checks of sensors, and what corrects them, as plain data."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from curewatch.shop.plain import instant
from curewatch.shop.reading import Quantity, Standing
from curewatch.shop.salt_jar import SALT_SOURCE
from curewatch.shop.standings import COUNTED, LOGGED, MEASURED, entry

if TYPE_CHECKING:
    from curewatch.shop.calibration import Check, Correction
    from curewatch.shop.plain import Plain, PlainValue
    from curewatch.shop.salt_jar import Settling

OWN_RULE: Final = "by our own rules from the checks that were kept"


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
            else entry(LOGGED, "read off a thermometer"),
            "reference_error": entry(Standing.COMMON_PRACTICE, OWN_RULE),
            "read": entry(MEASURED, "this sensor, uncorrected"),
            "read_error": entry(MEASURED, "this sensor, uncorrected"),
            "temp_c": entry(MEASURED, "this sensor"),
            "id": entry(LOGGED, LOGGED),
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
