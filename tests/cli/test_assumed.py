"""Hours that rest on a fill: every face says how many they are, and on whose word."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.cli.conftest import HOUR_MS, NOW_MS

if TYPE_CHECKING:
    from tests.cli.conftest import Curewatch, StoresClimate

WHY = "the heating ran as ever"


@pytest.fixture
def filled(curewatch: Curewatch, climate: StoresClimate) -> Curewatch:
    """Hang a piece whose room was silent from its second to its eighth day, and was filled."""
    climate("drying", days=2.0, until_ms=NOW_MS - 8 * 24 * HOUR_MS)
    climate("drying", days=2.0)
    curewatch("piece", "hang", "A1", "--finish", "waterborne", "--room", "drying", "--at", "9d ago")
    curewatch("coat", "A1", "--at", "8d 6h ago", "--no-pot")
    curewatch("piece", "done", "A1")
    curewatch(
        *("room", "fill", "drying", "--from", "8d ago", "--to", "2d ago"),
        *("--temp-c", "21", "--rh-pct", "50", "--why", WHY),
    )
    return curewatch


def test_hours_on_a_fill_are_told_beside_the_hours(filled: Curewatch) -> None:
    found = filled("piece", "show", "A1", "--json").plain
    cure = found["clocks"]["cure"]
    assert cure["filled_hours"] == pytest.approx(144.0, rel=0.05)
    assert cure["effective_hours"] == pytest.approx(198.0, rel=0.05)
    assert cure["covered_hours"] == pytest.approx(54.0, abs=1.0)
    assert found["coverage_pct"] == pytest.approx(100.0 * 54.0 / 198.0, abs=1.0)
    assert found["fills"] == [{"id": 1, "room": "drying", "why": WHY}]
    assert found["standing"]["clocks.cure.filled_hours"]["standing"] == "typed"


@pytest.mark.parametrize(
    "words", [("status",), ("piece", "show", "A1"), ("piece", "list"), ("bench-list",)]
)
def test_every_face_says_that_a_fill_decides(filled: Curewatch, words: tuple[str, ...]) -> None:
    said = filled(*words).flat
    assert "rest on a fill" in said
    assert WHY.split(maxsplit=1)[0] in said
    if words[0] != "bench-list" and words[1:] != ("list",):
        assert f"(number 1: {WHY}): the readings alone do not make it ready" in said
    assert "Readings cover 100 %" not in said


def test_without_a_fill_nothing_is_said(curewatch: Curewatch, climate: StoresClimate) -> None:
    climate("drying", days=10.0)
    curewatch("piece", "hang", "A1", "--finish", "waterborne", "--room", "drying", "--at", "9d ago")
    curewatch("coat", "A1", "--at", "8d ago", "--no-pot")
    found = curewatch("piece", "show", "A1", "--json").plain
    assert (found["clocks"]["cure"]["filled_hours"], found["fills"]) == (0.0, [])
    assert "rest on" not in found["sentence"]


def test_a_room_filled_in_is_not_covered_by_readings(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate("drying", days=2.0, until_ms=NOW_MS - 13 * HOUR_MS)
    climate("drying", days=1.0 / 24.0)
    curewatch(
        *("room", "fill", "drying", "--from", "13h ago", "--to", "1h ago"),
        *("--temp-c", "21", "--rh-pct", "50", "--why", WHY),
    )
    found = curewatch("room", "show", "drying", "--json").plain
    assert found["coverage_24h_pct"] == pytest.approx(50.0, abs=1.0)
