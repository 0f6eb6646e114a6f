"""Why a room is not measured while its sensors are in jars: said here once, for every face."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.shop.reading import Quantity
from curewatch.shop.spray_here import heard_at
from curewatch.shop.words import listed

if TYPE_CHECKING:
    from collections.abc import Sequence

    from curewatch.shop.shop import Shop


def not_measured(shop: Shop, room: str, now_ms: int) -> str:
    """Say why a room is not measured at a moment [ms] where a jar is the reason; else ''."""
    here = [
        sensor.id
        for sensor in shop.sensors
        if sensor.room == room
        and sensor.air
        and Quantity.TEMPERATURE in sensor.measures  # without it nothing is judged
        and sensor.id not in shop.gone
    ]
    away = [sensor for sensor in here if shop.trust.is_away(sensor, now_ms)]
    others = [sensor for sensor in here if sensor not in away]
    if not away or _heard(shop, room, others, now_ms) or heard_at(shop, room, now_ms)[1]:
        return ""
    in_jars = [sensor for sensor in away if shop.trust.in_jar(sensor, now_ms)]
    return in_jar_said(in_jars) if in_jars else _back_said(shop, away, now_ms)


def _heard(shop: Shop, room: str, sensors: Sequence[str], now_ms: int) -> bool:
    """Tell whether any of these sensors was heard lately."""
    latest = [shop.heard.get((sensor, Quantity.TEMPERATURE)) for sensor in sensors]
    within_ms = shop.freshness_s(room) * 1000.0
    return any(one is not None and now_ms - one.at_ms <= within_ms for one in latest)


def in_jar_said(sensors: Sequence[str]) -> str:
    """Say that these sensors, all that speak for a room, are in jars."""
    are = "is in a jar" if len(sensors) == 1 else "are in jars"
    return f"{listed(sensors)} {are}: the room is not measured"


def _back_said(shop: Shop, sensors: Sequence[str], now_ms: int) -> str:
    from_ms = min(shop.trust.counts_again_ms(sensor, now_ms) for sensor in sensors)
    are, whose = ("is", "its") if len(sensors) == 1 else ("are", "their")
    return (
        f"{listed(sensors)} {are} back from the jar and {whose} readings count from "
        f"{shop.words.at(from_ms, now_ms)}: the room is not measured until then"
    )
