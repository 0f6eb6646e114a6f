"""Moves between rooms, and what people found."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from curewatch.storage import Store
    from tests.cli.conftest import Curewatch, StoresClimate


@pytest.fixture
def hung(curewatch: Curewatch, climate: StoresClimate) -> Curewatch:
    """Give a shop with pieces A1, A2 and A3 in the spray room."""
    climate("spray")
    curewatch(
        *("piece", "hang", "A1", "A2", "A3", "--finish", "waterborne"),
        *("--room", "spray", "--at", "2d ago"),
    )
    return curewatch


def rooms(kept: Callable[[], Store], tag: str) -> list[str]:
    with kept() as store:
        return [stay.room for stay in store.pieces.load(tag).stays]


def test_several_pieces_move_at_once(hung: Curewatch, kept: Callable[[], Store]) -> None:
    said = hung("move", "A1", "A2", "drying", "--at", "1h ago")
    assert "A1: in drying from today 11:00 on (number 4), before that in spray." in said.flat
    assert rooms(kept, "A2") == ["spray", "drying"]
    assert rooms(kept, "A3") == ["spray"]


def test_a_piece_there_already_is_left_as_it_is(hung: Curewatch, kept: Callable[[], Store]) -> None:
    plain = hung("move", "A1", "spray", "--json").plain
    assert (plain["moves"], plain["there_already"]) == ([], ["A1"])
    assert rooms(kept, "A1") == ["spray"]
    assert "nothing was entered" in hung("move", "A1", "spray").flat


def test_a_back_dated_move_says_what_comes_after_it(hung: Curewatch) -> None:
    hung("move", "A1", "drying", "--at", "1h ago")
    hung("move", "void", "4", "--why", "typed too late")
    hung("move", "A1", "drying", "--at", "3h ago")
    hung("piece", "leave", "A2", "--at", "1h ago")
    said = hung("move", "A2", "drying", "--at", "2h ago")
    assert "It left the shop today 11:00, as entered before." in said.flat


def test_a_move_brings_a_piece_back(hung: Curewatch) -> None:
    hung("piece", "leave", "A1", "--at", "1h ago")
    hung("move", "A1", "drying")
    assert hung("piece", "show", "A1", "--json").plain["room"] == "drying"


def test_leaving_is_voided_by_its_number(hung: Curewatch, kept: Callable[[], Store]) -> None:
    hung("piece", "leave", "A1", "--at", "1h ago")
    assert "Move 4 of A1" in hung("move", "void", "4", "--why", "it was A2").flat
    with kept() as store:
        assert store.pieces.load("A1").left_ms is None


@pytest.mark.parametrize(
    ("words", "complaint"),
    [
        (("A1", "Drying"), "did you mean drying?"),
        (("A1", "cellar"), "Configured are spray, drying"),
        (("A1",), "which piece, and where to?"),
        (("A1", "A9", "drying"), "Nothing was stored for A1, A9"),
        (("A1", "drying", "--at", "2100-01-01"), "lies ahead"),
        (("void", "1"), "needs a reason"),
        (("void", "1", "--why", "x", "--at", "now"), "does not take --at"),
    ],
)
def test_what_cannot_be_moved_is_refused_and_nothing_stored(
    hung: Curewatch, kept: Callable[[], Store], words: tuple[str, ...], complaint: str
) -> None:
    assert complaint in hung("move", *words, status=2).complaint
    assert rooms(kept, "A1") == ["spray"]


def test_a_finding_is_kept_and_says_what_it_can_say(
    hung: Curewatch, kept: Callable[[], Store]
) -> None:
    said = hung("outcome", "A1", "nail-dent", "--note", "lower bout")
    assert said.narrow()
    assert "a fingernail leaves a mark" in said.flat
    assert "There was no coat on it yet." in said.flat
    assert "Nothing new is learnt from it: waterborne goes on as before." in said.flat
    with kept() as store:
        (found,) = store.pieces.load("A1").outcomes
        assert (found.finding, found.note) == ("nail-dent", "lower bout")


def test_a_finding_moves_the_pace_and_both_say_so(hung: Curewatch) -> None:
    before = hung("finish", "show", "waterborne", "--json").plain["pace"]
    assert (before["outcomes"], before["standing"]) == (0, "common-practice")
    hung("coat", "A1", "--at", "40h ago")
    said = hung("outcome", "add", "A1", "loads-paper")
    assert said.narrow()
    assert "It balled up on the paper" in said.flat
    assert "waterborne: its pace went from 0.67 to" in said.flat
    assert "Fewer than 5 fine films shorten no wait." in said.flat
    after = hung("finish", "show", "waterborne", "--json").plain["pace"]
    assert (after["outcomes"], after["standing"]) == (1, "learnt-here")
    assert after["p10"] < after["median"] < after["p90"]
    assert after["median"] > before["median"]
    assert "Our pace: films take" in hung("finish", "show", "waterborne").flat
    (told,) = hung("outcome", "A1", "loads-paper", "--at", "1h ago", "--json").plain["outcomes"]
    assert told["says"] == "too-early"
    assert told["pace"]["outcomes"] == 1  # of one film: the longest time found too early
    hung("piece", "leave", "A1")
    assert hung("finish", "show", "waterborne", "--json").plain["pace"]["outcomes"] == 1
    hung("outcome", "void", "1", "--why", "slip")
    hung("outcome", "void", "2", "--why", "slip")
    assert hung("finish", "show", "waterborne", "--json").plain["pace"] == before


def test_an_outcome_of_one_piece_holds_another_back(hung: Curewatch) -> None:
    hung("coat", "A1", "A2", "--at", "45h ago")
    plain = hung("piece", "show", "A2", "--json").plain["milestones"]
    hung("outcome", "A1", "loads-paper")
    taught = hung("piece", "show", "A2", "--json").plain["milestones"]
    for old, new in zip(plain, taught, strict=True):
        assert new["required_hours"] == old["required_hours"]
        if new["name"] in ("wet-sand", "buff", "full-cure"):
            assert new["late_hours"] > old["late_hours"]
            assert new["expected_at"] == old["expected_at"]


def test_a_finding_may_come_months_after_the_piece_left(hung: Curewatch) -> None:
    hung("piece", "leave", "A1", "--at", "1d ago")
    (kept,) = hung("outcome", "A1", "grain-back", "--json").plain["outcomes"]
    assert (kept["piece"], kept["finding"], kept["id"]) == ("A1", "grain-back", 1)


@pytest.mark.parametrize(
    ("words", "complaint"),
    [
        (("A1", "nail-dnt"), "did you mean nail-dent?"),
        (("A1", "perfect"), "one of powders, loads-paper"),
        (("fine",), "which piece?"),
        (("A1", "A9", "fine"), "Nothing was stored for A1, A9"),
        (("void", "3", "--why", "x"), "no outcome with number 3"),
        (("void", "3", "--note", "x"), "does not take --note"),
    ],
)
def test_what_is_no_finding_is_refused(
    hung: Curewatch, kept: Callable[[], Store], words: tuple[str, ...], complaint: str
) -> None:
    assert complaint in hung("outcome", *words, status=2).complaint
    with kept() as store:
        assert store.pieces.load("A1").outcomes == ()


def test_a_finding_can_be_voided(hung: Curewatch, kept: Callable[[], Store]) -> None:
    hung("outcome", "A1", "smell")
    hung("outcome", "void", "1", "--why", "it was the rag")
    with kept() as store:
        assert store.pieces.load("A1").outcomes == ()
