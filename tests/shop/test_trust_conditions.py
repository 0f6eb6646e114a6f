"""What is said of a sensor's trust."""

from __future__ import annotations

from dataclasses import replace

import pytest

from curewatch.shop.alert import AlertKind
from curewatch.shop.apart import Apart, Beside
from curewatch.shop.calibration import DAY_MS, NEW, Check, Jar, corrections
from curewatch.shop.reading import Quantity, Urgency
from curewatch.shop.room import Room, Sensor
from curewatch.shop.sensor_conditions import sensor_conditions
from curewatch.shop.shop import Shop
from curewatch.shop.trust import Trust, jar_spans
from curewatch.shop.trust_conditions import checked_ms, due_ms, off_by, trust_conditions

HUMIDITY, TEMPERATURE = Quantity.HUMIDITY, Quantity.TEMPERATURE
NOW = 20_000 * DAY_MS
SENSORS = (Sensor("h1", "loft"), Sensor("h2", "loft"))
PAIR = Apart("h1", "h2", HUMIDITY, 0.09, 0.07)


def checked(sensor: str, days_ago: int, *, read: float = 0.745) -> Check:
    at_ms = NOW - days_ago * DAY_MS
    return Check(sensor, HUMIDITY, "table", 0.755, 0.01, read, 0.001, 20.0, at_ms, at_ms, at_ms)


def shop_with(*checks: Check, jars: tuple[Jar, ...] = (), found: Beside | None = None) -> Shop:
    trust = Trust(corrections(checks), jar_spans(jars), {"h1": NOW - 400 * DAY_MS})
    shop = Shop({"loft": Room("loft")}, SENSORS, trust=trust)
    if found is not None:
        shop.book.beside["loft"] = found
    return shop


def kinds(shop: Shop, sensor: Sensor = SENSORS[0]) -> list[AlertKind]:
    return [condition.kind for condition in trust_conditions(shop, sensor, NOW)]


def test_a_sensor_never_checked_is_due_a_year_after_it_was_hung() -> None:
    shop = shop_with()
    (due,) = trust_conditions(shop, SENSORS[0], NOW)
    assert (due.kind, due.urgency) == (AlertKind.SENSOR_CHECK_DUE, Urgency.NOTE)
    assert "was never checked" in due.reason
    assert "Nothing waits for it" in due.next_action
    assert due_ms(shop, SENSORS[0], NOW) == NOW - 35 * DAY_MS
    assert due_ms(shop, SENSORS[1], NOW) is None  # not known since when it hangs
    assert kinds(shop, SENSORS[1]) == []


def test_a_check_puts_it_off_and_its_own_interval_is_kept() -> None:
    assert kinds(shop_with(checked("h1", 364))) == []
    (due,) = trust_conditions(shop_with(checked("h1", 366)), SENSORS[0], NOW)
    assert "was last checked" in due.reason
    often = replace(SENSORS[0], calibration_every_days=90.0)
    assert kinds(shop_with(checked("h1", 100)), often) == [AlertKind.SENSOR_CHECK_DUE]


def test_a_thermometer_goes_by_its_own_check() -> None:
    probe = replace(SENSORS[0], measures=frozenset({TEMPERATURE}))
    shop = shop_with(replace(checked("h1", 10, read=0.7), quantity=TEMPERATURE))
    assert checked_ms(shop, probe, NOW) == NOW - 10 * DAY_MS
    assert checked_ms(shop, replace(probe, measures=frozenset()), NOW) is None


def test_a_scale_needs_no_salt() -> None:
    assert kinds(shop_with(), replace(SENSORS[0], air=False)) == []


def test_a_sensor_forgotten_in_its_jar_is_told_after_three_days() -> None:
    jars = (Jar("h1", "table", NOW - 4 * DAY_MS),)
    (told,) = trust_conditions(shop_with(checked("h1", 1), jars=jars), SENSORS[0], NOW)
    assert told.kind is AlertKind.SENSOR_IN_JAR
    assert "--back" in told.next_action
    fresh = (Jar("h1", "table", NOW - 2 * DAY_MS),)
    assert kinds(shop_with(checked("h1", 1), jars=fresh)) == []


def test_a_sensor_in_its_jar_may_show_one_pair_of_values_all_day() -> None:
    shop = shop_with(checked("h1", 1), jars=(Jar("h1", "table", NOW - DAY_MS),))
    shop.frozen_since["h1"] = NOW - DAY_MS
    assert sensor_conditions(shop, SENSORS[0], NOW) == []
    shop.trust = replace(shop.trust, jars={})
    assert [c.kind for c in sensor_conditions(shop, SENSORS[0], NOW)] == [AlertKind.SENSOR_STUCK]


def test_a_sensor_past_correcting_is_to_be_replaced_until_another_hangs_there() -> None:
    far = checked("h1", 2, read=0.60)
    (told,) = trust_conditions(shop_with(far), SENSORS[0], NOW)
    assert told.kind is AlertKind.SENSOR_OFF
    assert "+15.5 points" in told.reason
    new = replace(far, against=NEW, stop_ms=NOW - DAY_MS, from_ms=NOW - DAY_MS, id=9)
    assert kinds(shop_with(far, new)) == []


def test_two_that_disagree_are_told_once_and_no_one_is_blamed() -> None:
    shop = shop_with(checked("h1", 1), checked("h2", 1), found=Beside(NOW, (PAIR,)))
    (told,) = trust_conditions(shop, SENSORS[0], NOW)
    assert told.kind is AlertKind.SENSORS_APART
    assert told.subject == "sensor:h1#apart-h2-humidity"
    assert "9.0 points more than h2" in told.reason
    assert "this cannot say" in told.reason
    assert kinds(shop, SENSORS[1]) == []


def test_a_check_of_one_of_them_says_which_is_likely_off() -> None:
    pairs = (PAIR, Apart("h1", "h2", TEMPERATURE, -2.0, 0.9))
    shop = shop_with(checked("h2", 1), checked("h1", 500), found=Beside(NOW, pairs))
    humid, warm = trust_conditions(shop, SENSORS[0], NOW)[:2]
    assert "h2 was checked" in humid.reason
    assert "likely the unchecked one is off" in humid.reason
    assert "2.0 K less than h2" in warm.reason
    assert "this cannot say" in warm.reason


def test_what_they_said_hours_ago_is_not_said_now() -> None:
    old = Beside(NOW - 3 * 3_600_000, (PAIR,), ("h1",))
    assert kinds(shop_with(checked("h1", 1), found=old)) == []


def test_a_flooded_sensor_is_told() -> None:
    shop = shop_with(checked("h1", 1), found=Beside(NOW, (), ("h1",)))
    (told,) = trust_conditions(shop, SENSORS[0], NOW)
    assert told.kind is AlertKind.SENSOR_WET
    assert "condensed" in told.reason


def test_what_a_sensor_may_be_off_by_goes_by_its_checks() -> None:
    assert off_by(shop_with(), SENSORS[1], HUMIDITY, NOW, 0.5) == 0.025
    assert off_by(shop_with(), SENSORS[0], HUMIDITY, NOW, 0.5) > 0.026
    by_hand = (0.025**2 + 0.01**2) ** 0.5  # far from the one salt its offset is doubted too
    found = off_by(shop_with(checked("h1", 0)), SENSORS[0], HUMIDITY, NOW, 0.5)
    assert found == pytest.approx(by_hand)
