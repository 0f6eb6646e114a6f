"""Checks of a sensor, and the corrections made of them."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.science.salts import kept_rh_frac
from curewatch.shop.calibration import (
    DAY_MS,
    NEW,
    Check,
    Correction,
    corrected,
    corrections,
    rebuilt,
    ruling,
)
from curewatch.shop.reading import Quantity

HUMIDITY, TEMPERATURE = Quantity.HUMIDITY, Quantity.TEMPERATURE
NOON = 100 * DAY_MS
KEY = ("h1", HUMIDITY)


def salt(against: str, reference: float, read: float, *, at_ms: int = NOON) -> Check:
    return Check("h1", HUMIDITY, against, reference, 0.008, read, 0.002, 20.0, at_ms, at_ms, at_ms)


TABLE = salt("table", 0.755, 0.71)
MAGNESIUM = salt("magnesium", 0.331, 0.35, at_ms=NOON + DAY_MS)


def made(*checks: Check) -> tuple[Correction, ...]:
    return corrections(checks)[checks[0].sensor, checks[0].quantity]


def one(values: list[float], *checks: Check) -> list[float]:
    return [float(v) for v in made(*checks)[-1].apply(np.array(values), checks[0].quantity)]


def test_a_two_point_correction_comes_out_as_worked_by_hand() -> None:
    # At 20 degC sodium chloride keeps 75.5164 + 0.796642 - 1.061836 + 0.22784 = 75.4790 points and
    # magnesium chloride 33.6686 - 0.159479 - 0.435952 = 33.0732. A sensor that says 71.0 and 35.0
    # there is 4.4790 low and 1.9268 high. Half-way, at 53.0, that is (4.4790 - 1.9268) / 2 = 1.2761
    # low; a quarter up, at 44.0, (3 * -1.9268 + 4.4790) / 4 = 0.32535 high; beyond, as at the ends.
    keeps = [float(kept_rh_frac(formula, 20.0)) for formula in ("NaCl", "MgCl2")]
    assert keeps == pytest.approx([0.754790, 0.330732], abs=1e-6)
    checks = (salt("table", keeps[0], 0.71), salt("magnesium", keeps[1], 0.35))
    by_hand = [0.754790, 0.330732, 0.542761, 0.4367465, 0.944790, 0.180732]
    assert one([0.71, 0.35, 0.53, 0.44, 0.90, 0.20], *checks) == pytest.approx(by_hand, abs=1e-6)


def test_one_salt_gives_an_offset() -> None:
    assert one([0.30, 0.71], TABLE) == pytest.approx([0.345, 0.755])


def test_humidity_stays_between_nought_and_saturation() -> None:
    assert one([0.99], TABLE) == [1.0]
    assert one([0.01], MAGNESIUM) == [0.0]


def test_each_correction_holds_from_its_own_instant_on() -> None:
    times = np.array([NOON - 1, NOON, NOON + DAY_MS - 1, NOON + DAY_MS], dtype=np.int64)
    values = np.full(4, 0.35)
    found = corrected((times, values), HUMIDITY, made(TABLE, MAGNESIUM))
    assert found[1] == pytest.approx([0.35, 0.395, 0.395, 0.331])
    assert np.all(values == 0.35)  # what was said stays as it was said


def test_nothing_before_the_first_check_is_touched() -> None:
    series = np.array([1, 2], dtype=np.int64), np.array([0.4, 0.5])
    assert corrected(series, HUMIDITY, made(TABLE)) is series
    assert corrected(series, HUMIDITY, ()) is series


def test_salts_of_different_months_draw_no_line() -> None:
    late = salt("magnesium", 0.331, 0.35, at_ms=NOON + 31 * DAY_MS)
    assert not made(TABLE, late)[-1].two_points
    assert made(TABLE, MAGNESIUM)[-1].two_points


def test_salts_too_near_to_one_another_draw_no_line() -> None:
    near = salt("potassium", 0.851, 0.80, at_ms=NOON + DAY_MS)
    assert made(TABLE, near)[-1].shifts == pytest.approx((0.051,))


def test_a_third_salt_between_two_bends_the_line() -> None:
    middle = salt("carbonate", 0.432, 0.45, at_ms=NOON + DAY_MS)
    assert one([0.45], TABLE, MAGNESIUM, middle) == pytest.approx([0.432])
    assert one([0.40], TABLE, MAGNESIUM, middle) == pytest.approx([0.3815])


def test_the_same_salt_again_replaces_the_earlier_check() -> None:
    again = salt("table", 0.755, 0.73, at_ms=NOON + 2 * DAY_MS)
    assert one([0.73], TABLE, MAGNESIUM, again) == pytest.approx([0.755])


@pytest.mark.parametrize("read", [0.65, 0.86])
def test_a_sensor_too_far_off_is_to_be_replaced_and_not_corrected(read: float) -> None:
    found = made(salt("table", 0.755, read))[-1]
    assert "no more than 10 points" in found.replace
    assert found.reads == ()
    assert found.apply(np.array([0.5]), HUMIDITY)[0] == 0.5


def test_one_that_lost_its_span_is_to_be_replaced() -> None:
    found = made(salt("table", 0.755, 0.66), salt("magnesium", 0.331, 0.42))[-1]
    assert "57 % of the difference" in found.replace


def test_one_that_reads_backwards_is_to_be_replaced() -> None:
    found = made(salt("table", 0.62, 0.53), salt("magnesium", 0.36, 0.44), salt("mid", 0.45, 0.55))
    assert "of the difference" in found[-1].replace


def test_a_thermometer_is_shifted_by_its_newest_check() -> None:
    first = Check("t1", TEMPERATURE, "thermometer", 20.0, 0.1, 20.6, 0.05, None, NOON, NOON, NOON)
    later = replace(first, reference=25.0, read=25.4, stop_ms=NOON + 5, from_ms=NOON + 5)
    assert one([20.0], first, later) == pytest.approx([19.6])
    far = replace(first, read=22.1)
    assert "no more than 2 K" in made(far)[-1].replace


def test_the_correction_that_holds_is_the_latest_begun() -> None:
    known = made(TABLE, MAGNESIUM)
    assert ruling(known, NOON - 1) is None
    assert ruling(known, NOON + DAY_MS) is known[-1]


def test_what_was_read_in_a_jar_is_no_rooms_air() -> None:
    series = np.arange(4, dtype=np.int64), np.full(4, 0.5)
    found = rebuilt({KEY: series}, {}, {"h1": [(1, 3)]})
    assert list(found[KEY][0]) == [0, 3]
    assert rebuilt({KEY: series}, {}, {"h1": [(0, 9)]}) == {}
    assert rebuilt({KEY: series}, {}, {"h1": [(7, 9)]})[KEY] is series
    nothing = np.zeros(0, dtype=np.int64), np.zeros(0)
    assert rebuilt({KEY: nothing}, {}, {"h1": [(7, 9)]})[KEY] is nothing


frac = st.floats(0.0, 1.0)


@given(st.lists(frac, min_size=2, max_size=20), st.floats(-0.09, 0.09), st.floats(-0.04, 0.04))
def test_a_correction_keeps_the_order_of_what_was_read(
    values: list[float], high: float, low: float
) -> None:
    found = one(sorted(values), salt("table", 0.755, 0.755 - high), salt("m", 0.331, 0.331 - low))
    assert all(a <= b + 1e-12 for a, b in pairwise(found))


@given(st.lists(frac, min_size=1, max_size=20), st.floats(-0.09, 0.09), st.floats(-0.09, 0.09))
def test_nothing_is_corrected_by_more_than_was_checked(
    values: list[float], high: float, low: float
) -> None:
    checks = salt("table", 0.755, 0.755 - high), salt("m", 0.331, 0.331 - low)
    most = max(abs(high), abs(low)) + 1e-9
    assert all(abs(a - b) <= most for a, b in zip(values, one(values, *checks), strict=True))


@given(st.permutations([TABLE, MAGNESIUM, salt("table", 0.755, 0.72, at_ms=NOON + 5)]))
def test_the_order_in_which_checks_are_known_does_not_matter(checks: list[Check]) -> None:
    numbered = [replace(check, id=round(1000 * check.read)) for check in checks]
    assert corrections(numbered)[KEY] == corrections(sorted(numbered, key=lambda c: c.id))[KEY]


def test_a_new_sensor_of_the_same_name_starts_without_correction() -> None:
    new = replace(TABLE, against=NEW, stop_ms=NOON + 3 * DAY_MS, from_ms=NOON + 3 * DAY_MS)
    after = salt("magnesium", 0.331, 0.34, at_ms=NOON + 4 * DAY_MS)
    found = made(TABLE, new, after)
    assert (found[1].reads, found[1].checks, found[1].off) == ((), (), 0.0)
    assert found[2].shifts == pytest.approx((-0.009,))
