from __future__ import annotations

import numpy as np

from curewatch.shop.climate import MINUTE_MS, TEMP, TEMP_COVER, merge
from curewatch.shop.reading import Quantity, Reading
from curewatch.shop.tail import RoomTail

HOUR_MS = 60 * MINUTE_MS
GAP_S = 1800.0


def readings(sensor: str, start_h: int, stop_h: int, value: float) -> list[Reading]:
    return [
        Reading(sensor, Quantity.TEMPERATURE, at_ms, value)
        for at_ms in range(start_h * HOUR_MS, stop_h * HOUR_MS, 5 * MINUTE_MS)
    ]


def test_a_sensor_back_after_a_day_leaves_the_hours_that_the_other_one_bridged() -> None:
    """What was let go of must not be merged again without the readings it was made of."""
    tail = RoomTail(GAP_S)
    tail.reset({}, 0)
    always = readings("rail", 0, 40, 20.0)
    sometimes = readings("gable", 0, 6, 20.4) + readings("gable", 30, 40, 20.4)
    arriving = sorted(always + sometimes, key=lambda reading: reading.at_ms)
    rows = np.zeros((7, 0))
    for first in range(0, len(arriving), 12):
        batch = arriving[first : first + 12]
        start = tail.take(batch)
        assert start is not None
        block = tail.block(min(start, rows.shape[1] * MINUTE_MS))
        rows = np.concatenate((rows[:, : block.first_minute], block.rows), axis=1)
        tail.trim(batch[-1].at_ms)
    series = {
        (name, Quantity.TEMPERATURE): (
            np.array([reading.at_ms for reading in mine]),
            np.array([reading.value for reading in mine]),
        )
        for name, mine in (("rail", always), ("gable", sometimes))
    }
    whole = merge(series, first_minute=0, longest_gap_s=GAP_S)
    assert np.array_equal(rows[TEMP_COVER], whole.rows[TEMP_COVER])
    assert np.array_equal(rows[TEMP], whole.rows[TEMP])


def at(minute: int, value: float = 20.0, sensor: str = "rail") -> Reading:
    return Reading(sensor, Quantity.TEMPERATURE, minute * MINUTE_MS, value)


def tail_from(minute: int, *held: Reading) -> RoomTail:
    """Return a tail complete from a minute on, which holds these readings."""
    tail = RoomTail(GAP_S)
    tail.reset({}, minute * MINUTE_MS)
    tail.take(held)
    return tail


def test_a_late_reading_is_put_in_its_place_and_the_record_is_redone_from_the_one_before() -> None:
    tail = tail_from(0, at(0), at(5), at(10))
    assert tail.take([at(7, 22.0)]) == 5 * MINUTE_MS
    times, values = tail.series["rail", Quantity.TEMPERATURE]
    assert times.tolist() == [minute * MINUTE_MS for minute in (0, 5, 7, 10)]
    assert values.tolist() == [20.0, 20.0, 22.0, 20.0]


def test_a_reading_older_than_all_that_is_held_asks_for_the_whole_record() -> None:
    tail = tail_from(0, at(5), at(10))
    assert tail.take([at(11, sensor="gable"), at(4)]) is None


def test_a_new_sensor_s_reading_from_before_the_tail_asks_for_the_whole_record() -> None:
    assert tail_from(60).take([at(59, sensor="gable")]) is None
    assert tail_from(60).take([at(60, sensor="gable")]) == 60 * MINUTE_MS


def test_no_reading_changes_nothing() -> None:
    assert tail_from(0, at(0)).take([]) is None
