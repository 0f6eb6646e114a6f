"""Sensors of one room against each other."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.shop.apart import HOUR_MS, STALE_MS, Apart, Beside, beside
from curewatch.shop.book import ClockBook
from curewatch.shop.budget import Bias
from curewatch.shop.reading import Quantity

if TYPE_CHECKING:
    from curewatch.shop.climate import Series

HUMIDITY, TEMPERATURE = Quantity.HUMIDITY, Quantity.TEMPERATURE
NOW = 500_000 * HOUR_MS


def steady(level: float, *, every_min: int = 10, until_ms: int = NOW) -> Series:
    times = np.arange(until_ms - 5 * HOUR_MS, until_ms + 1, every_min * 60_000, dtype=np.int64)
    return times, np.full(times.shape, level)


def budgets(name: str, quantity: Quantity, rh_frac: float | None) -> float:
    assert (rh_frac is None) == (quantity is TEMPERATURE)
    assert name
    return 0.03 if quantity is HUMIDITY else 0.3


def look(series: dict[tuple[str, Quantity], Series]) -> Beside:
    return beside(series, until_ms=NOW, longest_gap_s=1800.0, budgets=budgets)


def test_sensors_within_twice_what_both_may_be_off_are_not_apart() -> None:
    near = look({("a", HUMIDITY): steady(0.50), ("b", HUMIDITY): steady(0.58)})
    assert near.apart == ()
    (far,) = look({("a", HUMIDITY): steady(0.50), ("b", HUMIDITY): steady(0.59)}).apart
    assert (far.sensor, far.other) == ("a", "b")
    assert far.middle == pytest.approx(-0.09)
    assert far.allowed == pytest.approx(0.0849, abs=1e-4)


def test_every_pair_of_each_quantity_is_looked_at() -> None:
    series = {
        (name, TEMPERATURE): steady(at) for name, at in (("a", 20.0), ("b", 20.1), ("c", 23.0))
    }
    assert [(p.sensor, p.other) for p in look(series).apart] == [("a", "c"), ("b", "c")]


def test_a_probe_on_a_piece_is_not_compared_with_the_air() -> None:
    found = look(
        {("a", TEMPERATURE): steady(20.0), ("b", Quantity.SURFACE_TEMPERATURE): steady(9.0)}
    )
    assert found.apart == ()


def test_silent_hours_say_nothing() -> None:
    late = steady(0.9, until_ms=NOW - 3 * HOUR_MS)
    assert look({("a", HUMIDITY): steady(0.5), ("b", HUMIDITY): late}).apart == ()
    rare = steady(0.9, every_min=60)
    assert look({("a", HUMIDITY): steady(0.5), ("b", HUMIDITY): rare}).apart == ()
    none = np.zeros(0, dtype=np.int64), np.zeros(0)
    assert look({("a", HUMIDITY): steady(0.5), ("b", HUMIDITY): none}).apart == ()


def test_a_sensor_saturated_for_hours_is_flooded() -> None:
    assert look({("a", HUMIDITY): steady(0.99), ("b", HUMIDITY): steady(0.97)}).flooded == ("a",)
    times, values = steady(0.99)
    dry = values.copy()
    dry[-3] = 0.9
    assert look({("a", HUMIDITY): (times, dry)}).flooded == ()


PAIRS = (
    Apart("a", "b", HUMIDITY, -0.09, 0.085),
    Apart("a", "b", TEMPERATURE, 3.0, 0.85),
)


def test_while_sensors_disagree_the_room_is_as_doubtful_as_half_of_it() -> None:
    book = ClockBook({"loft": Bias(0.3, 0.03)})
    book.beside["loft"] = Beside(NOW, PAIRS)
    assert book.bias("loft", NOW) == Bias(1.5, 0.045)
    assert book.bias("loft", NOW + STALE_MS + 1) == Bias(0.3, 0.03)
    assert book.bias("loft", NOW - 1) == Bias(0.3, 0.03)
    assert book.bias("loft") == Bias(0.3, 0.03)
    assert book.bias("shed", NOW) == Bias()


@given(st.floats(0.0, 5.0), st.floats(0.0, 0.2))
def test_disagreement_never_narrows_a_doubt(temp_k: float, rh_frac: float) -> None:
    wide = Beside(NOW, PAIRS).widened(Bias(temp_k, rh_frac))
    assert wide.temp_k >= temp_k
    assert wide.rh_frac >= rh_frac
