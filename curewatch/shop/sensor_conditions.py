"""What is to be said about a sensor: silent, stuck, or sending impossible values.

A scale is heard while a panel lies on it and may be quiet for months.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.shop.alert import AlertKind
from curewatch.shop.conditions import Condition
from curewatch.shop.reading import RejectReason, Urgency
from curewatch.shop.trust_conditions import trust_conditions

if TYPE_CHECKING:
    from curewatch.shop.room import Sensor
    from curewatch.shop.shop import Shop

REFUSED_HOLD_S = 10 * 60.0
REFUSED_RECENTLY_MS = 30 * 60_000
MISSED_REPORTS = 3
BROKEN_VALUES = (
    RejectReason.OUT_OF_RANGE,
    RejectReason.POWER_ON_VALUE,
    RejectReason.DISCONNECTED_VALUE,
)


def sensor_conditions(shop: Shop, sensor: Sensor, now_ms: int) -> list[Condition]:
    """Return what is to be said about one sensor: silent, stuck, or sending impossible values."""
    subject, found = f"sensor:{sensor.id}", []
    heard = shop.last_heard_ms(sensor.id, now_ms)
    since = heard if heard is not None else shop.began_ms
    gone = shop.gone.get(sensor.id)
    if sensor.air and gone is not None and gone <= now_ms:
        found.append(
            Condition(
                AlertKind.SENSOR_SILENT,
                subject,
                Urgency.TODAY,
                f"sensor {sensor.id} in {sensor.room} is gone: the broker was told so "
                f"{shop.words.dated(gone, now_ms)}.",
                "Look to its battery, its place and the network; unheard hours earn nothing.",
            )
        )
    elif sensor.air and since is not None and now_ms - since > silence_ms(shop, sensor):
        last = "never heard" if heard is None else f"last heard {shop.words.dated(heard, now_ms)}"
        found.append(
            Condition(
                AlertKind.SENSOR_SILENT,
                subject,
                Urgency.TODAY,
                f"sensor {sensor.id} in {sensor.room} is silent: {last}.",
                "Look to its battery, its place and the broker; unheard hours earn nothing.",
            )
        )
    frozen = shop.frozen_since.get(sensor.id)
    in_jar = shop.trust.in_jar(sensor.id, now_ms)  # where it ought to show one pair of values
    if frozen is not None and frozen <= now_ms and not in_jar:
        found.append(
            Condition(
                AlertKind.SENSOR_STUCK,
                subject,
                Urgency.TODAY,
                f"sensor {sensor.id} in {sensor.room} has shown the same pair of values since "
                f"{shop.words.dated(frozen, now_ms)}.",
                "Breathe on it: if nothing moves, replace it.",
            )
        )
    broken = [r for r in shop.refusals.get(sensor.id, ()) if r.reason in BROKEN_VALUES]
    recent = [r for r in broken if 0 <= now_ms - r.last_ms < REFUSED_RECENTLY_MS]
    if recent and (heard is None or max(r.last_ms for r in recent) >= heard):
        found.append(
            Condition(
                AlertKind.SENSOR_RANGE,
                subject,
                Urgency.TODAY,
                f"sensor {sensor.id} in {sensor.room} sends impossible values: {recent[0].detail}.",
                "Check its wiring and its place, or its mapping in the configuration.",
                REFUSED_HOLD_S,
            )
        )
    return [*found, *trust_conditions(shop, sensor, now_ms)]


def silence_ms(shop: Shop, sensor: Sensor) -> float:
    """Return how long a sensor may be quiet before it counts as silent [ms]."""
    gap_s = shop.longest_gap_s(sensor.room)
    if sensor.report_every_s is None:
        return gap_s * 1000.0
    return max(gap_s, MISSED_REPORTS * sensor.report_every_s) * 1000.0
