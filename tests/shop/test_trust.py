"""What is known of the sensors themselves, and what their readings count for."""

from __future__ import annotations

import numpy as np
import pytest

from curewatch.shop.calibration import Check, Jar, corrections
from curewatch.shop.reading import Quantity, Reading
from curewatch.shop.trust import BACK_MS, FOR_EVER_MS, Trust, counts_from_ms, jar_spans

HUMIDITY = Quantity.HUMIDITY
CHECK = Check("h1", HUMIDITY, "table", 0.755, 0.008, 0.735, 0.0, 20.0, 100, 200, 200)
TRUST = Trust(
    corrections([CHECK]), jar_spans([Jar("h1", "table", 50, 150), Jar("h1", "magnesium", 900)])
)


def test_a_reading_counts_corrected_once_its_correction_holds() -> None:
    trust = Trust(TRUST.made)
    before, after = (Reading("h1", HUMIDITY, at_ms, 0.5) for at_ms in (199, 200))
    assert trust.reading(before) is before
    counted = trust.reading(after)
    assert counted is not None
    assert counted.value == pytest.approx(0.52)
    assert after.value == 0.5


def test_a_reading_of_a_sensor_in_a_jar_counts_for_nothing() -> None:
    assert TRUST.reading(Reading("h1", HUMIDITY, 100, 0.75)) is None
    assert TRUST.reading(Reading("h1", Quantity.TEMPERATURE, 1000, 20.0)) is None
    other = Reading("h2", HUMIDITY, 100, 0.5)
    assert TRUST.reading(other) is other


def test_it_is_known_since_when_a_sensor_is_in_its_jar() -> None:
    assert TRUST.jar_since_ms("h1", 149) == 50
    assert TRUST.jar_since_ms("h1", 150) is None
    assert TRUST.jar_since_ms("h1", 1000) == 900
    assert TRUST.jars["h1"] == ((50, 150), (900, FOR_EVER_MS))


def test_a_record_counts_corrected_and_without_its_hours_in_a_jar() -> None:
    times = np.array([49, 100, 160, 149 + BACK_MS, 150 + BACK_MS], dtype=np.int64)
    trust = Trust(TRUST.made, jar_spans([Jar("h1", "table", 50, 150)]))
    other = (times, np.full(5, 0.5))
    counted = trust.counted({("h1", HUMIDITY): (times, np.full(5, 0.5)), ("h2", HUMIDITY): other})
    at_ms, values = counted["h1", HUMIDITY]
    assert at_ms.tolist() == [49, 150 + BACK_MS]
    assert values.tolist() == pytest.approx([0.5, 0.52])
    assert counted["h2", HUMIDITY] is other


def test_a_reading_soon_after_the_jar_counts_for_nothing_yet() -> None:
    trust = Trust({}, jar_spans([Jar("h1", "table", 50, 150)]))
    assert trust.reading(Reading("h1", HUMIDITY, 149 + BACK_MS, 0.5)) is None
    assert not trust.in_jar("h1", 150)
    assert trust.reading(Reading("h1", HUMIDITY, 150 + BACK_MS, 0.5)) is not None


def test_a_jar_left_the_instant_it_was_entered_holds_nothing_back() -> None:
    assert counts_from_ms(50, 150) == 150 + BACK_MS
    assert counts_from_ms(50, 50) == 50
    assert not Trust({}, {"h1": ((50, 50),)}).is_away("h1", 60)
