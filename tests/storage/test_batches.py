from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from curewatch.errors import BadInput
from curewatch.shop.batch import Batch
from curewatch.shop.piece import Coat, Outcome, Work, WorkKind
from curewatch.storage.export import export_rows

if TYPE_CHECKING:
    from curewatch.storage import Store

HOUR = 3_600_000
POT = Batch(
    *("Monday-1", "acid-cure", 2, "L7", 5 * HOUR, "booth", 10.0, "C3", 15.0, 5.0),
    *("slow thinner", "2 g amber", "strained", "ann"),
)


def test_a_pot_comes_back_as_it_was_mixed_whatever_the_case_of_its_name(store: Store) -> None:
    number = store.batches.mix(POT, 6 * HOUR)
    found = store.batches.get("MONDAY-1")
    assert found == Batch(
        *("Monday-1", "acid-cure", 2, "L7", 5 * HOUR, "booth", 10.0, "C3", 15.0, 5.0),
        *("slow thinner", "2 g amber", "strained", "ann", None, number),
    )
    assert store.batches.all() == (found,)
    assert store.batches.all(since_ms=5 * HOUR + 1) == ()


@pytest.mark.parametrize("name", ["", "two words", "x" * 33])
def test_a_name_that_cannot_be_written_on_a_pot_is_refused(store: Store, name: str) -> None:
    with pytest.raises(BadInput, match="cannot be a pot's name"):
        store.batches.mix(Batch(name, "acid-cure", 1, "L7", HOUR), HOUR)


def test_a_name_is_used_once_even_when_its_pot_was_voided(store: Store) -> None:
    store.batches.mix(POT, 6 * HOUR)
    store.batches.void("monday-1", "spilt before use", 7 * HOUR)
    with pytest.raises(BadInput, match="there was a pot Monday-1 before"):
        store.batches.mix(POT, 8 * HOUR)
    with pytest.raises(BadInput, match="there is no pot 'monday-1'"):
        store.batches.get("monday-1")


def test_an_unknown_name_is_answered_with_the_nearest(store: Store) -> None:
    store.batches.mix(POT, 6 * HOUR)
    with pytest.raises(BadInput, match="did you mean Monday-1"):
        store.batches.get("monday-2")


def test_a_pot_is_gone_once_and_not_before_it_was_mixed(store: Store) -> None:
    store.batches.mix(POT, 6 * HOUR)
    with pytest.raises(BadInput, match="mixed after that"):
        store.batches.gone("Monday-1", 4 * HOUR, 7 * HOUR)
    store.batches.gone("Monday-1", 6 * HOUR, 7 * HOUR)
    assert store.batches.get("Monday-1").gone_ms == 6 * HOUR
    with pytest.raises(BadInput, match="gone already"):
        store.batches.gone("Monday-1", 7 * HOUR, 8 * HOUR)


def test_a_coat_takes_mixing_and_room_from_its_pot_until_that_is_voided(store: Store) -> None:
    store.pieces.hang("D-1", "acid-cure", 2, title="", at_ms=HOUR, entered_ms=HOUR)
    store.batches.mix(POT, 6 * HOUR)
    laid = Coat(6 * HOUR, mixed_at_ms=5 * HOUR, who="bo", pot="Monday-1", pot_room="booth")
    store.pieces.coat("D-1", laid, 6 * HOUR)
    store.pieces.coat("D-1", Coat(7 * HOUR, mixed_at_ms=6 * HOUR), 7 * HOUR)
    first, second = store.pieces.load("D-1").coats
    assert (first.pot, first.pot_room, first.mixed_at_ms, first.who) == (
        *("Monday-1", "booth", 5 * HOUR, "bo"),
    )
    assert (second.pot, second.pot_room, second.mixed_at_ms) == ("", None, 6 * HOUR)
    assert store.batches.pieces_of("monday-1") == (("D-1", 1),)
    told = [entry.facts for entry in store.pieces.history("D-1") if entry.what == "coat"]
    assert [(t["pot"], t["who"], t["mixed_at_ms"]) for t in told] == [
        ("Monday-1", "bo", 5 * HOUR),
        ("", "", 6 * HOUR),
    ]
    store.batches.void("Monday-1", "wrong pot", 9 * HOUR)
    first, second = store.pieces.load("D-1").coats
    assert (first.pot, first.pot_room, first.mixed_at_ms) == ("", None, None)
    assert second.mixed_at_ms == 6 * HOUR


def test_work_and_outcomes_say_who(store: Store) -> None:
    store.pieces.hang("D-1", "acid-cure", 2, title="", at_ms=HOUR, entered_ms=HOUR)
    store.pieces.work("D-1", Work(WorkKind.BUFF, 2 * HOUR, "", "show", who="ann"), 3 * HOUR)
    store.pieces.outcome("D-1", Outcome(4 * HOUR, "fine", who="bo"), 5 * HOUR)
    piece = store.pieces.load("D-1")
    assert (piece.work[0].who, piece.work[0].anyway, piece.outcomes[0].who) == ("ann", "show", "bo")
    whos = [e.facts.get("who") for e in store.pieces.history("D-1") if e.what != "hang"]
    assert whos == ["ann", "bo"]


def test_a_pot_said_to_be_gone_stands_again_and_can_go_again(store: Store) -> None:
    store.batches.mix(POT, 6 * HOUR)
    with pytest.raises(BadInput, match="Monday-1 is not gone"):
        store.batches.stands_again("monday-1", "there it is", 7 * HOUR)
    store.batches.gone("Monday-1", 7 * HOUR, 8 * HOUR)
    store.batches.stands_again("monday-1", "there it is", 9 * HOUR)
    assert store.batches.get("Monday-1").gone_ms is None
    store.batches.gone("Monday-1", 10 * HOUR, 10 * HOUR)
    assert [pot.gone_ms for pot in store.batches.all()] == [10 * HOUR]
    assert [row["gone_ms"] for row in export_rows(store, "batches")] == [10 * HOUR]
