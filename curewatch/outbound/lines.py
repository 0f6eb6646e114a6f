"""Line protocol: readings, withdrawals, alerts, rooms and pieces as points with names that stay.

The names are a contract (docs/influx.md). A point's measurement, tags and time are its key, so the
same row sent twice is one point. What is not known has no field.

References
----------
InfluxDB line protocol: escapes of commas, equals signs and spaces in names and tags, of quotes and
backslashes in strings; whole numbers end in i. From memory, and held to a real server by tests.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, TypeGuard

from curewatch.shop.reading import Quantity

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from curewatch.shop.alert import AlertKind, AlertPhase
    from curewatch.shop.plain_state import State
    from curewatch.shop.reading import Reading
    from curewatch.shop.reading_void import ReadingVoid

FIELD_NAMES = {
    "temperature": "temperature_c",
    "humidity": "humidity_frac",
    "surface_temperature": "surface_temperature_c",
    "mass": "mass_g",
    "air_speed": "air_speed_m_s",
    "fan_on": "fan_on",
}
FIELD_OF = {quantity: FIELD_NAMES[quantity.word] for quantity in Quantity}

FieldValue = float | int | bool | str | None


def reading_line(site: str, reading: Reading) -> str:
    """Return one reading; temperatures [degC], humidity [fraction], mass [g]."""
    tags = {"site": site, "sensor": reading.sensor}
    return _line(
        "curewatch_reading", tags, {FIELD_OF[reading.quantity]: reading.value}, reading.at_ms
    )


def alert_line(  # noqa: PLR0913 - a step of an alert's life, fact by fact
    site: str,
    *,
    kind: AlertKind,
    subject: str,
    phase: AlertPhase,
    number: int,
    reason: str,
    at_ms: int,
) -> str:
    """Return one step of an alert's life at `at_ms` [ms]."""
    tags = {"site": site, "kind": kind.value, "subject": subject, "phase": phase.value}
    return _line("curewatch_alert", tags, {"alert": number, "reason": reason}, at_ms)


def void_line(site: str, number: int, void: ReadingVoid) -> str:
    """Return what a person withdrew of a sensor's readings.

    Its number is among the tags: two withdrawals of one sensor may be said in one millisecond.
    """
    fields: dict[str, FieldValue] = {
        "void": number,
        "start_ms": void.start_ms,
        "stop_ms": void.stop_ms,
        "field": None if void.quantity is None else FIELD_OF[void.quantity],
        "why": void.why,
    }
    tags = {"site": site, "sensor": void.sensor, "number": str(number)}
    return _line("curewatch_void", tags, fields, void.at_ms)


def state_lines(site: str, state: State) -> Iterator[str]:
    """Yield a room as it stood and its spray verdict for each finish, or a piece as it stood."""
    facts = {key: value for key, value in state.facts.items() if not isinstance(value, dict | list)}
    tags = {"site": site, state.kind: state.name}
    yield _line(f"curewatch_{state.kind}", tags, facts, state.at_ms)
    checks = state.facts.get("spray")
    for finish, check in checks.items() if isinstance(checks, dict) else ():
        if isinstance(check, dict):
            told = {k: v for k, v in check.items() if not isinstance(v, dict | list)}
            yield _line("curewatch_spray", {**tags, "finish": finish}, told, state.at_ms)


def _line(name: str, tags: Mapping[str, str], fields: Mapping[str, FieldValue], at_ms: int) -> str:
    plain = {key: _tag(value) for key, value in tags.items()}
    keys = "".join(f",{key}={value}" for key, value in plain.items() if value)
    known = ",".join(f"{key}={_field(value)}" for key, value in fields.items() if _known(value))
    return f"{name}{keys} {known} {at_ms}"


def _known(value: FieldValue) -> TypeGuard[float | str]:
    """Whether a field says anything; line protocol has no word for what is no number."""
    return value is not None and not (isinstance(value, float) and not math.isfinite(value))


def _tag(text: str) -> str:
    """Return a tag's value; a line break would end the point, a last backslash eat the comma."""
    plain = " ".join(text.splitlines()).rstrip("\\")
    return plain.replace(",", "\\,").replace("=", "\\=").replace(" ", "\\ ")


def _field(value: float | str) -> str:
    match value:
        case bool():
            return "true" if value else "false"
        case int():
            return f"{value}i"
        case float():
            return repr(value)
        case _:
            plain = " ".join(value.splitlines())
            return '"' + plain.replace("\\", "\\\\").replace('"', '\\"') + '"'
