"""Sensors that are said to be gone: their silence begins at once, not at the next missed report.

One that is in a jar, or has just come out of it, is held to be gone meanwhile. What such a sensor
told before stays in the record and in the clocks; it no longer speaks for the air of the moment.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.shop.climate import Climate
from curewatch.shop.reading import Quantity

if TYPE_CHECKING:
    from curewatch.shop.shop import Shop


def still_speaks(
    shop: Shop, room: str, climate: Climate, *, within_ms: float, now_ms: int | None = None
) -> Climate | None:
    """Return what of a room's newest climate is not the word of a sensor that is gone.

    Parameters
    ----------
    shop : Shop
        With who is gone.
    room : str
        Which room.
    climate : Climate
        Its newest.
    within_ms : float
        How old a reading may be and still count [ms].
    now_ms : int, optional
        The moment that is asked for, else the climate's own [ms].

    Returns
    -------
    Climate or None
        None where nobody who is there tells the temperature.
    """
    here = {sensor.id for sensor in shop.sensors if sensor.room == room and sensor.air}
    at_ms = climate.at_ms if now_ms is None else now_ms
    away = {sensor for sensor in here if shop.trust.is_away(sensor, at_ms)}
    since_ms = [shop.gone[sensor] for sensor in here & shop.gone.keys()]
    since_ms += [shop.trust.away_since_ms(sensor, at_ms) for sensor in away]
    if not since_ms:
        return climate
    told = {
        quantity
        for (sensor, quantity), reading in shop.heard.items()
        if sensor not in shop.gone
        and sensor not in away
        and not shop.trust.is_away(sensor, reading.at_ms)
        and climate.at_ms - reading.at_ms <= within_ms
        and (sensor in here or _typed_since(shop, sensor, reading.at_ms, max(since_ms)))
    }
    if Quantity.TEMPERATURE not in told:
        return None
    return Climate(
        climate.at_ms,
        climate.temp_c,
        climate.rh_frac if Quantity.HUMIDITY in told else None,
        climate.surface_c if Quantity.SURFACE_TEMPERATURE in told else None,
    )


def quiet_s(shop: Shop, room: str) -> float:
    """Return after which silence a room counts as not heard [s]: none once everyone is gone."""
    return 0.0 if nobody_speaks(shop, room) else shop.longest_gap_s(room)


def nobody_speaks(shop: Shop, room: str) -> bool:
    """Tell whether every sensor of a room's air is said to be gone."""
    here = [sensor.id for sensor in shop.sensors if sensor.room == room and sensor.air]
    return bool(here) and all(sensor in shop.gone for sensor in here)


def _typed_since(shop: Shop, sensor: str, at_ms: int, gone_ms: int) -> bool:
    """Tell whether a reading came from a person, after a sensor was gone."""
    return at_ms > gone_ms and all(sensor != known.id for known in shop.sensors)
