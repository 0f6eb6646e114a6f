"""How the air moves now: who says so, for how long, and what stands in."""

from __future__ import annotations

import numpy as np
import pytest

from curewatch.shop.climate import Climate, merge
from curewatch.shop.gone import nobody_speaks, quiet_s, still_speaks
from curewatch.shop.moving_air import FAN_HOLDS_MS, AirSource, moves_said, moving_air
from curewatch.shop.reading import Quantity, Reading
from curewatch.shop.room import Room, Sensor
from curewatch.shop.shop import Shop
from curewatch.shop.spray_here import conditions_of, heard_at
from curewatch.shop.trust import FOR_EVER_MS, Trust

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


@pytest.mark.parametrize(
    ("known", "words"),
    [
        (shop("gentle"), "gentle"),
        (shop("gentle", speed(0.4)), "measured at 0.40 m/s"),
        (shop("gentle", fan(1.0)), "fan (it runs)"),
        (shop("fan", fan(0.0)), "still (the fan stands)"),
        (
            shop("gentle", fan(1.0, age_ms=2 * FAN_HOLDS_MS)),
            "gentle (as configured: its sensor is not heard)",
        ),
    ],
)
def test_it_is_said_in_words_and_what_is_not_known_too(known: Shop, words: str) -> None:
    assert moves_said(known.room("loft").air, moving_air(known, "loft", NOW_MS)) == words


def test_a_spray_check_goes_by_the_air_that_is_measured() -> None:
    known = shop("still", speed(1.5))
    assert conditions_of(known, "loft", Climate(NOW_MS, 21.0, 0.5, None)).air_speed_m_s == 1.5
    assert conditions_of(known, "loft", None).air_speed_m_s == 0.15


def test_a_room_whose_sensors_are_gone_is_not_heard_at_once() -> None:
    known = here(("a", Quantity.TEMPERATURE), ("b", Quantity.HUMIDITY))
    minutes = np.arange(NOW_MS - 10 * MINUTE_MS, NOW_MS + 1, MINUTE_MS)
    series = {
        ("a", Quantity.TEMPERATURE): (minutes, np.full(minutes.size, 21.0)),
        ("b", Quantity.HUMIDITY): (minutes, np.full(minutes.size, 0.5)),
    }
    first = (NOW_MS - 10 * MINUTE_MS) // MINUTE_MS
    known.book.splice("loft", merge(series, first_minute=first, longest_gap_s=1800.0))
    assert heard_at(known, "loft", NOW_MS)[1]
    assert quiet_s(known, "loft") == known.longest_gap_s("loft")
    known.gone = {"b": NOW_MS}
    climate, fresh = heard_at(known, "loft", NOW_MS)
    assert climate is not None
    assert (fresh, climate.rh_frac) == (True, None)
    known.gone = {"a": NOW_MS, "b": NOW_MS}
    climate, fresh = heard_at(known, "loft", NOW_MS)
    assert climate is not None
    assert not fresh
    assert quiet_s(known, "loft") == 0.0


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


def test_a_sensor_in_a_jar_does_not_speak_for_one_that_is_gone() -> None:
    known = here(("a", Quantity.TEMPERATURE), ("b", Quantity.TEMPERATURE))
    known.gone = {"a": NOW_MS + 1}
    assert still_speaks(known, "loft", CLIMATE, within_ms=1e6) is not None
    known.trust = Trust(jars={"b": ((NOW_MS - MINUTE_MS, FOR_EVER_MS),)})
    assert still_speaks(known, "loft", CLIMATE, within_ms=1e6) is None


def test_with_everyone_gone_nothing_is_known_until_a_person_types_it() -> None:
    known = here(("a", Quantity.TEMPERATURE), ("b", Quantity.HUMIDITY))
    known.gone = {"a": NOW_MS + 1, "b": NOW_MS + 1}
    assert still_speaks(known, "loft", CLIMATE, within_ms=1e6) is None
    assert nobody_speaks(known, "loft")
    typed = Reading("loft-typed", Quantity.TEMPERATURE, NOW_MS + 9, 21.0)
    known.heard[typed.sensor, typed.quantity] = typed
    assert still_speaks(known, "loft", CLIMATE, within_ms=1e6) is not None
