"""Why a room is not measured while its sensors are in jars."""

from __future__ import annotations

import numpy as np

from curewatch.shop.assessment import assess_room
from curewatch.shop.climate import MINUTE_MS, merge
from curewatch.shop.plain_room_check import Place, stale
from curewatch.shop.reading import Quantity, Reading
from curewatch.shop.room import Room, Sensor
from curewatch.shop.shop import Shop
from curewatch.shop.spray_here import heard_at, here_at
from curewatch.shop.trust import BACK_MS, FOR_EVER_MS, Trust
from curewatch.shop.unmeasured import not_measured

NOW_MS = 1_790_000_000_000 // MINUTE_MS * MINUTE_MS


def loft(*sensors: str, **jars: tuple[int, int]) -> Shop:
    """Return a room whose sensors spoke until now; jars begin and end so many minutes from now."""
    known = Shop({"loft": Room("loft")}, tuple(Sensor(name, "loft") for name in sensors))
    minutes = np.arange(NOW_MS - 30 * MINUTE_MS, NOW_MS + 1, MINUTE_MS)
    series = {
        (name, quantity): (minutes, np.full(minutes.size, value))
        for name in sensors
        for quantity, value in ((Quantity.TEMPERATURE, 21.0), (Quantity.HUMIDITY, 0.5))
    }
    known.heard = {key: Reading(*key, NOW_MS, float(series[key][1][-1])) for key in series}
    first = (NOW_MS - 30 * MINUTE_MS) // MINUTE_MS
    known.book.splice("loft", merge(series, first_minute=first, longest_gap_s=1800.0))
    known.trust = Trust(
        jars={
            name: ((NOW_MS + a * MINUTE_MS, NOW_MS + b * MINUTE_MS),)
            for name, (a, b) in jars.items()
        }
    )
    return known


EVER = (FOR_EVER_MS - NOW_MS) // MINUTE_MS - 60


def test_a_room_whose_one_sensor_is_in_a_jar_is_not_measured_from_that_moment() -> None:
    known = loft("rack", rack=(0, EVER))
    assert not_measured(known, "loft", NOW_MS) == "rack is in a jar: the room is not measured"
    assert not heard_at(known, "loft", NOW_MS)[1]
    assert here_at(known, "loft", NOW_MS).temp_c is None
    now = assess_room(known, "loft", NOW_MS)
    assert now.unmeasured == "rack is in a jar: the room is not measured"
    assert not_measured(known, "loft", NOW_MS - MINUTE_MS) == ""


def test_both_of_a_rooms_sensors_in_jars_are_named() -> None:
    known = loft("rack", "wall", rack=(-9, EVER), wall=(-5, EVER))
    said = not_measured(known, "loft", NOW_MS)
    assert said == "rack and wall are in jars: the room is not measured"


def test_one_that_hangs_there_still_measures_the_room() -> None:
    known = loft("rack", "wall", rack=(-9, EVER))
    assert not_measured(known, "loft", NOW_MS) == ""
    assert heard_at(known, "loft", NOW_MS)[1]
    known.gone = {"wall": NOW_MS}
    assert not_measured(known, "loft", NOW_MS) == "rack is in a jar: the room is not measured"


def test_one_that_was_not_heard_lately_does_not_measure_the_room() -> None:
    known = loft("rack", rack=(-9, EVER))
    known.sensors = (*known.sensors, Sensor("bare", "loft"))
    assert not_measured(known, "loft", NOW_MS) == "rack is in a jar: the room is not measured"
    bare = Reading("bare", Quantity.TEMPERATURE, NOW_MS, 21.0)
    known.heard[bare.sensor, bare.quantity] = bare
    assert not_measured(known, "loft", NOW_MS) == ""


def test_soon_after_the_jar_it_is_said_when_readings_count() -> None:
    known = loft("rack", rack=(-20, -10))
    said = not_measured(known, "loft", NOW_MS)
    assert said.startswith("rack is back from the jar and its readings count from ")
    back_ms = NOW_MS - 10 * MINUTE_MS + BACK_MS
    assert f"from {known.words.at(back_ms, NOW_MS)}: the room is not measured until then" in said
    assert not_measured(known, "loft", back_ms) == ""
    assert known.trust.counts_again_ms("rack", back_ms) == back_ms
    assert known.trust.away_since_ms("rack", back_ms) == back_ms
    two = loft("rack", "wall", rack=(-20, -10), wall=(-20, -9))
    assert "are back from the jar and their readings" in not_measured(two, "loft", NOW_MS)


def test_a_person_who_types_the_air_measures_the_room_by_hand() -> None:
    known = loft("rack", rack=(-9, EVER))
    typed = Reading("loft-typed", Quantity.TEMPERATURE, NOW_MS - MINUTE_MS, 21.0)
    known.heard[typed.sensor, typed.quantity] = typed
    assert not_measured(known, "loft", NOW_MS) == ""


def test_the_spray_check_of_such_a_room_gives_the_jar_as_its_reason() -> None:
    known = loft("rack", rack=(0, EVER))
    why = not_measured(known, "loft", NOW_MS)
    here = here_at(known, "loft", NOW_MS)
    place = Place(
        here, known.words, room="loft", at_ms=NOW_MS, now_ms=NOW_MS, fresh=False, unmeasured=why
    )
    assert stale(place) == why
