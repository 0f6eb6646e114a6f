"""The bench list as a command."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tests.cli.conftest import Curewatch, StoresClimate


def hang(curewatch: Curewatch, tag: str, finish: str, coats: str, *at: str) -> None:
    words = ("--finish", finish, "--room", "drying", "--coats", coats, "--at", "2026-02-19T06:00")
    curewatch("piece", "hang", tag, *words)
    for when in at:
        curewatch("coat", tag, "--at", when)


def test_an_empty_shop_says_so(curewatch: Curewatch) -> None:
    assert "No piece hangs in the shop." in curewatch("bench-list").flat


def test_the_groups_stand_in_the_order_of_work_and_fit_a_plain_terminal(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate("drying", days=20.0)
    hang(curewatch, "B12", "waterborne", "6", "2026-03-05T06:00")
    hang(curewatch, "OLD", "waterborne", "1", "2026-02-20T06:00")
    hang(curewatch, "FRESH", "waterborne", "1", "2026-03-05T10:00")
    hang(curewatch, "BARE", "waterborne", "6")
    said = curewatch("bench-list")
    assert said.narrow()
    order = [said.flat.index(word) for word in ("Must be coated", "Ready now", "Coming", "Waiting")]
    assert order == sorted(order)
    assert "tomorrow " in said.flat
    assert "Set aside" not in said.flat
    told = curewatch("bench-list", "--json").plain
    assert [job["piece"] for job in told["due"]] == ["B12"]
    assert [job["piece"] for job in told["ready"]] == ["OLD"]
    assert [job["piece"] for job in told["coming"]] == ["FRESH"]
    assert [job["piece"] for job in told["waiting"]] == ["BARE"]
    expected = told["coming"][0]["expected"]
    assert expected["early"] < expected["likely"] < expected["late"] == told["coming"][0]["at"]


def test_a_piece_in_a_room_that_earns_nothing_waits(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate("drying", temp_c=2.0)
    hang(curewatch, "B12", "oil-varnish", "3", "2026-03-05T06:00")
    said = curewatch("bench-list")
    assert "Waiting:" in said.out
    assert "B12" in said.out
