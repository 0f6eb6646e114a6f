"""Two sensors side by side, and one over a salt: 'right' is never said."""

from __future__ import annotations

import numpy as np
import pytest

from curewatch.shop.hygrometer import at_the_top, between, over_salt
from curewatch.shop.salt_jar import BENCH_SALTS, keeps_rh_frac

RNG = np.random.default_rng(7)
NOISE = RNG.normal(0.0, 0.002, 200)
LEVEL = np.full(200, 0.5)


def test_sensors_within_what_both_may_be_off_by_are_within() -> None:
    found = between(LEVEL + 0.02 + NOISE, LEVEL, 0.035)
    assert found.says == "within"
    assert found.middle == pytest.approx(0.02, abs=0.001)


def test_sensors_further_apart_are_apart_and_drifting_ones_drift() -> None:
    assert between(LEVEL + 0.06 + NOISE, LEVEL, 0.035).says == "apart"
    step = np.where(np.arange(200) < 100, 0.0, 0.06)
    assert between(LEVEL + step + NOISE, LEVEL, 0.025).says == "drifting"


def test_hours_that_only_one_has_do_not_count() -> None:
    ours = LEVEL.copy()
    ours[: 200 - 10] = np.nan
    found = between(ours, LEVEL, 0.035)
    assert (found.count, found.middle, found.says) == (10, None, "unknown")


@pytest.mark.parametrize("salt", BENCH_SALTS)
def test_a_sensor_over_a_salt_is_off_or_within(salt: str) -> None:
    keeps = keeps_rh_frac(salt, 25.0)
    assert keeps is not None
    assert over_salt(salt, keeps + NOISE, 25.0, 0.025).says == "within"
    high = over_salt(salt, keeps + 0.05 + NOISE, 25.0, 0.025)
    assert high.says == "off"
    assert high.middle == pytest.approx(0.05, abs=0.001)


def test_a_salt_is_read_only_where_its_table_is() -> None:
    for temp_c in (9.0, 36.0, float("nan")):
        assert over_salt("table", LEVEL, temp_c, 0.025).says == "unknown"
    assert over_salt("table", LEVEL[:5], 25.0, 0.025).says == "unknown"


def test_a_sensor_that_reads_low_in_damp_air_only_is_seen() -> None:
    damp = np.concatenate((np.full(60, 0.45), np.full(60, 0.80)))
    noise = NOISE[:120]
    poisoned = np.where(damp > 0.7, damp - 0.07, damp) + noise
    found = at_the_top(poisoned, damp, 0.035)
    assert found.says == "low at the top"
    assert found.lost == pytest.approx(0.07, abs=0.002)
    assert at_the_top(damp - 0.07 + noise, damp, 0.035).says == "even"  # low everywhere


def test_without_damp_hours_nothing_is_said_of_the_top() -> None:
    assert at_the_top(LEVEL - 0.05, LEVEL, 0.035).says == "unknown"
    wet = np.full(200, 0.8)
    assert at_the_top(wet - 0.05, wet, 0.035).says == "unknown"
