"""Joined pieces: whose parts they are, and which part a whole waits for."""

from __future__ import annotations

import pytest

from curewatch.errors import BadInput
from curewatch.shop.alert import AlertPhase
from curewatch.shop.assessment import assess_piece
from curewatch.shop.conditions import piece_conditions
from curewatch.shop.joining import Joining, check_joining, part_of, parts_of
from curewatch.shop.piece import Piece, Stay
from curewatch.shop.watch import Watch
from tests.shop.scene import T0_MS, at_h, finish, piece, shop_of, steady
from tests.shop.test_watch_against_plain import Scenario

NECK = Joining("NECK", "BODY", at_h(2.0), id=1)
HEAD = Joining("HEAD", "NECK", at_h(4.0), id=2)
BOTH = (HEAD, NECK)


def test_parts_of_parts_are_parts_from_their_joining_on() -> None:
    assert parts_of("BODY", BOTH) == ("NECK", "HEAD")
    assert parts_of("BODY", BOTH, at_h(3.0)) == ("NECK",)
    assert parts_of("BODY", BOTH, at_h(1.0)) == ()
    assert parts_of("HEAD", BOTH) == ()
    assert [part_of(tag, BOTH) for tag in ("HEAD", "NECK", "BODY")] == ["NECK", "BODY", None]
    assert part_of("HEAD", BOTH, at_h(3.0)) is None


def test_what_cannot_be_joined_is_refused() -> None:
    for part, onto, why in (
        ("NECK", "NECK", "to itself"),
        ("NECK", "HEAD", "joined to BODY already"),
        ("BODY", "HEAD", "itself a part of BODY"),
    ):
        with pytest.raises(BadInput, match=why):
            check_joining(Joining(part, onto, at_h(9.0)), BOTH)
    check_joining(Joining("TAIL", "BODY", at_h(9.0)), BOTH)


def made(tag: str, coat_h: float, name: str = "acid-cure", planned: int | None = 1) -> Piece:
    return piece(name, [coat_h], tag=tag, planned=planned)


def standing(*pieces: Piece, now_h: float) -> tuple[str | None, str, str]:
    """Return what holds BODY back at an hour, its sentence and the next job."""
    names = {one.finish for one in pieces}
    shop = shop_of({"loft": steady(60.0)}, finishes=map(finish, sorted(names)), pieces=pieces)
    shop.joinings = (NECK,)
    now = assess_piece(shop, pieces[0], at_h(now_h))
    assert now.parts == ("NECK",)
    return now.held_back_by, now.sentence, now.next_action


def test_a_whole_waits_for_the_part_that_is_ready_last() -> None:
    # acid-cure asks the same hours of both: the neck sprayed 200 h later is ready 200 h later
    body, neck = made("BODY", 0.0), made("NECK", 200.0)
    by, sentence, action = standing(body, neck, now_h=300.0)
    assert by == "NECK"
    assert sentence.startswith("Waits for NECK, joined to it. NECK: Not ready to wet-sand")
    assert "BODY itself: Ready to wet-sand" in sentence
    assert action.startswith("NECK: ")
    assert standing(body, neck, now_h=1200.0)[0] is None  # both are ready
    assert standing(made("BODY", 200.0), made("NECK", 0.0), now_h=300.0)[0] is None


def test_two_that_wait_wait_for_the_later() -> None:
    assert standing(made("BODY", 0.0), made("NECK", 20.0), now_h=30.0)[0] == "NECK"
    assert standing(made("BODY", 20.0), made("NECK", 0.0), now_h=30.0)[0] is None


def test_a_part_whose_room_is_not_heard_comes_last() -> None:
    lost = piece("acid-cure", [0.0], tag="NECK", stays=[Stay("shed", T0_MS)], planned=1)
    assert standing(made("BODY", 0.0), lost, now_h=300.0)[0] == "NECK"


def test_a_part_without_its_coats_comes_last() -> None:
    bare = Piece("NECK", "acid-cure", stays=(Stay("loft", T0_MS),))
    by, sentence, _ = standing(made("BODY", 0.0), bare, now_h=900.0)
    assert by == "NECK"
    assert "NECK: No coat is logged yet." in sentence
    assert standing(made("BODY", 0.0), made("NECK", 0.0, planned=2), now_h=900.0)[0] == "NECK"
    assert standing(made("BODY", 0.0), made("NECK", 0.0, planned=None), now_h=900.0)[0] is None


def test_nothing_is_held_back_by_what_no_clock_judges_or_while_coats_go_on() -> None:
    assert standing(made("BODY", 0.0), made("NECK", 0.0, "dose-cured"), now_h=300.0)[0] is None
    wet = made("BODY", 0.0, planned=None)
    assert standing(wet, made("NECK", 200.0), now_h=300.0)[0] is None
    bare = Piece("BODY", "acid-cure", stays=(Stay("loft", T0_MS),))
    assert standing(bare, made("NECK", 200.0), now_h=300.0)[0] is None


def test_a_part_outside_the_shop_is_looked_up_and_one_unknown_left_out() -> None:
    body, neck = made("BODY", 0.0), made("NECK", 200.0)
    shop = shop_of({"loft": steady(60.0)}, finishes=[finish("acid-cure")], pieces=[body])
    shop.joinings = (NECK,)
    assert assess_piece(shop, body, at_h(300.0)).held_back_by is None
    shop.parts = {"NECK": neck}
    assert assess_piece(shop, body, at_h(300.0)).held_back_by == "NECK"


def test_a_hold_on_a_part_holds_the_whole() -> None:
    body, neck = made("BODY", 0.0), made("NECK", 0.0)
    shop = shop_of({"loft": steady(60.0)}, finishes=[finish("acid-cure")], pieces=[body, neck])
    shop.joinings, shop.held = (NECK,), {"NECK": "cracked"}
    now = assess_piece(shop, body, at_h(900.0))
    assert now.held == "NECK, joined to it: cracked"
    shop.held["BODY"] = "dropped"
    assert assess_piece(shop, body, at_h(900.0)).held == "dropped; NECK, joined to it: cracked"
    part = assess_piece(shop, neck, at_h(900.0))
    assert (part.part_of, part.parts, part.held) == ("BODY", (), "cracked")


def test_the_watch_calls_a_whole_ready_when_its_last_part_is() -> None:
    body, neck = made("BODY", 0.0), made("NECK", 200.0)
    shop = shop_of({"loft": steady(60.0)}, finishes=[finish("acid-cure")], pieces=[body, neck])
    shop.joinings = (NECK,)
    watch = Watch(shop)
    told: dict[str, int] = {}
    for hour in range(900):
        for alert in watch.step(at_h(float(hour))):
            if alert.kind == "ready-wet-sand" and alert.phase is AlertPhase.RAISED:
                told.setdefault(alert.subject, hour)
    assert told["piece:BODY"] == told["piece:NECK"] > 200
    now = assess_piece(shop, body, at_h(300.0))
    assert "ready-wet-sand" not in [c.kind for c in piece_conditions(now, body, at_h(300.0))]


@pytest.mark.parametrize("seed", range(3))
def test_the_watch_says_the_same_of_joined_pieces_as_looking_at_every_step(seed: int) -> None:
    scenario = Scenario(seed, 3.0, 15)
    scenario.shop.joinings = (Joining("B", "A", T0_MS),)
    assert scenario.run() > 0
