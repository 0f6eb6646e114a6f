"""Rooms' records from storage and as they grow: always what one merge of everything gives."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch import room_feed
from curewatch.room_feed import RoomFeed
from curewatch.shop.book import ClockBook
from curewatch.shop.calibration import Check, Jar
from curewatch.shop.climate import MINUTE_MS, RH, TEMP, TEMP_COVER, ClimateTrack, merge
from curewatch.shop.piece import Fill
from curewatch.shop.reading import Origin, Quantity, Reading
from curewatch.shop.room import Room, Sensor
from curewatch.shop.shop import Shop
from curewatch.storage import Store

START_MS = 1_790_000_000_000 // MINUTE_MS * MINUTE_MS
HOUR_MS = 60 * MINUTE_MS
GAP_S = 1800.0


def shop_of(*sensors: str) -> Shop:
    """Return a shop of two rooms; every sensor hangs in the drying room."""
    rooms = {name: Room(name, longest_gap_s=GAP_S) for name in ("drying", "spray")}
    return Shop(rooms=rooms, sensors=tuple(Sensor(name, "drying") for name in sensors))


def pairs(sensor: str, at_ms: int, temp_c: float = 21.0) -> list[Reading]:
    """Return a sensor's temperature and humidity at an instant."""
    return [
        Reading(sensor, Quantity.TEMPERATURE, at_ms, temp_c, Origin.OWN_TIME),
        Reading(sensor, Quantity.HUMIDITY, at_ms, 0.5, Origin.OWN_TIME),
    ]


def merged(store: Store, first_ms: int) -> ClimateTrack:
    """Return the drying room's record in one merge of everything stored."""
    book = ClockBook()
    series = store.readings.block(0, 2**50)
    fills = store.fills.for_room("drying")
    first = first_ms // MINUTE_MS
    book.splice("drying", merge(series, first_minute=first, longest_gap_s=GAP_S, fills=fills))
    return book.climates["drying"]


def same(ours: ClimateTrack, theirs: ClimateTrack) -> None:
    """Compare two tracks where their cells are covered, and the cover everywhere."""
    assert (ours.first_minute, ours.size, ours.frontier_ms) == (
        theirs.first_minute,
        theirs.size,
        theirs.frontier_ms,
    )
    np.testing.assert_array_equal(ours.row(TEMP_COVER), theirs.row(TEMP_COVER))
    known = theirs.row(TEMP_COVER) > 0.0
    known[1:] |= known[:-1].copy()
    np.testing.assert_allclose(ours.row(TEMP)[known], theirs.row(TEMP)[known], rtol=1e-12)


STEPS = st.lists(
    st.tuples(st.sampled_from(["a", "b"]), st.integers(10, 2 * 3600), st.integers(1800, 2200)),
    min_size=2,
    max_size=60,
)


@given(steps=STEPS, chunk_h=st.integers(1, 30))
def test_a_record_read_stretch_by_stretch_is_the_record_read_in_one_piece(
    steps: list[tuple[str, int, int]], chunk_h: int
) -> None:
    with TemporaryDirectory() as folder, Store.open(Path(folder) / "shop.db") as store:
        at_ms = START_MS
        for sensor, after_s, temp in steps:
            at_ms += after_s * 1000
            store.readings.add(pairs(sensor, at_ms, temp / 100))
        shop = shop_of("a", "b")
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(room_feed, "CHUNK_MS", chunk_h * HOUR_MS)
            RoomFeed(store, shop).load(0)
        ours = shop.book.climates["drying"]
        same(ours, merged(store, ours.start_ms))


@given(steps=STEPS, late=st.lists(st.integers(1, 40 * 3600), max_size=6))
def test_readings_taken_as_they_come_and_late_ones_give_the_same_record(
    steps: list[tuple[str, int, int]], late: list[int]
) -> None:
    with TemporaryDirectory() as folder, Store.open(Path(folder) / "shop.db") as store:
        shop = shop_of("a", "b")
        feed = RoomFeed(store, shop)
        feed.load(START_MS)
        at_ms, used = START_MS, set()
        for number, (sensor, after_s, temp) in enumerate(steps):
            at_ms += after_s * 1000
            used.add((sensor, at_ms))
            batch = pairs(sensor, at_ms, temp / 100)
            store.readings.add(batch)
            feed.take(batch)
            if number < len(late):
                before = max(at_ms - late[number] * 1000, START_MS)
                if (sensor, before) not in used:
                    used.add((sensor, before))
                    batch = pairs(sensor, before, 20.0)
                    store.readings.add(batch)
                    feed.take(batch)
        ours = shop.book.climates["drying"]
        same(ours, merged(store, ours.start_ms))


@pytest.fixture
def store(tmp_path: Path) -> Store:
    """Open storage."""
    return Store.open(tmp_path / "shop.db")


def test_a_sensor_that_was_moved_counts_for_each_room_while_it_hung_there(store: Store) -> None:
    store.places.place("a", "drying", START_MS)
    store.places.place("a", "spray", START_MS + 10 * HOUR_MS)
    for half in range(41):
        store.readings.add(pairs("a", START_MS + half * HOUR_MS // 2))
    shop = shop_of("a")
    feed = RoomFeed(store, shop)
    feed.load(START_MS)
    drying, spray = shop.book.climates["drying"], shop.book.climates["spray"]
    assert drying.frontier_ms == START_MS + 10 * HOUR_MS - HOUR_MS // 2
    assert drying.at(START_MS + 5 * HOUR_MS) is not None
    assert spray.at(START_MS + 15 * HOUR_MS) is not None
    assert spray.coverage_pct(START_MS, START_MS + 10 * HOUR_MS) == 0.0
    assert feed.rooms_of("a") == {"drying", "spray"}


def test_a_reading_of_a_sensor_that_hangs_nowhere_changes_no_room(store: Store) -> None:
    feed = RoomFeed(store, shop_of("a"))
    feed.load(START_MS)
    assert feed.take(pairs("stranger", START_MS)) == set()


def test_what_a_scale_weighs_is_no_part_of_a_room_s_record(store: Store) -> None:
    shop, plain = shop_of("rack", "scale"), shop_of("rack", "scale")
    air = [r for minute in range(0, 120, 10) for r in pairs("rack", START_MS + minute * MINUTE_MS)]
    late_ms = START_MS + 5 * HOUR_MS
    grams = [
        Reading("scale", Quantity.MASS, at_ms, 120.0, Origin.OWN_TIME)
        for at_ms in (START_MS + MINUTE_MS, late_ms)
    ]
    live = RoomFeed(store, shop)
    live.load(START_MS)
    store.readings.add([*air, *grams])
    assert live.take([*air, *grams]) == set()
    RoomFeed(store, plain).load(START_MS)
    for track in (shop.book.climates["drying"], plain.book.climates["drying"]):
        assert track.frontier_ms == START_MS + 110 * MINUTE_MS
    same(shop.book.climates["drying"], plain.book.climates["drying"])


def test_a_filled_gap_is_in_the_record_after_a_reload(store: Store) -> None:
    for hour in (0, 10, 20):
        for minutes in (0, 20, 40):
            store.readings.add(pairs("a", START_MS + hour * HOUR_MS + minutes * MINUTE_MS))
    shop = shop_of("a")
    feed = RoomFeed(store, shop)
    feed.load(START_MS)
    fill = Fill("drying", START_MS + 2 * HOUR_MS, START_MS + 8 * HOUR_MS, 18.0, 0.6, "thermostat")
    store.fills.add(fill, START_MS)
    feed.reload("drying", fill.start_ms)
    climate = shop.book.climates["drying"].at(START_MS + 5 * HOUR_MS)
    assert climate is not None
    assert (climate.temp_c, climate.rh_frac) == (18.0, 0.6)
    same(shop.book.climates["drying"], merged(store, START_MS))


def test_a_room_without_readings_has_no_record_until_the_first_comes(store: Store) -> None:
    shop = shop_of("a")
    feed = RoomFeed(store, shop)
    feed.load(START_MS)
    assert shop.book.climates.get("drying") is None
    feed.reload("drying", START_MS)
    feed.take(pairs("a", START_MS + HOUR_MS))
    assert shop.book.climates["drying"].frontier_ms == START_MS + HOUR_MS


def hygrometer_in(store: Store) -> tuple[Shop, RoomFeed]:
    """Return a shop whose one sensor has said 50 % and 21 degC for six hours, and its feed."""
    for minute in range(0, 361, 10):
        store.readings.add(pairs("a", START_MS + minute * MINUTE_MS))
    shop = shop_of("a")
    feed = RoomFeed(store, shop)
    feed.load(START_MS)
    return shop, feed


def everything(shop: Shop) -> list[list[float]]:
    """Return the whole of the drying room's track."""
    track = shop.book.climates["drying"]
    return [[float(v) for v in np.nan_to_num(track.row(which), nan=-99.0)] for which in range(7)]


def over_salt(from_ms: int) -> Check:
    """Return a check that found humidity two points low."""
    ends = (from_ms - MINUTE_MS, from_ms, from_ms)
    return Check("a", Quantity.HUMIDITY, "table", 0.755, 0.008, 0.735, 0.001, 21.0, *ends)


def take_notice(store: Store, feed: RoomFeed, seen: int) -> int:
    """Do what the daemon does when people wrote; return the newest change."""
    feed.places_changed()
    newest, touches = store.touched.since(seen)
    for touch in touches:
        feed.reload("drying", touch.from_ms)
    return newest


def test_a_check_rebuilds_the_track_from_its_instant_and_taking_it_back_restores_it(
    store: Store,
) -> None:
    shop, feed = hygrometer_in(store)
    before = everything(shop)
    seen = store.touched.last_id()
    from_ms = START_MS + 180 * MINUTE_MS
    (number,) = store.sensor_checks.add([over_salt(from_ms)], from_ms)
    seen = take_notice(store, feed, seen)
    rh = shop.book.climates["drying"].row(RH)
    np.testing.assert_allclose(rh[: 180 - 10], 0.5)
    np.testing.assert_allclose(rh[180:], 0.52)
    fresh = shop_of("a")
    RoomFeed(store, fresh).load(START_MS)
    assert everything(fresh) == everything(shop)
    store.sensor_checks.void(number, "the jar leaked", from_ms)
    take_notice(store, feed, seen)
    assert everything(shop) == before


def test_readings_as_they_come_are_corrected_like_those_read_from_storage(store: Store) -> None:
    shop, feed = hygrometer_in(store)
    store.sensor_checks.add([over_salt(START_MS)], START_MS)
    take_notice(store, feed, 0)
    new = pairs("a", START_MS + 370 * MINUTE_MS)
    store.readings.add(new)
    feed.take(new)
    fresh = shop_of("a")
    RoomFeed(store, fresh).load(START_MS)
    assert everything(fresh) == everything(shop)
    assert shop.book.climates["drying"].row(RH)[370] == pytest.approx(0.52)


def test_what_a_sensor_says_in_a_jar_is_not_the_rooms_air(store: Store) -> None:
    shop, feed = hygrometer_in(store)
    before = everything(shop)
    start_ms, seen = START_MS + 60 * MINUTE_MS, store.touched.last_id()
    store.sensor_checks.put_in(Jar("a", "table", start_ms), start_ms)
    seen = take_notice(store, feed, seen)
    assert shop.book.climates["drying"].frontier_ms == start_ms - 10 * MINUTE_MS
    new = pairs("a", START_MS + 370 * MINUTE_MS)
    store.readings.add(new)
    assert feed.take(new) == set()
    store.sensor_checks.take_out("a", start_ms, START_MS + 380 * MINUTE_MS)
    take_notice(store, feed, seen)
    fresh = shop_of("a")
    RoomFeed(store, fresh).load(START_MS)
    assert everything(fresh) == everything(shop)
    assert shop.book.climates["drying"].size > len(before[0])


@given(
    back=st.integers(2, 300),
    minutes=st.lists(st.integers(1, 480), min_size=1, max_size=20, unique=True),
)
def test_soon_after_the_jar_a_sensor_counts_for_nothing_live_as_rebuilt(
    back: int, minutes: list[int]
) -> None:
    with TemporaryDirectory() as folder, Store.open(Path(folder) / "shop.db") as store:
        shop = shop_of("a")
        feed = RoomFeed(store, shop)
        feed.load(START_MS)
        first = pairs("a", START_MS)
        store.readings.add(first)
        feed.take(first)
        store.sensor_checks.put_in(Jar("a", "table", START_MS + MINUTE_MS), START_MS)
        seen, out = take_notice(store, feed, 0), False
        for minute in sorted(minutes):
            if minute >= back and not out:
                store.sensor_checks.take_out("a", START_MS + back * MINUTE_MS, START_MS)
                seen, out = take_notice(store, feed, seen), True
            new = pairs("a", START_MS + minute * MINUTE_MS)
            store.readings.add(new)
            feed.take(new)
        fresh = shop_of("a")
        RoomFeed(store, fresh).load(START_MS)
        assert everything(fresh) == everything(shop)
        counted = [minute for minute in minutes if out and minute >= back + 30]
        assert shop.book.frontier_ms("drying") == START_MS + max(counted, default=0) * MINUTE_MS


def test_a_checks_doubt_takes_the_place_of_the_data_sheets(store: Store) -> None:
    shop, feed = hygrometer_in(store)
    low = over_salt(START_MS)
    high = replace(low, against="magnesium", reference=0.331, reference_error=0.005, read=0.32)
    store.sensor_checks.add([low, high], START_MS)
    take_notice(store, feed, 0)
    assert shop.book.bias("drying", START_MS, 0.5).rh_frac == pytest.approx(0.0128, abs=1e-4)
    by_hand = float(np.hypot(0.025, low.shift))  # the nearer salt's offset
    assert shop.book.bias("drying", START_MS, 0.95).rh_frac == pytest.approx(by_hand)


def test_sensors_of_a_room_are_held_against_each_other_by_the_hour(store: Store) -> None:
    shop = shop_of("a", "b")
    feed = RoomFeed(store, shop)
    feed.load(START_MS)
    for minute in range(0, 361, 10):
        at_ms = START_MS + minute * MINUTE_MS
        new = [*pairs("a", at_ms), *pairs("b", at_ms, 23.0)]
        store.readings.add(new)
        feed.take(new)
    (apart,) = shop.book.beside["drying"].apart
    assert (apart.sensor, apart.other, apart.middle) == ("a", "b", -2.0)
    fresh = shop_of("a", "b")
    RoomFeed(store, fresh).load(START_MS)
    assert fresh.book.beside == shop.book.beside
    assert shop.book.bias("drying", START_MS + 360 * MINUTE_MS).temp_k == 1.0
