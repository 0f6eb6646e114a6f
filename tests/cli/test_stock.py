"""Stock: entered, moved, used up; what froze is told on stock, pots and coats."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from tests.cli.conftest import Curewatch, StoresClimate


@pytest.fixture
def cold_night(curewatch: Curewatch, climate: StoresClimate) -> Curewatch:
    """Give a spray room at 15 degC that was at -3 degC for six hours twenty days ago."""
    climate("spray", days=30.0, temp_c=lambda h: -3.0 if 240.0 <= h < 246.0 else 15.0)
    climate("drying", days=30.0)
    return curewatch


def add(curewatch: Curewatch, *more: str) -> None:
    curewatch(
        *("stock", "add", "waterborne-crosslinked", "--lot", "L7", "--room", "spray"),
        *("--at", "29d ago"),
        *more,
    )


def test_a_can_that_froze_is_told_with_its_hours_and_the_sensors_error(
    cold_night: Curewatch,
) -> None:
    said = cold_night(
        *("stock", "add", "waterborne", "--lot", "L7", "--room", "spray", "--at", "29d ago"),
        *("--opened", "28d ago", "--keep-until", "2026-03-01", "--note", "5 l"),
    )
    assert said.narrow()
    assert "waterborne, lot L7: in spray from" in said.flat
    assert "The air of spray was below freezing for" in said.flat
    assert "coldest -3.0 °C" in said.flat
    assert "taken to be ruined (common practice)" in said.flat
    assert "Past its date: keep until 2026-03-01." in said.flat
    listed = cold_night("stock", "list")
    assert listed.narrow()
    assert "below freezing" in listed.flat
    (lot,) = cold_night("stock", "list", "--json").plain["stock"]
    assert {fault["side"] for fault in lot["faults"]} == {"frozen", "cold"}
    frozen = next(fault for fault in lot["faults"] if fault["side"] == "frozen")
    assert frozen["hours"] == pytest.approx(6.0, abs=0.2)
    assert (frozen["worst_c"], frozen["sure"], lot["past_keep"]) == (-3.0, True, True)


def test_a_can_that_stood_elsewhere_that_night_has_nothing_to_tell(cold_night: Curewatch) -> None:
    cold_night(
        *("stock", "add", "waterborne", "--lot", "L7", "--room", "drying", "--at", "29d ago")
    )
    moved = cold_night("stock", "move", "--lot", "l7", "--room", "spray", "--at", "2d ago")
    assert "in spray from" in moved.flat
    assert "freezing" not in cold_night("stock", "list").flat
    gone = cold_night("stock", "gone", "--lot", "L7", "--json").plain
    assert (gone["room"], gone["faults"]) == (None, [])
    assert "No stock is entered" in cold_night("stock", "list").flat
    assert "gone today" in cold_night("stock", "list", "--gone").flat
    voided = cold_night("stock", "void", str(gone["number"]), "--why", "other can")
    assert "no longer counts: other can" in voided.flat
    assert "L7" in cold_night("stock", "list").flat
    assert cold_night("stock", "void", "1", "--why", "x", "--json").plain["voided"]["id"] == 1


def test_pots_and_coats_from_a_lot_say_what_was_wrong_with_it(cold_night: Curewatch) -> None:
    add(cold_night)
    cold_night(
        *("stock", "add", "waterborne-crosslinked", "--lot", "C3", "--part", "crosslinker"),
        *("--room", "drying", "--at", "29d ago", "--keep-until", "2026-02-01"),
    )
    mixed = cold_night(
        *("pot", "mix", "P1", "--finish", "waterborne-crosslinked", "--lot", "l7"),
        *("--crosslinker-lot", "c3", "--room", "spray"),
    )
    assert mixed.narrow()
    assert "Lot l7: The air of spray was below freezing" in mixed.flat
    assert "Lot C3 was past its date (2026-02-01) when the pot was mixed." in mixed.flat
    cold_night(
        *("piece", "hang", "W1", "--finish", "waterborne-crosslinked", "--room", "drying"),
        *("--at", "1d ago"),
    )
    assert "below freezing" in cold_night("coat", "W1", "--pot", "P1").flat
    assert "below freezing" in cold_night("pot", "show", "P1").flat
    assert len(cold_night("pot", "show", "P1", "--json").plain["remarks"]) == 3


def test_a_lot_that_stood_warm_or_just_cool_is_told_too(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate("spray", days=3.0, temp_c=33.0)
    climate("drying", days=3.0, temp_c=5.1)
    add(curewatch)
    warm = curewatch("stock", "list")
    assert "spray was over its 30.0 °C for 3" in warm.flat
    assert "hottest 33.0 °C" in warm.flat
    curewatch("stock", "add", "waterborne", "--lot", "L8", "--room", "drying", "--at", "2d ago")
    assert "drying may have been under its 5.0 °C" in curewatch("stock", "list").flat


def test_what_cannot_be_in_stock_says_why(cold_night: Curewatch) -> None:
    add(cold_night)
    adding = ("stock", "add", "waterborne", "--lot", "L8", "--room", "spray")
    assert "no finish" in cold_night(*adding[:2], "varnissh", *adding[3:], status=2).complaint
    assert "no room" in cold_night(*adding[:-1], "attic", status=2).complaint
    assert "write the day as 2026-08-31" in (
        cold_night(*adding, "--keep-until", "soon", status=2).complaint
    )
    again = ("stock", "add", "waterborne-crosslinked", "--lot", "l7", "--room", "spray")
    assert "is entered already" in cold_night(*again, status=2).complaint
    assert "no lot 'L9'" in cold_night("stock", "gone", "--lot", "L9", status=2).complaint


def test_hours_that_nobody_measured_are_said(curewatch: Curewatch, climate: StoresClimate) -> None:
    climate("drying", days=1.0)
    add = ("stock", "add", "waterborne", "--lot", "L9", "--room", "drying")
    curewatch(*add, "--at", "2d ago")
    assert "lot L9: for 24 h no reading tells what it stood in" in curewatch("stock", "list").flat
    (row,) = curewatch("stock", "list", "--json").plain["stock"]
    assert row["unseen_hours"] == pytest.approx(24.0, abs=0.1)
    curewatch("stock", "move", "--lot", "L9", "--room", "spray", "--at", "1h ago")
    assert "for 25 h no reading" in curewatch("stock", "list").flat


def test_a_lot_that_was_always_heard_has_no_such_word(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate("drying", days=3.0)
    curewatch("stock", "add", "waterborne", "--lot", "L9", "--room", "drying", "--at", "2d ago")
    assert "no reading tells" not in curewatch("stock", "list").flat
