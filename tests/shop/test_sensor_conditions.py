from __future__ import annotations

import numpy as np
import pytest

from curewatch.shop.alert import AlertKind
from curewatch.shop.reading import RejectReason
from curewatch.shop.room import Room, Sensor
from curewatch.shop.sensor_conditions import sensor_conditions, silence_ms
from curewatch.shop.shop import Refusals, Shop
from tests.shop.scene import MINUTE_MS, at_h

RACK = Sensor("rack", "loft", 600.0)


def shop_with(*heard_h: float, sensor: Sensor = RACK) -> Shop:
    shop = Shop({"loft": Room("loft")}, (sensor,))
    if heard_h:
        shop.heard_ms["rack"] = np.array([at_h(h) for h in heard_h], dtype=np.int64)
    return shop


def kinds(shop: Shop, now_h: float) -> list[AlertKind]:
    return [c.kind for c in sensor_conditions(shop, shop.sensors[0], at_h(now_h))]


def test_a_sensor_is_silent_after_three_missed_reports_or_the_longest_gap() -> None:
    shop = shop_with(0.0, 1.0)
    assert kinds(shop, 1.5) == []
    assert kinds(shop, 1.51) == [AlertKind.SENSOR_SILENT]
    assert kinds(shop, 0.9) == [AlertKind.SENSOR_SILENT]
    (silent,) = sensor_conditions(shop, RACK, at_h(3.0))
    assert silent.subject == "sensor:rack"
    assert "last heard Wed 15 Nov 1:00" in silent.reason


def test_a_scale_may_be_quiet_for_months() -> None:
    scale = Sensor("rack", "loft", 600.0, air=False)
    assert kinds(shop_with(0.0, sensor=scale), 9000.0) == []
    heavy = shop_with(0.0, sensor=scale)
    heavy.refusals["rack"] = (Refusals(RejectReason.OUT_OF_RANGE, 1, at_h(1.0), "2e6 g"),)
    assert kinds(heavy, 1.0) == [AlertKind.SENSOR_RANGE]


def test_how_long_a_sensor_may_be_quiet_follows_from_its_interval() -> None:
    assert silence_ms(shop_with(), RACK) == 30 * MINUTE_MS
    assert silence_ms(shop_with(sensor=Sensor("rack", "loft", 3600.0)), RACK) == 180 * MINUTE_MS
    unknown = Sensor("rack", "loft")
    assert silence_ms(shop_with(sensor=unknown), unknown) == 180 * MINUTE_MS


def test_a_sensor_never_heard_is_silent_since_watching_began() -> None:
    shop = shop_with()
    assert kinds(shop, 9.0) == []
    shop.began_ms = at_h(0.0)
    assert kinds(shop, 0.4) == []
    (silent,) = sensor_conditions(shop, RACK, at_h(0.6))
    assert "never heard" in silent.reason


def test_a_frozen_pair_is_told_from_when_it_was_known() -> None:
    shop = shop_with(5.0, 7.0)
    shop.frozen_since["rack"] = at_h(1.0)
    (stuck,) = sensor_conditions(shop, RACK, at_h(7.1))
    assert stuck.kind is AlertKind.SENSOR_STUCK
    assert "since Wed 15 Nov 1:00" in stuck.reason
    shop.frozen_since["rack"] = at_h(8.0)
    assert kinds(shop, 7.1) == []


def refused(reason: RejectReason, last_h: float) -> tuple[Refusals, ...]:
    return (Refusals(reason, 12, at_h(last_h), "t 142.0"),)


def test_impossible_values_are_told_while_they_are_the_newest_there_is() -> None:
    shop = shop_with(5.0)
    shop.refusals["rack"] = refused(RejectReason.OUT_OF_RANGE, 5.2)
    (broken,) = sensor_conditions(shop, RACK, at_h(5.3))
    assert broken.kind is AlertKind.SENSOR_RANGE
    assert broken.hold_s == 600.0
    assert "t 142.0" in broken.reason
    shop.heard_ms["rack"] = np.array([at_h(5.25)], dtype=np.int64)
    assert kinds(shop, 5.3) == []


def test_a_sensor_that_only_ever_sent_impossible_values_is_told() -> None:
    shop = shop_with()
    shop.refusals["rack"] = refused(RejectReason.DISCONNECTED_VALUE, 5.2)
    assert kinds(shop, 5.3) == [AlertKind.SENSOR_RANGE]


@pytest.mark.parametrize(
    ("reason", "last_h", "now_h", "expected"),
    [
        (RejectReason.OUT_OF_RANGE, 5.01, 5.5, [AlertKind.SENSOR_RANGE]),
        (RejectReason.OUT_OF_RANGE, 5.01, 5.52, []),  # half an hour ago
        (RejectReason.OUT_OF_RANGE, 5.4, 5.3, []),  # still to come, in a replay
        (RejectReason.DUPLICATE, 5.2, 5.3, []),  # says nothing of the sensor
    ],
)
def test_only_impossible_values_of_the_last_half_hour_are_told(
    reason: RejectReason, last_h: float, now_h: float, expected: list[AlertKind]
) -> None:
    shop = shop_with(5.0, sensor=Sensor("rack", "loft", 3600.0))
    shop.refusals["rack"] = refused(reason, last_h)
    assert kinds(shop, now_h) == expected


def test_a_sensor_the_broker_reported_gone_is_told_at_once_and_only_once() -> None:
    shop = shop_with(0.0, 1.0)
    shop.gone["rack"] = at_h(1.1)
    assert kinds(shop, 1.05) == []
    assert kinds(shop, 3.0) == [AlertKind.SENSOR_SILENT]
    (gone,) = sensor_conditions(shop, RACK, at_h(1.1))
    assert "is gone: the broker was told so Wed 15 Nov 1:06" in gone.reason


def test_a_scale_that_is_gone_is_no_silent_sensor() -> None:
    shop = shop_with(0.0, sensor=Sensor("rack", "loft", 600.0, air=False))
    shop.gone["rack"] = at_h(1.1)
    assert kinds(shop, 3.0) == []
