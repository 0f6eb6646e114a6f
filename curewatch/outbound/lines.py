"""Line protocol: readings, alerts, rooms and pieces as points with names that stay.

The names are a contract (docs/influx.md). A point's measurement, tags and time are its key, so the
same row sent twice is one point. What is not known has no field.

References
----------
InfluxDB line protocol: escapes of commas, equals signs and spaces in names and tags, of quotes and
backslashes in strings; whole numbers end in i. From memory, and held to a real server by tests.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.shop.reading import Quantity

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from curewatch.shop.alert import AlertKind, AlertPhase
    from curewatch.shop.assessment import PieceNow, RoomNow
    from curewatch.shop.reading import Reading

FIELD_OF = {
    Quantity.TEMPERATURE: "temperature_c",
    Quantity.HUMIDITY: "humidity_frac",
    Quantity.SURFACE_TEMPERATURE: "surface_temperature_c",
    Quantity.MASS: "mass_g",
}

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


def room_lines(site: str, room: RoomNow, at_ms: int) -> Iterator[str]:
    """Yield a room as it stands at `at_ms` [ms], and its spray verdict for each finish."""
    climate = room.climate if room.fresh else None
    fields: dict[str, FieldValue] = {
        "fresh": room.fresh,
        "coverage_24h_frac": room.coverage_24h_pct / 100.0,
    }
    if climate is not None:
        fields |= {
            "temperature_c": climate.temp_c,
            "humidity_frac": climate.rh_frac,
            "surface_temperature_c": climate.surface_c,
            "dew_point_c": room.dew_point_c,
        }
    tags = {"site": site, "room": room.name}
    yield _line("curewatch_room", tags, fields, at_ms)
    for check in room.checks:
        finish = {**tags, "finish": check.finish}
        yield _line("curewatch_spray", finish, {"verdict": check.verdict.value}, at_ms)


def piece_line(site: str, piece: PieceNow, at_ms: int) -> str:
    """Return a piece as it stands at `at_ms` [ms]: its clocks [h], window and milestones."""
    fields: dict[str, FieldValue] = {
        "finish": piece.finish,
        "room": piece.room,
        "coats": piece.coats,
    }
    for clock, reading in piece.clocks.items():
        fields[f"{clock.value}_h"] = reading.effective_hours
        fields[f"{clock.value}_error_h"] = reading.standard_error
    for stone in piece.milestones:
        if stone.required_hours is not None:
            name = stone.name.value.replace("-", "_")
            fields[f"{name}_reached"] = stone.cautious_at is not None
    if piece.window is not None:
        fields["window"] = piece.window.state.value
    if piece.sink_back is not None:
        fields["sink_back_um"] = piece.sink_back.remaining_um
    return _line("curewatch_piece", {"site": site, "piece": piece.tag}, fields, at_ms)


def _line(name: str, tags: Mapping[str, str], fields: Mapping[str, FieldValue], at_ms: int) -> str:
    keys = "".join(f",{key}={_tag(value)}" for key, value in tags.items() if value)
    known = ",".join(f"{key}={_field(value)}" for key, value in fields.items() if value is not None)
    return f"{name}{keys} {known} {at_ms}"


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
