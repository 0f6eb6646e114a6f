"""How the air moves over the pieces just now: measured, told by the fan, or as configured."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from statistics import median
from typing import TYPE_CHECKING, Final

from curewatch.shop.laws import air_speed_m_s
from curewatch.shop.reading import Quantity

if TYPE_CHECKING:
    from curewatch.shop.reading import Reading
    from curewatch.shop.shop import Shop

FAN_HOLDS_MS: Final = 24 * 3_600_000  # a fan's word is often said only when it changes
FAN_AIR: Final = "fan"
STILL_AIR: Final = "still"


class AirSource(StrEnum):
    """Who says how the air moves."""

    CONFIGURED = "configured"
    AIR_SPEED = "air-speed"
    FAN = "fan-on"


@dataclass(frozen=True, slots=True)
class MovingAir:
    """How the air of a room moves.

    Attributes
    ----------
    speed_m_s: its speed [m/s].
    source: who says so.
    heard_ms: when that was last heard [ms]; None as configured.
    unheard: whether the room has a sensor for it that is not heard, so the configuration stands in.
    kind: the room's word for such air; '' where it is measured.
    """

    speed_m_s: float
    source: AirSource
    heard_ms: int | None = None
    unheard: bool = False
    kind: str = ""

    @property
    def runs(self) -> bool:
        """Whether a fan is said to run."""
        return self.source is AirSource.FAN and self.kind == FAN_AIR


def moves_said(air: str, moving: MovingAir) -> str:
    """Say in a few words how the air moves; `air` is the room's word for it."""
    if moving.source is AirSource.AIR_SPEED:
        return f"measured at {moving.speed_m_s:.2f} m/s"
    if moving.source is AirSource.FAN:
        return "fan (it runs)" if moving.runs else f"{moving.kind} (the fan stands)"
    return f"{air} (as configured: its sensor is not heard)" if moving.unheard else air


def moving_air(shop: Shop, room: str, at_ms: int) -> MovingAir:
    """
    Return how the air of a room moves about an instant.

    A measured speed counts while a reading may speak for the air; the median of several. A fan
    counts for a day: one that runs is 'fan', and with all standing the room has the air it is
    configured with, or still air where that is the fan's.

    Parameters
    ----------
    shop : Shop
        With the newest readings.
    room : str
        Which room.
    at_ms : int
        The instant [ms].
    """
    usual = shop.room(room).air
    speeds = _heard(shop, room, Quantity.AIR_SPEED, at_ms, shop.freshness_s(room) * 1000.0)
    if speeds:
        newest_ms = max(reading.at_ms for reading in speeds)
        return MovingAir(median(r.value for r in speeds), AirSource.AIR_SPEED, newest_ms)
    fans = _heard(shop, room, Quantity.FAN_ON, at_ms, FAN_HOLDS_MS)
    if fans:
        standing = STILL_AIR if usual == FAN_AIR else usual
        kind = FAN_AIR if any(reading.value > 0.0 for reading in fans) else standing
        newest_ms = max(reading.at_ms for reading in fans)
        return MovingAir(air_speed_m_s(kind), AirSource.FAN, newest_ms, kind=kind)
    ever = any(
        (sensor.id, quantity) in shop.heard
        for sensor in shop.sensors
        if sensor.room == room
        for quantity in (Quantity.AIR_SPEED, Quantity.FAN_ON)
    )
    return MovingAir(air_speed_m_s(usual), AirSource.CONFIGURED, unheard=ever, kind=usual)


def _heard(
    shop: Shop, room: str, quantity: Quantity, at_ms: int, within_ms: float
) -> list[Reading]:
    """Return the newest readings of a quantity about that instant, those of the gone left out."""
    newest = [
        shop.heard.get((sensor.id, quantity))
        for sensor in shop.sensors
        if sensor.room == room and sensor.id not in shop.gone
    ]
    return [
        reading
        for reading in newest
        if reading is not None and abs(at_ms - reading.at_ms) <= within_ms
    ]
