"""The tables of sensors: where each hangs, and where in its messages its numbers stand.

The annotations here are evaluated by pydantic, so this module does without postponed ones.
"""

from typing import Annotated, Literal

from pydantic import AfterValidator, Field

from curewatch.intake.families import ID_PLACE, Family
from curewatch.intake.mapping import Format, SensorMapping
from curewatch.intake.presence import GONE_WORDS
from curewatch.intake.units import (
    AirSpeedUnit,
    HumidityUnit,
    MassUnit,
    TemperatureUnit,
    UnitCodes,
)
from curewatch.settings.fields import Minutes, Name, Number, Place, Pointer, Table, Zone
from curewatch.settings.values import (
    family_topic,
    needs_strings,
    topic_filter,
    topic_or_chip,
    unit_or_place,
)
from curewatch.shop.reading import Quantity
from curewatch.shop.room import (
    CALIBRATION_EVERY_DAYS,
    DEFAULT_RH_BIAS_FRAC,
    DEFAULT_RH_DRIFT_FRAC,
    DEFAULT_TEMP_BIAS_K,
    DEFAULT_TEMP_DRIFT_K,
)


class _MessageTable(Table):
    """Where in a sensor's messages its numbers stand."""

    format: Format = Format.JSON
    temperature: Place | None = None
    humidity: Place | None = None
    surface_temperature: Place | None = None
    mass: Place | None = None
    air_speed: Place | None = None
    fan_on: Place | None = None
    time: Pointer | None = None
    temperature_unit: Annotated[str, AfterValidator(unit_or_place(TemperatureUnit))] = (
        TemperatureUnit.CELSIUS
    )
    humidity_unit: Annotated[str, AfterValidator(unit_or_place(HumidityUnit))] = (
        HumidityUnit.PERCENT
    )
    mass_unit: Annotated[str, AfterValidator(unit_or_place(MassUnit))] = MassUnit.GRAM
    air_speed_unit: Annotated[str, AfterValidator(unit_or_place(AirSpeedUnit))] = (
        AirSpeedUnit.METRE_PER_SECOND
    )
    unit_codes: UnitCodes = UnitCodes.UCUM
    numbers_as_strings: bool = False
    decimal_comma: Annotated[bool, AfterValidator(needs_strings)] = False
    time_zone: Zone | None = None
    presence: Annotated[str, AfterValidator(topic_filter)] | None = None
    presence_at: Pointer = ""
    presence_gone: tuple[str, ...] = GONE_WORDS
    temperature_bias_k: Annotated[Number, Field(ge=0, le=5)] = DEFAULT_TEMP_BIAS_K
    humidity_bias_pct: Annotated[Number, Field(ge=0, le=20)] = DEFAULT_RH_BIAS_FRAC * 100
    temperature_drift_k: Annotated[Number, Field(ge=0, le=5)] = DEFAULT_TEMP_DRIFT_K
    humidity_drift_pct: Annotated[Number, Field(ge=0, le=20)] = DEFAULT_RH_DRIFT_FRAC * 100
    calibration_every_days: Annotated[Number, Field(ge=1, le=3650)] = CALIBRATION_EVERY_DAYS


class _NamedKind(Table):
    """Which kind of sensor it is, and where such sensors are heard."""

    name: Name
    topic: Annotated[str, AfterValidator(family_topic)]
    report_every_min: Minutes | None = None


class KindTable(_MessageTable, _NamedKind):
    """What sensors of one kind have in common; '{id}' in its texts stands for each one's name."""

    def family(self) -> Family:
        """Return which topics such sensors speak on."""
        names = (self.temperature, self.humidity, self.surface_temperature, self.mass)
        places = (*names, self.air_speed, self.fan_on) if self.format is Format.SENML else ()
        return Family(self.name, self.topic, tuple(p for p in places if p and ID_PLACE in p))


class _HungTable(Table):
    """Which sensor it is, where it hangs, and whence it is heard."""

    id: Name
    room: Name
    kind: Name | None = None
    heard_as: Annotated[str, Field(min_length=1, max_length=200)] | None = None
    kernel: Annotated[str, Field(min_length=1)] | None = None
    topic: Annotated[
        Annotated[str, AfterValidator(topic_filter)] | None,
        AfterValidator(topic_or_chip),
        Field(validate_default=True),
    ] = None
    reads: tuple[Literal["temperature", "humidity", "surface_temperature"], ...] = ()
    report_every_min: Minutes | None = None


class SensorTable(_MessageTable, _HungTable):
    """A sensor, or one topic of a sensor that publishes on several, or a chip at this machine."""

    def quantities(self) -> tuple[Quantity, ...]:
        """Return what it tells of."""
        if self.kernel is not None:
            return tuple(Quantity[word.upper()] for word in dict.fromkeys(self.reads))
        return tuple(quantity for quantity, _ in self.mapping("UTC").pointers())

    def mapping(self, site_zone: str) -> SensorMapping:
        """Return how this topic's messages are read; times without offset are the site's."""
        return SensorMapping(
            sensor=self.id,
            topic=self.topic or "",
            temperature=self.temperature,
            humidity=self.humidity,
            surface_temperature=self.surface_temperature,
            mass=self.mass,
            air_speed=self.air_speed,
            fan_on=self.fan_on,
            format=self.format,
            temperature_unit=self.temperature_unit,
            humidity_unit=self.humidity_unit,
            mass_unit=self.mass_unit,
            air_speed_unit=self.air_speed_unit,
            unit_codes=self.unit_codes,
            time=self.time,
            time_zone=self.time_zone or site_zone,
            numbers_as_strings=self.numbers_as_strings,
            decimal_comma=self.decimal_comma,
        )
