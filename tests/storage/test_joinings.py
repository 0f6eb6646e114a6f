from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from curewatch.errors import BadInput
from curewatch.shop.joining import Joining

if TYPE_CHECKING:
    from curewatch.storage import Store

HOUR = 3_600_000


@pytest.fixture
def three(store: Store) -> Store:
    for tag in ("BODY", "NECK", "HEAD"):
        store.pieces.hang(tag, "waterborne", 1, title="", at_ms=HOUR, entered_ms=HOUR)
    return store


def test_a_joining_comes_back_and_stands_in_both_histories(three: Store) -> None:
    number = three.joinings.join(Joining("NECK", "BODY", 5 * HOUR, "glued"), 6 * HOUR)
    assert three.joinings.all() == (Joining("NECK", "BODY", 5 * HOUR, "glued", number),)
    for tag, facts in (("NECK", ("BODY", "")), ("BODY", ("", "NECK"))):
        (entry,) = (e for e in three.pieces.history(tag) if e.what == "join")
        assert (entry.facts["onto"], entry.facts["part"], entry.facts["note"]) == (*facts, "glued")
    undone = three.joinings.unjoin("NECK", "bolts loosened", 8 * HOUR)
    assert undone.onto == "BODY"
    assert three.joinings.all() == ()
    (entry,) = (e for e in three.pieces.history("BODY") if e.what == "join")
    assert entry.void is not None
    assert entry.void.why == "bolts loosened"


def test_what_cannot_be_joined_is_refused(three: Store) -> None:
    three.joinings.join(Joining("NECK", "BODY", 5 * HOUR), 6 * HOUR)
    three.joinings.join(Joining("HEAD", "NECK", 5 * HOUR), 6 * HOUR)
    for part, onto, why in (
        ("NECK", "NECK", "to itself"),
        ("NECK", "HEAD", "joined to BODY already"),
        ("BODY", "HEAD", "itself a part of BODY"),
        ("BODY", "GONE", "no piece with the tag 'GONE'"),
    ):
        with pytest.raises(BadInput, match=why):
            three.joinings.join(Joining(part, onto, 6 * HOUR), 6 * HOUR)
    with pytest.raises(BadInput, match="BODY is joined to nothing"):
        three.joinings.unjoin("BODY", "why not", 8 * HOUR)


def test_a_joining_that_was_taken_apart_is_entered_anew_as_it_was(three: Store) -> None:
    number = three.joinings.join(Joining("NECK", "BODY", 5 * HOUR, "glued"), 6 * HOUR)
    three.joinings.unjoin("NECK", "a mistake", 8 * HOUR)
    three.joinings.again(number, 9 * HOUR)
    (joining,) = three.joinings.all()
    assert (joining.part, joining.onto, joining.at_ms, joining.note) == (
        *("NECK", "BODY", 5 * HOUR, "glued"),
    )
    assert joining.id != number
    with pytest.raises(BadInput, match="no joining with number 99"):
        three.joinings.again(99, 9 * HOUR)
