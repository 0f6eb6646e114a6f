"""Sensors of one kind: what their kind says is laid under each one's own table."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pydantic import ValidationError

from curewatch.intake.families import ID_PLACE
from curewatch.settings.sensor_tables import KindTable

if TYPE_CHECKING:
    from collections.abc import Mapping

    from curewatch.settings.faults import Table

_NAMED = ("topic", "presence", "temperature", "humidity", "surface_temperature")
_ALSO_NAMED = ("mass", "air_speed", "fan_on")


def with_kinds(given: Table) -> Table:
    """Return the configuration with every [[sensor]] of a kind completed from its [[kind]].

    What a sensor says itself wins. A key of the kind that has a fault is told once, at the kind.
    """
    sensors, kinds = given.get("sensor"), _kinds(given)
    if not isinstance(sensors, list) or not kinds:
        return given
    return {**given, "sensor": [_completed(sensor, kinds) for sensor in sensors]}


def kind_names(given: Mapping[str, object]) -> list[str]:
    """Return the names of the kinds as they were written."""
    return list(_kinds(given))


def _kinds(given: Mapping[str, object]) -> dict[str, Table]:
    tables = given.get("kind")
    found = [t for t in tables if isinstance(t, dict)] if isinstance(tables, list) else []
    return {str(table.get("name")): _without_faults(table) for table in found}


def _without_faults(table: Table) -> Table:
    try:
        KindTable.model_validate(table)
    except ValidationError as error:
        faulty = {str(fault["loc"][0]) for fault in error.errors() if fault["loc"]}
        return {key: value for key, value in table.items() if key not in faulty}
    return table


def _completed(sensor: object, kinds: Mapping[str, Table]) -> object:
    kind = kinds.get(str(sensor.get("kind"))) if isinstance(sensor, dict) else None
    if not isinstance(sensor, dict) or kind is None:
        return sensor
    name = sensor.get("heard_as", sensor.get("id"))
    both = {key: value for key, value in kind.items() if key != "name"} | sensor
    for key in (*_NAMED, *_ALSO_NAMED):
        text = both.get(key)
        if isinstance(text, str) and isinstance(name, str):
            both[key] = text.replace(ID_PLACE, name)
    return both
