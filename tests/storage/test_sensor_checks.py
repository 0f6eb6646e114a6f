"""Checks of sensors, kept append-only."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from curewatch.errors import BadInput
from curewatch.shop.calibration import Check, Jar
from curewatch.shop.reading import Quantity

if TYPE_CHECKING:
    from curewatch.storage import Store

CHECK = Check(
    *("h1", Quantity.HUMIDITY, "table", 0.755, 0.008, 0.74, 0.001, 20.0, 100, 200, 150),
    *("ann", "jam jar"),
)


def test_a_check_comes_back_as_it_was_entered(store: Store) -> None:
    (number,) = store.sensor_checks.add([CHECK], 300)
    assert store.sensor_checks.all() == (replace(CHECK, id=number),)


def test_a_voided_check_stays_with_its_reason_and_does_not_count(store: Store) -> None:
    (number,) = store.sensor_checks.add([CHECK], 300)
    assert store.sensor_checks.void(number, "the jar leaked", 400).id == number
    assert store.sensor_checks.all() == ()
    assert store.sensor_checks.all(voided=True) == (replace(CHECK, id=number),)
    assert store.sensor_checks.voids() == {number: "the jar leaked"}


def test_a_check_is_voided_once_with_a_reason(store: Store) -> None:
    (number,) = store.sensor_checks.add([CHECK], 300)
    with pytest.raises(BadInput, match="needs a reason"):
        store.sensor_checks.void(number, " ", 400)
    with pytest.raises(BadInput, match="no check of a sensor with number 99"):
        store.sensor_checks.void(99, "x", 400)
    store.sensor_checks.void(number, "the jar leaked", 400)
    with pytest.raises(BadInput, match="void already: the jar leaked"):
        store.sensor_checks.void(number, "again", 500)


def test_entering_and_voiding_rewrites_the_past_from_where_it_holds(store: Store) -> None:
    (number,) = store.sensor_checks.add([CHECK], 300)
    store.sensor_checks.void(number, "the jar leaked", 400)
    found = store.touched.since(0)[1]
    assert [(touch.sensor, touch.from_ms) for touch in found] == [("h1", 150), ("h1", 150)]


def test_a_sensor_is_in_one_jar_at_a_time(store: Store) -> None:
    first = store.sensor_checks.put_in(Jar("h1", "table", 100, who="ann"), 110)
    second = store.sensor_checks.put_in(Jar("h1", "magnesium", 500), 510)
    assert store.sensor_checks.jars() == (
        Jar("h1", "table", 100, 500, "ann", first),
        Jar("h1", "magnesium", 500, None, "", second),
    )
    assert store.sensor_checks.take_out("h1", 900, 910).salt == "magnesium"
    assert store.sensor_checks.jars()[1].stop_ms == 900


def test_a_jar_ends_no_sooner_than_it_began(store: Store) -> None:
    store.sensor_checks.put_in(Jar("h1", "table", 100), 110)
    store.sensor_checks.take_out("h1", 50, 120)
    assert store.sensor_checks.jars()[0].stop_ms == 100


def test_what_is_in_no_jar_cannot_be_taken_out(store: Store) -> None:
    store.sensor_checks.put_in(Jar("h2", "table", 100), 110)
    with pytest.raises(BadInput, match="h1 is in no jar"):
        store.sensor_checks.take_out("h1", 900, 910)
