"""A room's hours before the loaded record: the same as if all of it had been loaded."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from curewatch.room_feed import RoomFeed
from curewatch.shop.hourly import HOUR_MS, LOOK_BACK_H
from curewatch.shop.piece import Fill
from curewatch.shop.reading import Origin, Quantity, Reading
from curewatch.shop.room import Room, Sensor
from curewatch.shop.shop import Shop
from curewatch.storage import Store

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from curewatch.shop.climate import Floats
    from curewatch.shop.hourly import Hours

START_MS = 1_700_006_400_000
DAYS, EVERY_MIN = 30, 9
END_MS = START_MS + DAYS * 24 * HOUR_MS
KEPT = ("temp_c", "vapour_pressure_pa", "surface_c")


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    """Open storage with a month of two sensors, a gap of a day and a half in it, and a fill."""
    with Store.open(tmp_path / "shop.db") as opened:
        rng = np.random.default_rng(3)
        hours = np.arange(0.0, DAYS * 24.0 + 1e-9, EVERY_MIN / 60.0)
        hours = hours[(hours < 200.3) | (hours > 236.0)]
        for sensor, late_ms in (("a", 0), ("b", 130_000)):
            add(opened, sensor, hours, 20.0 + rng.normal(0.0, 3.0, hours.size), late_ms=late_ms)
        opened.fills.add(fill(205.0, 211.5), entered_ms=END_MS)
        yield opened


def add(store: Store, sensor: str, hours: Floats, temp_c: Floats, *, late_ms: int = 0) -> None:
    store.readings.add(
        Reading(sensor, quantity, at_ms(hour) + late_ms, float(value), Origin.OWN_TIME)
        for hour, temp in zip(hours, temp_c, strict=True)
        for quantity, value in ((Quantity.TEMPERATURE, temp), (Quantity.HUMIDITY, 0.5))
    )


def fill(start_h: float, stop_h: float) -> Fill:
    return Fill("drying", at_ms(start_h), at_ms(stop_h), 18.0, 0.6, "the window stood open")


def at_ms(hours: float) -> int:
    return START_MS + round(hours * HOUR_MS)


def shop_of(*, longest_gap_s: float | None = None) -> Shop:
    return Shop(
        rooms={"drying": Room("drying", longest_gap_s=longest_gap_s)},
        sensors=(Sensor("a", "drying", 540.0), Sensor("b", "drying", 540.0)),
    )


def loaded(store: Store, from_h: float, *, keeps: bool = False) -> tuple[Shop, RoomFeed]:
    shop = shop_of()
    feed = RoomFeed(store, shop, keeps=keeps)
    feed.load(at_ms(from_h))
    return shop, feed


def hours_of(shop: Shop, until_h: float = DAYS * 24.0) -> Hours:
    return shop.book.hourly("drying", at_ms(until_h))


def same(ours: Hours, theirs: Hours) -> None:
    assert ours.first_hour == theirs.first_hour
    for name in KEPT:
        mine, other = getattr(ours, name), getattr(theirs, name)
        np.testing.assert_array_equal(np.isnan(mine), np.isnan(other))
        np.testing.assert_allclose(mine, other, rtol=1e-12)


def take(store: Store, feed: RoomFeed, hour: float, temp_c: float) -> None:
    reading = Reading("a", Quantity.TEMPERATURE, at_ms(hour), temp_c, Origin.OWN_TIME)
    store.readings.add([reading])
    feed.take([reading])


@pytest.mark.parametrize("from_h", [100.0, 203.4, 220.0, 235.9, 500.5, 719.0])
def test_hours_before_the_loaded_record_are_those_of_the_whole(store: Store, from_h: float) -> None:
    short, whole = loaded(store, from_h)[0], loaded(store, 0.0)[0]
    found = hours_of(short)
    same(found, hours_of(whole))
    known = np.isfinite(found.temp_c)
    assert known.size == LOOK_BACK_H
    assert int(known.sum()) == pytest.approx(DAYS * 24 - 36 + 6, abs=1)


def test_a_look_at_an_earlier_moment_reaches_back_as_far(store: Store) -> None:
    short, whole = loaded(store, 600.0)[0], loaded(store, 0.0)[0]
    for until_h in (720.0, 650.0, 400.0):
        same(hours_of(short, until_h), hours_of(whole, until_h))


def test_a_look_at_the_past_alone_remembers_nothing_before_it(store: Store) -> None:
    shop = shop_of()
    RoomFeed(store, shop).load(at_ms(600.0), stop_ms=at_ms(700.0))
    assert int(np.isfinite(hours_of(shop, 690.0).temp_c).sum()) == 90


def test_what_was_kept_serves_the_next_start_and_is_the_same(store: Store) -> None:
    shop, feed = loaded(store, 600.0, keeps=True)
    hours_of(shop)
    take(store, feed, 720.2, 21.0)
    kept = store.room_hours.get("drying")
    assert kept is not None
    assert kept.stop_hour == (END_MS // HOUR_MS) - 48
    store.db.execute("DELETE FROM reading WHERE at_ms < ?", (at_ms(400.0),))
    again, whole = hours_of(loaded(store, 650.0)[0]), hours_of(shop)
    same(again, whole)  # though the readings are gone


def test_nothing_is_kept_where_nobody_asked_nor_by_a_command(store: Store) -> None:
    _, feed = loaded(store, 600.0, keeps=True)
    take(store, feed, 720.2, 21.0)
    assert store.room_hours.get("drying") is None
    shop, feed = loaded(store, 600.0)
    hours_of(shop)
    take(store, feed, 720.3, 21.0)
    assert store.room_hours.get("drying") is None


def test_hours_are_kept_anew_once_a_day(store: Store) -> None:
    shop, feed = loaded(store, 600.0, keeps=True)
    hours_of(shop)
    stops = []
    for hour in (720.2, 735.0, 744.1):
        take(store, feed, hour, 21.0)
        kept = store.room_hours.get("drying")
        assert kept is not None
        stops.append(kept.stop_hour - START_MS // HOUR_MS)
    assert stops == [672, 672, 696]


@pytest.mark.parametrize("change", ["void", "fill", "import"])
def test_a_past_changed_by_another_process_is_worked_out_anew(store: Store, change: str) -> None:
    shop, feed = loaded(store, 600.0, keeps=True)
    hours_of(shop)
    take(store, feed, 720.2, 21.0)
    if change == "void":
        store.readings.void("a", at_ms(300.0), at_ms(310.0), why="in the sun", at_ms=END_MS)
    elif change == "fill":
        store.fills.add(fill(212.0, 230.0), entered_ms=END_MS)
    else:
        late = Reading("a", Quantity.TEMPERATURE, at_ms(215.0), 25.0, Origin.IMPORTED)
        store.readings.add([late], announce=True)
    same(hours_of(loaded(store, 650.0)[0]), hours_of(loaded(store, 0.0)[0]))


@pytest.mark.parametrize("late_h", [590.0, 640.0, 300.0])
def test_a_very_late_reading_lets_go_of_what_was_kept(store: Store, late_h: float) -> None:
    shop, feed = loaded(store, 600.0, keeps=True)
    hours_of(shop)
    take(store, feed, 720.2, 21.0)
    take(store, feed, late_h + 0.01, 35.0)
    same(hours_of(shop), hours_of(loaded(store, 0.0)[0]))
    take(store, feed, 720.4, 21.0)
    same(hours_of(loaded(store, 650.0)[0]), hours_of(loaded(store, 0.0)[0]))


def test_hours_kept_under_another_rule_for_jars_are_not_taken(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as patch:
        patch.setattr("curewatch.room_memory.BACK_MS", 0)
        shop, feed = loaded(store, 600.0, keeps=True)
        hours_of(shop)
        take(store, feed, 720.2, 21.0)
    kept = store.room_hours.get("drying")
    assert kept is not None
    store.room_hours.put("drying", replace(kept, rows=kept.rows + 5.0))
    same(hours_of(loaded(store, 650.0)[0]), hours_of(loaded(store, 0.0)[0]))


def test_hours_that_hang_on_another_longest_gap_are_not_taken(store: Store) -> None:
    shop, feed = loaded(store, 600.0, keeps=True)
    hours_of(shop)
    take(store, feed, 720.2, 21.0)
    wide = replace(shop, rooms={"drying": Room("drying", longest_gap_s=200_000.0)})
    wide.book = type(shop.book)()
    RoomFeed(store, wide).load(at_ms(650.0))
    assert int(np.isfinite(hours_of(wide).temp_c).sum()) == DAYS * 24


def test_a_room_without_a_record_has_no_hours(tmp_path: Path) -> None:
    with Store.open(tmp_path / "empty.db") as store:
        shop = loaded(store, 0.0)[0]
        assert not np.isfinite(hours_of(shop).temp_c).any()
        assert not shop.book.remembers("drying")
