"""What a day was worth month by month, against hand-worked rates."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from curewatch.science.saturation import water_pressure_pa
from curewatch.shop.hourly import HOUR_MS, Hours
from curewatch.shop.room import Room
from curewatch.shop.seasons import Seasons, seasons
from curewatch.shop.words import Words
from tests.shop.scene import T0_MS, finish

LOFT = Room("loft")
FIRST = T0_MS // HOUR_MS  # 15 November 2023, midnight
NOVEMBER_H, DECEMBER_H, JANUARY_H = 16 * 24, 31 * 24, 31 * 24


def year(*stretches: tuple[int, float | None], name: str = "nitro-lacquer") -> Seasons:
    """Return the seasons of a room that kept so many hours at each temperature, at 50 %."""
    temp = np.concatenate(
        [np.full(hours, np.nan if value is None else value) for hours, value in stretches]
    )
    record = Hours(FIRST, temp, 0.5 * water_pressure_pa(temp), np.full(temp.shape, np.nan))
    return seasons(record, finish(name), LOFT, Words())


def test_a_cold_month_takes_as_much_longer_as_the_law_says() -> None:
    found = year((NOVEMBER_H, 21.0), (DECEMBER_H, 18.0), (240, 15.0))
    assert [month.name for month in found.months] == ["2023-11", "2023-12", "2024-01"]
    best, slower = found.best, found.slower
    assert best is not None
    assert slower is not None
    assert best.name == "2023-11"
    assert best.day_h is not None
    assert best.day_h.likely == pytest.approx(24.0, abs=0.01)
    for ea, factor in ((40e3, slower.low), (65e3, slower.likely), (90e3, slower.high)):
        by_hand = np.exp(ea / 8.314462618 * (1.0 / 288.15 - 1.0 / 294.15))
        assert factor == pytest.approx(by_hand, rel=1e-6)
    assert "x1.4 to x2.2" in found.sentence


def test_a_month_hardly_measured_is_not_told() -> None:
    found = year((NOVEMBER_H, None), (DECEMBER_H, 18.0), (240, 15.0))
    assert found.months[0].day_h is None
    assert found.months[0].temp_c is None
    assert found.months[0].rh_frac is None
    assert found.months[0].coverage_pct == 0.0
    assert found.best is not None
    assert found.best.name == "2023-12"


def test_where_now_is_no_slower_the_air_is_not_blamed() -> None:
    found = year((NOVEMBER_H, 15.0), (240, 21.0))
    assert "the air is not why" in found.sentence


def test_no_comparison_without_now_without_a_past_and_without_a_clock() -> None:
    assert "newest month" in year((NOVEMBER_H, 21.0), (240, None)).sentence
    assert "newest month" in year((NOVEMBER_H, None)).sentence
    assert "no earlier month" in year((NOVEMBER_H, 21.0)).sentence
    dose = year((NOVEMBER_H, 21.0), (240, 15.0), name="dose-cured")
    assert dose.sentence == "No clock answers for this finish."
    assert all(month.day_h is None for month in dose.months)
    assert dose.months[0].coverage_pct == 100.0


def test_a_month_that_earns_nothing_has_no_factor() -> None:
    frozen = year((NOVEMBER_H, 21.0), (240, -15.0))
    assert frozen.slower is None
    assert "earned nothing" in frozen.sentence


def test_months_are_those_of_the_shops_own_wall_clock() -> None:
    from zoneinfo import ZoneInfo  # noqa: PLC0415 - only here

    temp = np.full(NOVEMBER_H, 21.0)
    record = Hours(FIRST, temp, 0.5 * water_pressure_pa(temp), np.full(temp.shape, np.nan))
    east = seasons(
        record, finish("nitro-lacquer"), LOFT, replace(Words(), zone=ZoneInfo("Asia/Tokyo"))
    )
    assert [month.name for month in east.months] == ["2023-11", "2023-12"]
    assert east.months[1].hours == 9
