"""Holds: on a lot, a pot, a piece; listed, released; what a held piece says."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from tests.cli.conftest import Curewatch, StoresClimate


@pytest.fixture
def sprayed(curewatch: Curewatch, climate: StoresClimate) -> Curewatch:
    """Give a shop with A1 and A2 sprayed from pots P1 and P2 of lot L7, and A3 from none."""
    climate(days=20.0)
    hang = ("--finish", "acid-cure", "--room", "drying", "--at", "19d ago", "--coats", "1")
    curewatch("piece", "hang", "A1", "A2", "A3", *hang)
    for pot, tag in (("P1", "A1"), ("P2", "A2")):
        curewatch(
            *("pot", "mix", pot, "--finish", "acid-cure", "--lot", "L7", "--at", "18d 1h ago"),
            *("--room", "drying", "--crosslinker-lot", "C3"),
        )
        curewatch("coat", tag, "--pot", pot, "--at", "18d ago")
    curewatch("coat", "A3", "--at", "18d ago", "--no-pot")
    return curewatch


def test_a_lot_holds_every_piece_sprayed_from_it_until_it_is_released(
    sprayed: Curewatch,
) -> None:
    before = sprayed("piece", "show", "A1").flat
    assert "Ready to" in before
    said = sprayed("quarantine", "lot", "l7", "--why", "froze in the van", "--who", "ann")
    assert said.narrow()
    assert "Lot L7 is held from today 12:00 on (number 1). It touches A1 and A2." in said.flat
    shown = sprayed("piece", "show", "A1")
    assert "Set aside: lot L7: froze in the van. By its clocks alone: Ready to" in shown.flat
    assert "Do no more work on it, and hand nothing over" in shown.flat
    assert "Set aside:" not in sprayed("piece", "show", "A3").flat
    plain = sprayed("piece", "list", "--json").plain["pieces"]
    assert [piece["held"] for piece in plain] == [*["lot L7: froze in the van"] * 2, None]
    listed = sprayed("quarantine", "list")
    assert listed.narrow()
    assert "froze in the van (ann)" in listed.flat
    worked = sprayed("work", "A1", "dry-sand")
    assert "But it is held: lot L7: froze in the van. Logged all the same; no more" in worked.flat
    assert "It was ready" not in worked.flat
    (plain_work,) = sprayed("work", "A1", "A3", "scuff", "--json").plain["work"][:1]
    assert plain_work["held"] == "lot L7: froze in the van"
    free = sprayed("quarantine", "release", "1", "--why", "panel is clear", "--who", "bo")
    assert "Free of it are A1 and A2." in free.flat
    assert "Set aside:" not in sprayed("piece", "show", "A1").flat
    assert "Nothing is held." in sprayed("quarantine", "list").flat
    (hold,) = sprayed("quarantine", "list", "--all", "--json").plain["holds"]
    assert (hold["released_why"], hold["released_by"], hold["pieces"]) == (
        *("panel is clear", "bo", ["A1", "A2"]),
    )
    assert "panel is clear" in sprayed("quarantine", "list", "--all").flat
    entries = sprayed("piece", "history", "A1", "--json").plain["entries"]
    told = {entry["what"]: entry["facts"] for entry in entries}
    assert (told["hold"]["why"], told["hold"]["who"]) == ("froze in the van", "ann")
    assert (told["release"]["why"], told["release"]["who"]) == ("panel is clear", "bo")


def test_a_part_of_a_pot_a_pot_and_a_piece_can_be_held(sprayed: Curewatch) -> None:
    assert sprayed("quarantine", "lot", "C3", "--why", "old", "--json").plain["pieces"] == [
        *("A1", "A2"),
    ]
    assert sprayed("quarantine", "pot", "p2", "--why", "thick", "--json").plain["pieces"] == ["A2"]
    sprayed("piece", "leave", "A3")
    held = sprayed("quarantine", "piece", "a3", "--why", "crazed", "--json").plain
    assert (held["what"], held["target"], held["pieces"]) == (
        *("piece", "A3", ["A3 (left the shop)"]),
    )
    assert "old; pot P2: thick" in sprayed("piece", "show", "A2").flat
    assert sprayed("quarantine", "release", "2", "--why", "fine", "--json").plain["pieces"] == [
        "A2"
    ]


def test_what_cannot_be_held_or_released_says_why(sprayed: Curewatch) -> None:
    why = ("--why", "x")
    assert "no pot and no stock has the lot 'L9'" in (
        sprayed("quarantine", "lot", "L9", *why, status=2).complaint
    )
    assert "no pot 'P9'" in sprayed("quarantine", "pot", "P9", *why, status=2).complaint
    assert "no piece" in sprayed("quarantine", "piece", "Z9", *why, status=2).complaint
    assert (
        "no hold with number 7" in sprayed("quarantine", "release", "7", *why, status=2).complaint
    )
    assert "needs a reason" in sprayed("quarantine", "lot", "L7", "--why", "", status=2).complaint


def test_a_lot_in_stock_can_be_held_before_anything_was_sprayed(sprayed: Curewatch) -> None:
    sprayed("stock", "add", "acid-cure", "--lot", "L8", "--room", "spray")
    assert "It touches no piece yet." in sprayed("quarantine", "lot", "L8", "--why", "dented").flat
    assert "It touched no piece." in sprayed("quarantine", "release", "1", "--why", "fine").flat


def test_a_pot_mixed_from_a_held_lot_says_so_at_once_and_wherever_it_is_told(
    sprayed: Curewatch,
) -> None:
    sprayed("quarantine", "lot", "C3", "--why", "froze in the van")
    new = ("--finish", "acid-cure", "--crosslinker-lot", "c3", "--room", "drying")
    mixed = sprayed("pot", "mix", "P3", *new, "--lot", "L9")
    aside = "Set aside: lot C3: froze in the van. Do not spray from it until it is released:"
    assert mixed.narrow()
    assert 0 < mixed.flat.index(aside) < mixed.flat.index("It lives until")
    assert sprayed("pot", "mix", "P4", *new, "--lot", "L9", "--json").plain["held"] == (
        "lot C3: froze in the van"
    )
    sprayed("pot", "mix", "P5", "--finish", "acid-cure", "--lot", "L9", "--room", "drying")
    shown = sprayed("pot", "show", "P3")
    assert 0 < shown.flat.index(aside) < shown.flat.index("It lives until")
    assert sprayed("pot", "show", "P3", "--json").plain["held"] == "lot C3: froze in the van"
    assert "Set aside" not in sprayed("pot", "show", "P5").flat
    listed = sprayed("pot", "list")
    assert f"P3: {aside}" in listed.flat
    assert "P5: Set aside" not in listed.flat
    held = {pot["pot"]: pot["held"] for pot in sprayed("pot", "list", "--json").plain["pots"]}
    assert held["P3"] == held["P4"] == "lot C3: froze in the van"
    assert held["P5"] is None


def test_a_held_lot_is_marked_in_the_stock(sprayed: Curewatch) -> None:
    for lot in ("L7", "L8"):
        sprayed("stock", "add", "acid-cure", "--lot", lot, "--room", "spray")
    sprayed("quarantine", "lot", "l7", "--why", "froze in the van")
    listed = sprayed("stock", "list")
    assert "acid-cure, lot L7: Set aside: lot L7: froze in the van. Do not spray" in listed.flat
    assert "spray, set aside" in listed.flat
    assert "lot L8: Set aside" not in listed.flat
    rows = sprayed("stock", "list", "--json").plain["stock"]
    assert {row["lot"]: row["held"] for row in rows} == {
        "L7": "lot L7: froze in the van",
        "L8": None,
    }


def test_status_lists_a_held_piece_as_set_aside_and_not_as_ready(sprayed: Curewatch) -> None:
    assert "SET ASIDE" not in sprayed("status").flat
    sprayed("quarantine", "piece", "A1", "--why", "crazed")
    ready, _, aside = sprayed("status").flat.partition("SET ASIDE")
    assert "A1: 1" not in ready
    assert "A1: 1" in aside
    assert "A2: 1" in ready
    assert sprayed("status", "--json").plain["bench_list"][-1] == "A1"
