"""Joined pieces: entered, shown, moved and taken down together."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from curewatch.storage import Store
    from tests.cli.conftest import Curewatch, StoresClimate


@pytest.fixture
def body_and_neck(curewatch: Curewatch, climate: StoresClimate) -> Curewatch:
    """Give BODY coated 18 days ago and NECK two days ago, both in the drying room."""
    climate(days=20.0)
    hang = ("--finish", "acid-cure", "--room", "drying", "--at", "19d ago", "--coats", "1")
    curewatch("piece", "hang", "BODY", "NECK", *hang)
    curewatch("coat", "BODY", "--at", "18d ago")
    curewatch("coat", "NECK", "--at", "2d ago")
    return curewatch


def rooms(kept: Callable[[], Store], tag: str) -> list[str]:
    with kept() as store:
        return [stay.room for stay in store.pieces.load(tag).stays]


def test_a_joined_body_names_the_part_that_holds_it_back(body_and_neck: Curewatch) -> None:
    assert "Ready to" in body_and_neck("piece", "show", "BODY").flat
    said = body_and_neck("piece", "join", "neck", "--onto", "body", "--at", "1d ago")
    assert said.narrow()
    assert "NECK: joined to BODY yesterday 12:00 (number 1)." in said.flat
    shown = body_and_neck("piece", "show", "BODY")
    assert "Joined to it: NECK." in shown.flat
    assert "Waits for NECK, joined to it. NECK: Not ready to" in shown.flat
    assert "It is joined to BODY." in body_and_neck("piece", "show", "NECK").flat
    body, neck = body_and_neck("piece", "list", "--json").plain["pieces"]
    assert (body["parts"], body["held_back_by"], neck["part_of"]) == (["NECK"], "NECK", "BODY")
    assert "onto BODY" in body_and_neck("piece", "history", "NECK").flat
    assert "part NECK" in body_and_neck("piece", "history", "BODY").flat


def test_a_move_of_the_whole_moves_its_parts_and_a_part_alone_does_not_move(
    body_and_neck: Curewatch, kept: Callable[[], Store]
) -> None:
    body_and_neck("piece", "join", "NECK", "--onto", "BODY", "--at", "1d ago")
    assert "NECK is joined to BODY: move BODY, and NECK goes with it" in (
        body_and_neck("move", "NECK", "spray", status=2).complaint
    )
    said = body_and_neck("move", "BODY", "spray")
    assert "NECK: in spray from today 12:00" in said.flat
    assert "It is joined to what was named, and goes with it." in said.flat
    assert rooms(kept, "NECK") == rooms(kept, "BODY") == ["drying", "spray"]
    body_and_neck("move", "BODY", "NECK", "drying", "--at", "1h ago")
    body_and_neck("piece", "leave", "BODY")
    with kept() as store:
        assert store.pieces.load("NECK").left_ms is not None


def test_a_move_from_before_the_joining_moves_the_body_alone(
    body_and_neck: Curewatch, kept: Callable[[], Store]
) -> None:
    body_and_neck("piece", "join", "NECK", "--onto", "BODY", "--at", "1h ago")
    body_and_neck("move", "BODY", "spray", "--at", "3h ago")
    assert rooms(kept, "NECK") == ["drying"]
    body_and_neck("move", "NECK", "spray", "--at", "2h ago")
    assert rooms(kept, "NECK") == ["drying", "spray"]


def test_what_came_off_stands_alone_again(body_and_neck: Curewatch) -> None:
    joined = body_and_neck("piece", "join", "NECK", "--onto", "BODY", "--json").plain
    assert (joined["part"], joined["onto"], joined["id"]) == ("NECK", "BODY", 1)
    undone = body_and_neck("piece", "unjoin", "NECK", "--why", "bolts were loose")
    assert "NECK is no longer joined to BODY: bolts were loose" in undone.flat
    assert "Waits for" not in body_and_neck("piece", "show", "BODY").flat
    body_and_neck("piece", "join", "NECK", "--onto", "BODY")
    plain = body_and_neck("piece", "unjoin", "NECK", "--why", "again", "--json").plain
    assert (plain["part"], plain["from"]) == ("NECK", "BODY")


def test_what_cannot_be_joined_says_why(body_and_neck: Curewatch) -> None:
    join = ("piece", "join")
    assert "to itself" in body_and_neck(*join, "NECK", "--onto", "NECK", status=2).complaint
    assert "no piece" in body_and_neck(*join, "NOSE", "--onto", "BODY", status=2).complaint
    body_and_neck("move", "NECK", "spray", "--at", "2h ago")
    said = body_and_neck(*join, "NECK", "--onto", "BODY")
    assert "NECK is not entered in drying yet: curewatch move BODY ROOM" in said.flat
    body_and_neck("piece", "unjoin", "NECK", "--why", "x")
    body_and_neck("piece", "leave", "NECK", "--at", "1h ago")
    assert "NECK left the shop before that" in (
        body_and_neck(*join, "NECK", "--onto", "BODY", status=2).complaint
    )
    assert "NECK is joined to nothing" in (
        body_and_neck("piece", "unjoin", "NECK", "--why", "x", status=2).complaint
    )
