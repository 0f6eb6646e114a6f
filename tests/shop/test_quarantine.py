"""Holds: which pieces they touch, and how a held piece is spoken of."""

from __future__ import annotations

from dataclasses import replace

import pytest

from curewatch.errors import BadInput
from curewatch.shop.assessment import assess_piece
from curewatch.shop.batch import Batch
from curewatch.shop.conditions import piece_conditions
from curewatch.shop.piece import Coat
from curewatch.shop.quarantine import (
    HELD_ACTION,
    Quarantine,
    aside_said,
    held,
    lot_held,
    pot_held,
)
from tests.shop.scene import at_h, finish, piece, shop_of, steady

POTS = (
    Batch("P1", "acid-cure", 1, "L7", at_h(0.0), crosslinker_lot="C3"),
    Batch("P2", "acid-cure", 1, "L8", at_h(0.0)),
)
FIRST = piece("acid-cure", [Coat(at_h(1.0), pot="P1"), Coat(at_h(5.0))], tag="A1")
SECOND = piece("acid-cure", [Coat(at_h(1.0), pot="P2")], tag="A2")
PLAIN = piece("acid-cure", [1.0], tag="A3")


def whys(*holds: Quarantine) -> dict[str, str]:
    return held(holds, [FIRST, SECOND, PLAIN], POTS)


def hold(what: str, target: str, why: str = "froze", at_hours: float = 9.0) -> Quarantine:
    assert what == "lot" or what == "batch" or what == "piece"  # noqa: PLR1714 - for the type
    return Quarantine(what, target, why, at_h(at_hours))


def test_without_holds_nothing_is_held() -> None:
    assert whys() == {}
    assert whys(replace(hold("piece", "A1"), released_ms=at_h(10.0))) == {}


def test_a_lot_holds_every_piece_with_it_in_any_part_of_a_pot() -> None:
    assert whys(hold("lot", "l7")) == {"A1": "lot l7: froze"}
    assert whys(hold("lot", "C3")) == {"A1": "lot C3: froze"}
    assert whys(hold("lot", "L9")) == {}


def test_a_pot_and_a_piece_hold_their_own() -> None:
    assert whys(hold("batch", "p2")) == {"A2": "pot p2: froze"}
    assert whys(hold("piece", "a3")) == {"A3": "froze"}


def test_several_holds_are_told_oldest_first() -> None:
    later = hold("piece", "A1", "dropped", at_hours=12.0)
    assert whys(later, hold("lot", "L7"))["A1"] == "lot L7: froze; dropped"


def test_a_pot_is_held_by_itself_and_by_each_of_its_lots() -> None:
    first, second = POTS
    assert pot_held([hold("batch", "p1")], first) == "pot p1: froze"
    assert pot_held([hold("lot", "l7")], first) == "lot l7: froze"
    assert pot_held([hold("lot", "c3")], first) == "lot c3: froze"
    others = [hold("batch", "P1"), hold("lot", "L7"), hold("lot", "C3"), hold("piece", "P2")]
    assert pot_held(others, second) is None


def test_a_lot_is_held_by_its_own_number_only_and_until_it_is_released() -> None:
    assert lot_held([hold("lot", "l7")], "L7") == "lot l7: froze"
    assert lot_held([hold("batch", "L7"), hold("piece", "L7"), hold("lot", "L8")], "L7") is None
    assert lot_held([replace(hold("lot", "L7"), released_ms=at_h(10.0))], "L7") is None


def test_several_holds_on_a_pot_are_told_oldest_first() -> None:
    later = hold("batch", "P1", "lumps", at_hours=12.0)
    assert pot_held([later, hold("lot", "L7")], POTS[0]) == "lot L7: froze; pot P1: lumps"


def test_what_is_set_aside_says_why_and_what_not_to_do() -> None:
    said = aside_said("lot L7: froze.")
    assert said.startswith("Set aside: lot L7: froze. Do not spray from it until it is released:")


def test_a_hold_names_its_target_and_its_reason() -> None:
    with pytest.raises(BadInput, match="which pot"):
        hold("batch", " ")
    with pytest.raises(BadInput, match="needs a reason"):
        hold("lot", "L7", "")


def test_a_held_piece_leads_with_the_hold_and_is_not_called_ready() -> None:
    done = piece("acid-cure", [0.0], planned=1)
    shop = shop_of({"loft": steady(40.0)}, finishes=[finish("acid-cure")], pieces=[done])
    free = assess_piece(shop, done, at_h(900.0))
    assert [c.kind for c in piece_conditions(free, done, at_h(900.0))] == ["ready-wet-sand"]
    shop.held = {done.tag: "lot L7: froze."}
    now = assess_piece(shop, done, at_h(900.0))
    assert now.held == "lot L7: froze."
    assert now.sentence == f"Set aside: lot L7: froze. By its clocks alone: {free.sentence}"
    assert now.next_action == HELD_ACTION
    assert now.milestones == free.milestones
    assert piece_conditions(now, done, at_h(900.0)) == []


def test_a_held_piece_is_not_called_for_its_next_coat() -> None:
    open_now = piece("waterborne", [0.0])
    shop = shop_of({"loft": steady(1.0)}, finishes=[finish("waterborne")], pieces=[open_now])
    free = assess_piece(shop, open_now, at_h(3.0))
    assert [c.kind for c in piece_conditions(free, open_now, at_h(3.0))] == ["recoat-open"]
    shop.held = {open_now.tag: "dropped"}
    now = assess_piece(shop, open_now, at_h(3.0))
    assert piece_conditions(now, open_now, at_h(3.0)) == []
