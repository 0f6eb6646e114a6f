"""Where a sensor's numbers come from: a topic at the broker, or a chip at this machine."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.intake.mapping import mapping_faults

if TYPE_CHECKING:
    from curewatch.settings.sensor_tables import SensorTable

SHORTEST_POLL_MIN = 1 / 60
OF_MESSAGES = (
    "kind",
    "heard_as",
    "topic",
    "format",
    "temperature",
    "humidity",
    "surface_temperature",
    "mass",
    "air_speed",
    "fan_on",
    "time",
    "temperature_unit",
    "humidity_unit",
    "mass_unit",
    "air_speed_unit",
    "unit_codes",
    "numbers_as_strings",
    "decimal_comma",
    "time_zone",
    "presence",
    "presence_at",
    "presence_gone",
)


def source_faults(path: str, sensor: SensorTable) -> list[str]:
    """Return every fault of where `sensor`, the table at `path`, gets its numbers."""
    return _topic_faults(path, sensor) if sensor.kernel is None else _chip_faults(path, sensor)


def _topic_faults(path: str, sensor: SensorTable) -> list[str]:
    faults = [] if sensor.topic is None else mapping_faults(sensor.mapping("UTC"), where=path)
    if sensor.heard_as is not None and sensor.kind is None:
        faults.append(f"{path}.heard_as: is for a sensor of a kind; set {path}.kind too")
    wild = sensor.presence is not None and set("+#") & set(sensor.presence)
    if wild:
        faults.append(f"{path}.presence: '{sensor.presence}' is of many; give this sensor's own")
    if sensor.reads:
        faults.append(f"{path}.reads: is for a chip at this machine; set {path}.kernel too")
    return faults


def _chip_faults(path: str, sensor: SensorTable) -> list[str]:
    faults = [
        f"{path}.{key}: has no meaning beside {path}.kernel, which is no message; leave it out"
        for key in OF_MESSAGES
        if key in sensor.model_fields_set
    ]
    if not sensor.reads:
        faults.append(
            f"{path}.reads: is missing; say what the chip is asked for, such as "
            'reads = ["temperature", "humidity"]'
        )
    every_min = sensor.report_every_min
    if every_min is not None and every_min < SHORTEST_POLL_MIN:
        faults.append(
            f"{path}.report_every_min: a chip asked more than once a second warms itself; give "
            "0.02 or more"
        )
    return faults
