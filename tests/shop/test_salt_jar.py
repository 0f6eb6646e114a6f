"""A sensor in a jar: whether it has settled, and the check that it gives."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from curewatch.shop.reading import Quantity
from curewatch.shop.salt_jar import BENCH_SALTS, HOUR_MS, Stage, check_of, keeps_rh_frac, settling

if TYPE_CHECKING:
    from collections.abc import Callable

    from curewatch.shop.climate import Floats, Series
    from curewatch.shop.salt_jar import Settling

IN_MS = 1_790_000_000_000
TEN_MIN_MS = 600_000


def said(value: Callable[[Floats], Floats], hours: float) -> Series:
    times = np.arange(IN_MS, IN_MS + round(hours * HOUR_MS) + 1, TEN_MIN_MS, dtype=np.int64)
    return times, value((times - IN_MS) / HOUR_MS)


def steady(level: float) -> Callable[[Floats], Floats]:
    return lambda hours: np.full(hours.shape, level)


def creeping(to: float, *, lag_h: float, start: float = 0.45) -> Callable[[Floats], Floats]:
    return lambda hours: to + (start - to) * np.exp(-hours / lag_h)


def look(
    rh: Callable[[Floats], Floats], hours: float, *, temp_c: float = 20.0, salt: str = "table"
) -> Settling:
    now_ms = IN_MS + round(hours * HOUR_MS)
    warm = said(steady(temp_c), hours)
    return settling(salt, said(rh, hours), warm, put_in_ms=IN_MS, now_ms=now_ms)


def test_a_small_sensor_has_settled_after_hours_and_a_bulky_one_still_drifts() -> None:
    assert look(creeping(0.74, lag_h=0.5), 6.0).stage is Stage.SETTLED
    slow = look(creeping(0.74, lag_h=4.0), 6.0)
    assert slow.stage is Stage.DRIFTING
    assert slow.moved is not None
    assert slow.moved > 0.005
    assert look(creeping(0.74, lag_h=4.0), 24.0).stage is Stage.SETTLED


def test_nothing_has_settled_in_its_first_hours() -> None:
    assert look(steady(0.74), 3.9).stage is Stage.SOON
    assert look(steady(0.74), 4.0).stage is Stage.SETTLED


def test_noise_is_not_settling() -> None:
    assert look(lambda h: 0.74 + 0.01 * np.sin(9.0 * h), 6.0).stage is Stage.DRIFTING


def test_a_jar_that_warms_has_not_settled() -> None:
    warm = said(lambda hours: 18.0 + 0.4 * hours, 6.0)
    found = settling(
        "table", said(steady(0.74), 6.0), warm, put_in_ms=IN_MS, now_ms=IN_MS + 6 * HOUR_MS
    )
    assert found.stage is Stage.DRIFTING


def test_water_on_the_sensor_is_seen() -> None:
    assert look(steady(0.99), 6.0).stage is Stage.WET


def test_too_few_readings_and_silence_say_nothing() -> None:
    times = IN_MS + np.array([3, 4, 5], dtype=np.int64) * HOUR_MS
    few = times, np.full(3, 0.74)
    nothing = np.zeros(0, dtype=np.int64), np.zeros(0)
    six_h = IN_MS + 6 * HOUR_MS
    assert settling("table", few, nothing, put_in_ms=IN_MS, now_ms=six_h).stage is Stage.FEW
    late = IN_MS + 7 * HOUR_MS + HOUR_MS
    assert settling("table", few, nothing, put_in_ms=IN_MS, now_ms=late).stage is Stage.SILENT
    assert settling("table", nothing, nothing, put_in_ms=IN_MS, now_ms=six_h).stage is Stage.SILENT


def test_a_sensor_that_reports_by_the_hour_can_settle() -> None:
    times = IN_MS + np.arange(8, dtype=np.int64) * HOUR_MS
    found = settling(
        *("table", (times, np.full(8, 0.74)), (times, np.full(8, 21.0))),
        put_in_ms=IN_MS,
        now_ms=IN_MS + 7 * HOUR_MS,
    )
    assert (found.stage, found.count) == (Stage.SETTLED, 4)


def test_where_the_jars_temperature_is_not_known_or_has_no_value_nothing_is_made_of_it() -> None:
    nothing = np.zeros(0, dtype=np.int64), np.zeros(0)
    six_h = IN_MS + 6 * HOUR_MS
    blind = settling("table", said(steady(0.74), 6.0), nothing, put_in_ms=IN_MS, now_ms=six_h)
    assert (blind.stage, blind.temp_c) == (Stage.OUTSIDE, None)
    assert look(steady(0.74), 6.0, temp_c=5.0).stage is Stage.OUTSIDE
    assert look(steady(0.44), 6.0, temp_c=31.0, salt="carbonate").stage is Stage.OUTSIDE


def test_a_settled_sensor_gives_a_check_with_its_uncertainty() -> None:
    found = look(steady(0.735), 6.0)
    check = check_of("h1", "table", found, who="ann")
    assert check.quantity is Quantity.HUMIDITY
    assert check.reference == pytest.approx(0.7548, abs=1e-4)
    # 0.4 points of the salt, and 75.5 * 0.062 * 0.2 = 0.94 points for 0.2 K within the jar
    assert check.reference_error == pytest.approx(0.0102, abs=1e-4)
    assert check.shift == pytest.approx(0.0198, abs=1e-4)
    assert (check.from_ms, check.who) == (check.stop_ms, "ann")
    assert check_of("h1", "table", found, from_ms=IN_MS).from_ms == IN_MS


@pytest.mark.parametrize("salt", BENCH_SALTS)
def test_every_salt_for_the_bench_has_a_value_at_room_temperature(salt: str) -> None:
    keeps = keeps_rh_frac(salt, 20.0)
    assert keeps is not None
    assert 0.3 < keeps < 0.9
