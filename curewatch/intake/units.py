"""Sensors' units told in the project's own: degC, humidity as a fraction, grams, metres a second.

A unit is set in the configuration, or stands in the message as a code of UCUM or SenML. The two
lists disagree about '%' alone: a hundredth in UCUM, the ratio itself in SenML.

References
----------
.. [1] G. Schadow, C. J. McDonald, The Unified Code for Units of Measure, case-sensitive codes and
   print symbols (from memory).
.. [2] RFC 8428 (2018), section 12.1, with its note on '%'; C. Bormann (2020), RFC 8798, section 3,
   secondary units.
"""

from __future__ import annotations

from enum import StrEnum

OVER_SATURATION_FRAC = 0.005  # kept as saturation; a sensor's own error (common practice)
LOOKS_LIKE_FRACTION_PCT = 1.0  # no room is that dry (common practice, no source)


class TemperatureUnit(StrEnum):
    """The unit a sensor sends temperatures in."""

    CELSIUS = "C"
    FAHRENHEIT = "F"
    KELVIN = "K"


class HumidityUnit(StrEnum):
    """The unit a sensor sends relative humidity in."""

    PERCENT = "percent"
    FRACTION = "fraction"


class MassUnit(StrEnum):
    """The unit a scale sends masses in."""

    GRAM = "g"
    MILLIGRAM = "mg"
    KILOGRAM = "kg"
    OUNCE = "oz"


class AirSpeedUnit(StrEnum):
    """The unit a sensor sends the speed of the air in."""

    METRE_PER_SECOND = "m/s"
    KILOMETRE_PER_HOUR = "km/h"
    FOOT_PER_MINUTE = "ft/min"


class UnitCodes(StrEnum):
    """Which list the units in messages are of; they differ in '%' alone."""

    UCUM = "ucum"
    SENML = "senml"


TEMPERATURE_CODES = {
    "Cel": TemperatureUnit.CELSIUS,
    "\N{DEGREE SIGN}C": TemperatureUnit.CELSIUS,  # the print symbol in [1]
    "[degF]": TemperatureUnit.FAHRENHEIT,
    "\N{DEGREE SIGN}F": TemperatureUnit.FAHRENHEIT,
    "K": TemperatureUnit.KELVIN,
}
HUMIDITY_CODES = {
    "%RH": HumidityUnit.PERCENT,
    "%": HumidityUnit.PERCENT,
    "/100": HumidityUnit.PERCENT,
    "1": HumidityUnit.FRACTION,
    "/": HumidityUnit.FRACTION,
}
MASS_CODES = {
    "g": MassUnit.GRAM,
    "mg": MassUnit.MILLIGRAM,
    "kg": MassUnit.KILOGRAM,
    "[oz_av]": MassUnit.OUNCE,
}
AIR_SPEED_CODES = {
    "m/s": AirSpeedUnit.METRE_PER_SECOND,
    "km/h": AirSpeedUnit.KILOMETRE_PER_HOUR,
    "[ft_i]/min": AirSpeedUnit.FOOT_PER_MINUTE,
}

METRES_PER_SECOND_IN = {
    AirSpeedUnit.METRE_PER_SECOND: 1.0,
    AirSpeedUnit.KILOMETRE_PER_HOUR: 1.0 / 3.6,
    AirSpeedUnit.FOOT_PER_MINUTE: 0.3048 / 60.0,  # the foot: NIST SP 811, B.8
}

GRAMS_IN = {
    MassUnit.GRAM: 1.0,
    MassUnit.MILLIGRAM: 1e-3,
    MassUnit.KILOGRAM: 1e3,
    MassUnit.OUNCE: 28.349523125,  # avoirdupois: 1/16 of 453.59237 g exactly (NIST SP 811, B.8)
}


def air_speed_m_s(number: float, unit: str) -> float:
    """Return a speed given in `unit` ('m/s', 'km/h' or 'ft/min') in [m/s]."""
    return number * METRES_PER_SECOND_IN[AirSpeedUnit(unit)]


def mass_g(number: float, unit: str) -> float:
    """Return a mass given in `unit` ('g', 'mg', 'kg' or 'oz') in [g]."""
    return number * GRAMS_IN[MassUnit(unit)]


def temperature_c(number: float, unit: str) -> float:
    """Return a temperature given in `unit` ('C', 'F' or 'K') in [degC]."""
    match TemperatureUnit(unit):
        case TemperatureUnit.CELSIUS:
            return number
        case TemperatureUnit.FAHRENHEIT:
            # in this order 185 F is 85 degC exactly, and nothing overflows
            return (number - 32.0) / 9.0 * 5.0
        case TemperatureUnit.KELVIN:
            return number - 273.15


def humidity_frac(number: float, unit: str) -> float:
    """Return a relative humidity given in `unit` ('percent' or 'fraction') as [fraction].

    Up to half a point above saturation is taken as saturation.

    Raises
    ------
    ValueError
        When it is outside what humidity can be; the message names mixed-up units.
    """
    percent = HumidityUnit(unit) is HumidityUnit.PERCENT
    if percent and 0.0 < number <= LOOKS_LIKE_FRACTION_PCT:
        raise ValueError(
            f"{number:.6g} % is drier than any room; is it a fraction? "
            "then set the humidity's unit to 'fraction'"
        )
    fraction = number / 100.0 if percent else number
    if 0.0 <= fraction <= 1.0 + OVER_SATURATION_FRAC:
        return min(fraction, 1.0)
    looks_like_percent = not percent and 0.0 <= number <= 100.0 * (1.0 + OVER_SATURATION_FRAC)
    hint = "; is it percent? then set its unit to 'percent'" if looks_like_percent else ""
    raise ValueError(f"{number:.6g} as {unit} is outside what humidity can be{hint}")
