"""How the air moves now: who says so, for how long, and what stands in."""

from __future__ import annotations

import pytest

from curewatch.shop.climate import Climate
from curewatch.shop.gone import nobody_speaks, still_speaks
from curewatch.shop.moving_air import FAN_HOLDS_MS, AirSource, moving_air
from curewatch.shop.reading import Quantity, Reading
from curewatch.shop.room import Room, Sensor
from curewatch.shop.shop import Shop

NOW_MS = 1_772_668_800_000
MINUTE_MS = 60_000


def shop(air: str = "gentle", *readings: Reading) -> Shop:
    sensors = tuple(Sensor(name, "loft", air=False) for name in ("vane", "vane-2", "fan"))
    known = Shop({"loft": Room("loft", air)}, sensors)
    known.heard = {(r.sensor, r.quantity): r for r in readings}
    return known


def speed(value: float, *, age_min: float = 1.0, sensor: str = "vane") -> Reading:
    at_ms = NOW_MS - round(age_min * MINUTE_MS)
    return Reading(sensor, Quantity.AIR_SPEED, at_ms, value)


def fan(value: float, *, age_ms: int = MINUTE_MS) -> Reading:
    return Reading("fan", Quantity.FAN_ON, NOW_MS - age_ms, value)


def test_without_a_sensor_for_it_the_air_is_as_configured() -> None:
    air = moving_air(shop(), "loft", NOW_MS)
    assert (air.speed_m_s, air.source, air.heard_ms, air.unheard) == (
        0.5,
        AirSource.CONFIGURED,
        None,
        False,
    )


def test_a_measured_speed_rules_and_the_median_of_several() -> None:
    air = moving_air(
        shop("still", speed(1.2), speed(0.8, sensor="vane-2"), fan(1.0)), "loft", NOW_MS
    )
    assert (air.speed_m_s, air.source) == (1.0, AirSource.AIR_SPEED)
    assert air.heard_ms == NOW_MS - MINUTE_MS


@pytest.mark.parametrize(
    ("usual", "running", "expected_m_s"),
    [("still", 1.0, 2.0), ("gentle", 0.0, 0.5), ("fan", 0.0, 0.15), ("fan", 1.0, 2.0)],
)
def test_a_fan_that_runs_is_fan_air_and_one_that_stands_is_the_room_without_it(
    usual: str, running: float, expected_m_s: float
) -> None:
    air = moving_air(shop(usual, fan(running)), "loft", NOW_MS)
    assert (air.speed_m_s, air.source) == (expected_m_s, AirSource.FAN)


def test_what_is_too_old_or_gone_is_said_to_be_unheard() -> None:
    late = shop("gentle", speed(3.0, age_min=200), fan(1.0, age_ms=FAN_HOLDS_MS + 1))
    air = moving_air(late, "loft", NOW_MS)
    assert (air.source, air.unheard) == (AirSource.CONFIGURED, True)
    gone = shop("gentle", fan(1.0))
    gone.gone = {"fan": NOW_MS}
    assert moving_air(gone, "loft", NOW_MS).unheard


def test_of_the_past_the_newest_reading_says_nothing() -> None:
    found = moving_air(shop("gentle", speed(3.0)), "loft", NOW_MS - 10 * 60 * MINUTE_MS)
    assert found.source is AirSource.CONFIGURED


def here(*quantities: tuple[str, Quantity]) -> Shop:
    known = Shop({"loft": Room("loft")}, (Sensor("a", "loft"), Sensor("b", "loft")))
    known.heard = {key: Reading(*key, NOW_MS, 0.5) for key in quantities}
    return known


CLIMATE = Climate(NOW_MS, 21.0, 0.5, 20.0)


def test_while_nobody_is_gone_all_is_said() -> None:
    known = here(("a", Quantity.TEMPERATURE))
    assert still_speaks(known, "loft", CLIMATE, within_ms=1e6) == CLIMATE
    assert not nobody_speaks(known, "loft")


def test_only_what_the_others_tell_still_counts() -> None:
    known = here(("a", Quantity.TEMPERATURE), ("b", Quantity.TEMPERATURE), ("a", Quantity.HUMIDITY))
    known.gone = {"a": NOW_MS + 1}
    found = still_speaks(known, "loft", CLIMATE, within_ms=1e6)
    assert found == Climate(NOW_MS, 21.0, None, None)
    assert not nobody_speaks(known, "loft")


def test_with_everyone_gone_nothing_is_known_until_a_person_types_it() -> None:
    known = here(("a", Quantity.TEMPERATURE), ("b", Quantity.HUMIDITY))
    known.gone = {"a": NOW_MS + 1, "b": NOW_MS + 1}
    assert still_speaks(known, "loft", CLIMATE, within_ms=1e6) is None
    assert nobody_speaks(known, "loft")
    typed = Reading("loft-typed", Quantity.TEMPERATURE, NOW_MS + 9, 21.0)
    known.heard[typed.sensor, typed.quantity] = typed
    assert still_speaks(known, "loft", CLIMATE, within_ms=1e6) is not None
