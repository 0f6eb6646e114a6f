from __future__ import annotations

import contextlib
from typing import TYPE_CHECKING

import numpy as np
import pytest

from curewatch.errors import BadInput
from curewatch.shop.reading import Flag, Origin, Quantity, Reading

if TYPE_CHECKING:
    from curewatch.storage import Store

TEMP, RH = Quantity.TEMPERATURE, Quantity.HUMIDITY


def temp(
    at: int,
    value: float = 20.0,
    sensor: str = "s1",
    *,
    origin: Origin = Origin.OWN_TIME,
    flags: int = 0,
) -> Reading:
    return Reading(sensor, TEMP, at, value, origin, flags)


def test_a_reading_comes_back_bit_for_bit(store: Store) -> None:
    reading = Reading("s1", RH, 123, 0.1 + 0.2, Origin.TYPED, Flag.FROZEN_PAIR)
    assert store.readings.add([reading]).added == (reading,)
    assert list(store.readings.rows(0, 1000)) == [reading]


def test_the_same_value_again_is_a_duplicate_and_another_value_a_conflict(store: Store) -> None:
    store.readings.add([temp(1, 20.0)])
    again, other, fresh = temp(1, 20.0), temp(1, 20.5), temp(2, 21.0)
    result = store.readings.add([again, other, fresh, fresh])
    assert result.added == (fresh,)
    assert result.duplicates == (again, fresh)
    assert result.conflicts == (other,)
    assert [r.value for r in store.readings.rows(0, 10)] == [20.0, 21.0]


def test_nothing_is_a_batch_too(store: Store) -> None:
    assert store.readings.add([]).added == ()


@pytest.mark.parametrize("value", [float("nan"), float("inf"), -1e7])
def test_a_value_no_sensor_can_say_is_refused_and_its_batch_with_it(
    store: Store, value: float
) -> None:
    with pytest.raises(BadInput, match="give a finite number"):
        store.readings.add([temp(1), temp(2, value)])
    assert list(store.readings.rows(0, 10)) == []


@pytest.mark.parametrize("at", [-1, 9_000_000_000_000, 10**30])
def test_a_time_outside_two_centuries_is_refused(store: Store, at: int) -> None:
    with pytest.raises(BadInput, match="seconds or milliseconds"):
        store.readings.add([temp(at)])


def test_a_series_is_sorted_and_closed_at_its_start_open_at_its_end(store: Store) -> None:
    store.readings.add([temp(at, float(at)) for at in (30, 10, 20, 40)])
    times, values = store.readings.series("s1", TEMP, 10, 40)
    assert times.dtype == np.int64
    assert values.dtype == np.float64
    assert times.tolist() == [10, 20, 30]
    assert values.tolist() == [10.0, 20.0, 30.0]


def test_a_series_nobody_sent_is_empty(store: Store) -> None:
    for sensor in ("s1", "never"):
        times, values = store.readings.series(sensor, RH, 0, 100)
        assert times.size == values.size == 0
        store.readings.add([temp(1)])


def test_a_block_holds_every_series_of_the_range(store: Store) -> None:
    sent = [
        Reading(sensor, quantity, at, at + quantity / 10.0)
        for sensor in ("s1", "s2", "s3")
        for quantity in Quantity
        for at in range(0, 100, 7)
    ]
    store.readings.add(sent)
    block = store.readings.block(7, 71)
    assert set(block) == {(r.sensor, r.quantity) for r in sent}
    for (sensor, quantity), (times, values) in block.items():
        expected = [r for r in sent if (r.sensor, r.quantity) == (sensor, quantity)]
        assert times.tolist() == [r.at_ms for r in expected if 7 <= r.at_ms < 71]
        assert values.tolist() == [r.value for r in expected if 7 <= r.at_ms < 71]
    assert {sensor for sensor, _ in store.readings.block(0, 100, sensors=["s2", "x"])} == {"s2"}


def test_a_block_over_many_chunks_joins_them_in_order(store: Store) -> None:
    count = 70_000
    store.readings.add(temp(at, float(at % 97), f"s{at % 2}") for at in range(count))
    for sensor in (0, 1):
        times, values = store.readings.block(0, count)[(f"s{sensor}", TEMP)]
        assert np.array_equal(times, np.arange(sensor, count, 2))
        assert np.array_equal(values, np.arange(sensor, count, 2) % 97)


def test_a_block_of_exactly_one_chunk_ends(store: Store) -> None:
    store.readings.add(temp(at) for at in range(65_536))
    assert store.readings.block(0, 10**9)[("s1", TEMP)][0].size == 65_536


def test_readings_of_unknown_time_are_kept_and_never_credited(store: Store) -> None:
    store.readings.add([temp(10), temp(20, flags=Flag.TIME_UNKNOWN)])
    assert store.readings.series("s1", TEMP, 0, 100)[0].tolist() == [10]
    assert len(list(store.readings.rows(0, 100))) == 2
    assert store.readings.newest_ms() == 10
    assert store.readings.counts() == {"s1": 2}


def test_the_newest_of_each_sensor_never_goes_back(store: Store) -> None:
    store.readings.add([temp(50, 1.0), temp(20, 2.0), temp(10, 3.0, "s2")])
    store.readings.add([temp(30, 4.0)])
    latest = store.readings.latest()
    assert latest[("s1", TEMP)] == temp(50, 1.0)
    assert latest[("s2", TEMP)] == temp(10, 3.0, "s2")
    assert (store.readings.oldest_ms(), store.readings.newest_ms()) == (10, 50)


def test_an_empty_store_has_no_newest_and_no_oldest(store: Store) -> None:
    assert store.readings.newest_ms() is None
    assert store.readings.oldest_ms() is None
    assert store.readings.latest() == {}
    assert store.readings.block(0, 10) == {}


def test_voided_readings_make_room_for_corrected_ones_and_stay_on_file(store: Store) -> None:
    store.readings.add([temp(10), temp(20), temp(30), Reading("s1", RH, 20, 0.5)])
    assert store.readings.void("s1", 15, 30, "sun on the sensor", 99, quantity=TEMP) == 1
    assert store.readings.series("s1", TEMP, 0, 99)[0].tolist() == [10, 30]
    assert store.readings.series("s1", RH, 0, 99)[0].tolist() == [20]
    assert store.readings.add([temp(20, 18.5)]).added == (temp(20, 18.5),)
    assert store.db.rows(
        "SELECT reading_voided.at_ms, value, why FROM reading_voided JOIN reading_void AS v "
        "ON v.id = reading_void"
    ) == [(20, 20.0, "sun on the sensor")]


def test_a_voided_value_delivered_again_stays_voided_unless_it_is_typed(store: Store) -> None:
    store.readings.add([temp(10), temp(20)])
    store.readings.void("s1", 0, 15, "wrong sensor", 99)
    assert store.readings.add([temp(10)]).duplicates == (temp(10),)
    assert store.readings.series("s1", TEMP, 0, 15)[0].size == 0
    typed = temp(10, origin=Origin.TYPED)
    assert store.readings.add([typed, temp(30)]).added == (typed, temp(30))


def test_voiding_the_newest_brings_back_the_one_before(store: Store) -> None:
    store.readings.add([temp(10, 1.0), temp(20, 2.0)])
    store.readings.void("s1", 20, 21, "hand on the sensor", 99)
    assert store.readings.latest()[("s1", TEMP)] == temp(10, 1.0)
    store.readings.void("s1", 0, 100, "all of it", 99)
    assert store.readings.latest() == {}
    assert store.readings.void("s1", 0, 100, "nothing left", 99) == 0


def test_voiding_asks_for_a_known_sensor_a_range_and_a_reason(store: Store) -> None:
    with pytest.raises(BadInput, match=r"'s9' was ever kept: 'curewatch sensor list'"):
        store.readings.void("s9", 0, 1, "why", 9)
    with pytest.raises(BadInput, match="'s9' was ever kept"):
        store.readings.flag("s9", 0, 1, Flag.FROZEN_PAIR)
    store.readings.add([temp(1)])
    with pytest.raises(BadInput, match="needs a reason"):
        store.readings.void("s1", 0, 9, "  ", 9)
    with pytest.raises(BadInput, match="range to void is empty"):
        store.readings.void("s1", 9, 9, "why", 9)


def test_a_flag_is_set_once_on_the_readings_of_a_range(store: Store) -> None:
    store.readings.add([temp(10), temp(20), temp(30)])
    assert store.readings.flag("s1", 20, 40, Flag.FROZEN_PAIR) == 2
    assert store.readings.flag("s1", 10, 40, Flag.FROZEN_PAIR, quantity=TEMP) == 1
    assert store.readings.flag("s1", 0, 40, Flag.FROZEN_PAIR) == 0
    assert [r.flags for r in store.readings.rows(0, 99)] == [Flag.FROZEN_PAIR] * 3
    assert store.readings.latest()[("s1", TEMP)].flags == Flag.FROZEN_PAIR


def test_readings_are_paged_through_without_loss(store: Store) -> None:
    sent = [temp(at, 1.0, sensor) for at in range(6_000) for sensor in ("a", "b")]
    store.readings.add(sent)
    assert sum(1 for _ in store.readings.rows(0, 6_000)) == 12_000
    assert list(store.readings.rows(5_999, 6_000)) == sent[-2:]


def test_what_a_command_adds_is_announced_to_a_running_daemon(store: Store) -> None:
    store.readings.add([temp(5)])
    assert store.touched.since(0) == (0, ())
    store.readings.add([temp(30), temp(20), temp(10, sensor="s2")], announce=True)
    last, touches = store.touched.since(0)
    assert [(t.sensor, t.room, t.from_ms) for t in touches] == [("s1", None, 20), ("s2", None, 10)]
    store.readings.add([temp(30)], announce=True)
    store.readings.void("s1", 7, 25, "why", 99)
    assert [(t.sensor, t.from_ms) for t in store.touched.since(last)[1]] == [("s1", 7)]
    assert store.touched.last_id() == last + 1


def test_a_sensor_number_given_in_an_undone_transaction_is_given_anew(store: Store) -> None:
    with contextlib.suppress(RuntimeError), store.db.transaction():
        store.readings.add([temp(1, sensor="gone")])
        raise RuntimeError
    store.readings.add([temp(1, sensor="other")])
    store.readings.add([temp(2, sensor="gone")])
    assert [(r.sensor, r.at_ms) for r in store.readings.rows(0, 9)] == [("other", 1), ("gone", 2)]
