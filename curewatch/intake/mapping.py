"""Where a sensor's numbers stand in its messages, and which messages are its."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from functools import lru_cache
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from curewatch.intake.pointer import pointer_fault
from curewatch.intake.units import (
    AirSpeedUnit,
    HumidityUnit,
    MassUnit,
    TemperatureUnit,
    UnitCodes,
)
from curewatch.shop.reading import IN_THE_AIR, Quantity

if TYPE_CHECKING:
    from collections.abc import Iterable

_TOPIC_BYTES = 65535  # MQTT 5.0, section 1.5.4: a string's length is two bytes
_TOPICS_REMEMBERED = 4096


class Format(StrEnum):
    """What a message is."""

    JSON = "json"
    SENML = "senml"


@dataclass(frozen=True, slots=True)
class SensorMapping:
    """How one topic's messages are read.

    A sensor with its quantities on several topics has several mappings with the same `sensor`.
    Places are JSON pointers (RFC 6901): None for 'not sent here', '' for 'the whole message
    is the number'. In a SenML pack they are the full names of records instead. A unit that begins
    with '/' is a pointer to where the message names it.

    Attributes
    ----------
        sensor: the sensor's id as configured.
        topic: MQTT topic, exact or with the wildcards + and #.
        temperature: pointer to the air's temperature.
        humidity: pointer to the relative humidity.
        surface_temperature: pointer to the temperature of a piece.
        mass: pointer to what a scale shows, with a witness panel on it.
        air_speed: pointer to the speed of the air.
        fan_on: pointer to whether the room's fan runs.
        format: what the message is.
        temperature_unit: 'C', 'F', 'K' or a pointer, for both temperatures.
        humidity_unit: 'percent', 'fraction' or a pointer.
        mass_unit: 'g', 'mg', 'kg', 'oz' or a pointer.
        air_speed_unit: 'm/s', 'km/h', 'ft/min' or a pointer.
        unit_codes: whose codes the units in the message are.
        time: pointer to the message's own time: ISO 8601 text, or Unix seconds or milliseconds.
        time_zone: IANA name of the zone in which a time without offset is read.
        numbers_as_strings: whether "21.4" in quotes is a number here.
        decimal_comma: whether those strings have a decimal comma.
    """

    sensor: str
    topic: str
    temperature: str | None = None
    humidity: str | None = None
    surface_temperature: str | None = None
    mass: str | None = None
    air_speed: str | None = None
    fan_on: str | None = None
    format: Format = Format.JSON
    temperature_unit: str = TemperatureUnit.CELSIUS
    humidity_unit: str = HumidityUnit.PERCENT
    mass_unit: str = MassUnit.GRAM
    air_speed_unit: str = AirSpeedUnit.METRE_PER_SECOND
    unit_codes: UnitCodes = UnitCodes.UCUM
    time: str | None = None
    time_zone: str = "UTC"
    numbers_as_strings: bool = False
    decimal_comma: bool = False
    _carried: tuple[tuple[Quantity, str], ...] = field(init=False, repr=False, compare=False)

    @property
    def in_the_air(self) -> bool:
        """Whether this topic tells of a room's climate; a scale's or a fan's does not."""
        return any(quantity in IN_THE_AIR for quantity, _ in self.pointers())

    def __post_init__(self) -> None:
        """Work out once what every message asks for."""
        every = (
            (Quantity.TEMPERATURE, self.temperature),
            (Quantity.HUMIDITY, self.humidity),
            (Quantity.SURFACE_TEMPERATURE, self.surface_temperature),
            (Quantity.MASS, self.mass),
            (Quantity.AIR_SPEED, self.air_speed),
            (Quantity.FAN_ON, self.fan_on),
        )
        carried = tuple((quantity, place) for quantity, place in every if place is not None)
        object.__setattr__(self, "_carried", carried)

    def pointers(self) -> tuple[tuple[Quantity, str], ...]:
        """Return each quantity this topic carries with its pointer."""
        return self._carried

    def unit_of(self, quantity: Quantity) -> str:
        """Return the unit set for `quantity`, or the pointer to it; '' where it has none."""
        match quantity:
            case Quantity.TEMPERATURE | Quantity.SURFACE_TEMPERATURE:
                return self.temperature_unit
            case Quantity.HUMIDITY:
                return self.humidity_unit
            case Quantity.MASS:
                return self.mass_unit
            case Quantity.AIR_SPEED:
                return self.air_speed_unit
            case Quantity.FAN_ON:
                return ""


def mapping_faults(mapping: SensorMapping, *, where: str = "sensor") -> list[str]:
    """Return every fault of `mapping`, each with its key path under `where` and how to mend it.

    An empty list means the mapping can be used.
    """
    faults = []
    if not mapping.sensor.strip():
        faults.append(f"{where}.id: is blank; give the sensor a short name of its own")
    topic = topic_fault(mapping.topic)
    if topic:
        faults.append(f"{where}.topic: {topic}")
    if not mapping.pointers():
        faults.append(
            f"{where}: nothing is read from '{mapping.topic}'; set temperature, humidity, "
            "surface_temperature, mass, air_speed or fan_on to a JSON pointer such as "
            "'/temperature', or to '' when the whole message is the number"
        )
    faults += [f"{where}.{key}: {fault}" for key, fault in _pointer_faults(mapping)]
    faults += [f"{where}.{key}: {fault}" for key, fault in _format_faults(mapping)]
    return faults


def topic_fault(topic: str) -> str | None:
    """Return what is wrong with an MQTT topic filter, or None (MQTT 5.0, section 4.7)."""
    if not topic:
        return "is empty; give the MQTT topic the sensor publishes on"
    if "\0" in topic or len(topic.encode("utf-8", "replace")) > _TOPIC_BYTES:
        return "holds a NUL character or is longer than 65,535 bytes"
    levels = topic.split("/")
    if levels[0] == "$share":
        return "shares its messages out among several readers; leave '$share/NAME/' off"
    if any("+" in level and level != "+" for level in levels):
        return f"'{topic}': '+' stands for one whole level, as in 'shop/+/climate'"
    if any("#" in level and level != "#" for level in levels) or "#" in levels[:-1]:
        return f"'{topic}': '#' stands alone as the last level, as in 'shop/climate/#'"
    return None


def topic_matches(topic_filter: str, topic: str) -> bool:
    """Tell whether `topic` falls under `topic_filter` (MQTT 5.0, section 4.7)."""
    wanted = topic_filter.split("/")
    given = topic.split("/")
    if given[0].startswith("$") and wanted[0] in ("+", "#"):  # MQTT 5.0, section 4.7.2
        return False
    for level, want in enumerate(wanted):
        if want == "#":
            return True
        if level >= len(given) or want not in ("+", given[level]):
            return False
    return len(wanted) == len(given)


class TopicTable:
    """Which mappings a message's topic belongs to; remembers what it has looked up."""

    def __init__(self, mappings: Iterable[SensorMapping]) -> None:
        """Take the shop's `mappings`; several may share a topic or a sensor."""
        self._mappings = tuple(mappings)
        self._known: dict[str, tuple[SensorMapping, ...]] = {}

    @property
    def topics(self) -> tuple[str, ...]:
        """The topic filters to subscribe to, each once, in order of mention."""
        return tuple(dict.fromkeys(mapping.topic for mapping in self._mappings))

    def for_topic(self, topic: str) -> tuple[SensorMapping, ...]:
        """Return the mappings that read messages on `topic`; empty when none does."""
        found = self._known.get(topic)
        if found is None:
            found = tuple(m for m in self._mappings if topic_matches(m.topic, topic))
            if len(self._known) >= _TOPICS_REMEMBERED:  # a wildcard over ever-new topics
                self._known.clear()
            self._known[topic] = found
        return found


@lru_cache(maxsize=64)
def zone_named(name: str) -> ZoneInfo:
    """Return the IANA zone `name`.

    Raises
    ------
    ValueError
        When there is no zone of that name.
    """
    try:
        return ZoneInfo(name)
    except (KeyError, OSError) as error:  # ZoneInfoNotFoundError; a directory such as 'Europe'
        raise ValueError(f"no time zone is called '{name}'") from error


def _pointer_faults(mapping: SensorMapping) -> list[tuple[str, str]]:
    keyed = [(quantity.word, pointer) for quantity, pointer in mapping.pointers()]
    if mapping.format is Format.SENML:
        return [(key, name_fault) for key, name in keyed if (name_fault := _name_fault(name))]
    keyed += [("time", mapping.time)] if mapping.time is not None else []
    found = [(key, pointer_fault(pointer)) for key, pointer in keyed]
    return [(key, fault) for key, fault in found if fault]


def _name_fault(name: str) -> str | None:
    if name and not name.startswith("/"):
        return None
    return (
        f"'{name}' is no record of a SenML pack: give its full name, base name and name together, "
        "such as 'urn:dev:mac:0123456789ab:temp'"
    )


def unit_fault(unit: str, kind: type[StrEnum]) -> str | None:
    """Return what is wrong with a unit, or with the pointer to where a message names it."""
    if unit.startswith("/"):
        return pointer_fault(unit)
    if unit in tuple(kind):
        return None
    words = ", ".join(f"'{word}'" for word in kind)
    return f"'{unit}' is not one of {words}, nor a pointer to the unit's code such as '/unit'"


def _format_faults(mapping: SensorMapping) -> list[tuple[str, str]]:
    keyed = (
        ("temperature_unit", mapping.temperature_unit, TemperatureUnit),
        ("humidity_unit", mapping.humidity_unit, HumidityUnit),
        ("mass_unit", mapping.mass_unit, MassUnit),
        ("air_speed_unit", mapping.air_speed_unit, AirSpeedUnit),
    )
    told = [(key, unit, unit_fault(unit, kind)) for key, unit, kind in keyed]
    faults = [(key, fault) for key, _, fault in told if fault]
    try:
        zone_named(mapping.time_zone)
    except ValueError as error:
        faults.append(("time_zone", f"{error}; use an IANA name such as 'Europe/Berlin' or 'UTC'"))
    if mapping.format is Format.SENML:
        own = "a SenML pack says it itself; leave it out"
        faults += [(key, own) for key, unit, _ in told if unit.startswith("/")]
        faults += [("time", own)] if mapping.time is not None else []
    if mapping.decimal_comma and not mapping.numbers_as_strings:
        faults.append(
            (
                "decimal_comma",
                (
                    "JSON has no decimal comma, so such a number comes as text; "
                    "also set numbers_as_strings = true"
                ),
            )
        )
    return faults
