"""Sensors' units told in the project's own: degrees Celsius, humidity as a fraction, grams."""

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


GRAMS_IN = {
    MassUnit.GRAM: 1.0,
    MassUnit.MILLIGRAM: 1e-3,
    MassUnit.KILOGRAM: 1e3,
    MassUnit.OUNCE: 28.349523125,  # avoirdupois: 1/16 of 453.59237 g exactly (NIST SP 811, B.8)
}


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
