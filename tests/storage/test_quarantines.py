from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from curewatch.errors import BadInput
from curewatch.shop.batch import Batch
from curewatch.shop.piece import Coat
from curewatch.shop.quarantine import Quarantine

if TYPE_CHECKING:
    from curewatch.storage import Store

HOUR = 3_600_000
FROZE = Quarantine("lot", "L7", "froze in the van", 5 * HOUR, "ann")


def test_a_hold_comes_back_until_it_is_released(store: Store) -> None:
    number = store.quarantines.hold(FROZE, 6 * HOUR)
    assert store.quarantines.standing() == (replace(FROZE, id=number),)
    with pytest.raises(BadInput, match=r"held already \(number 1: froze in the van\)"):
        store.quarantines.hold(replace(FROZE, target="l7"), 7 * HOUR)
    store.quarantines.release(number, "panel is clear", who="bo", at_ms=9 * HOUR)
    assert store.quarantines.standing() == ()
    (lifted,) = store.quarantines.all()
    assert (lifted.released_ms, lifted.released_why, lifted.released_by) == (
        *(9 * HOUR, "panel is clear", "bo"),
    )
    store.quarantines.hold(FROZE, 10 * HOUR)  # and may be held again


def test_a_release_needs_its_hold_and_a_reason(store: Store) -> None:
    number = store.quarantines.hold(FROZE, 6 * HOUR)
    with pytest.raises(BadInput, match="needs a reason"):
        store.quarantines.release(number, " ", who="", at_ms=9 * HOUR)
    with pytest.raises(BadInput, match="no hold with number 9"):
        store.quarantines.release(9, "fine", who="", at_ms=9 * HOUR)
    store.quarantines.release(number, "fine", who="", at_ms=9 * HOUR)
    with pytest.raises(BadInput, match="released already: fine"):
        store.quarantines.release(number, "fine", who="", at_ms=9 * HOUR)


def test_holds_stand_in_the_history_of_every_piece_they_touch(store: Store) -> None:
    for tag in ("D-1", "D-2", "D-3"):
        store.pieces.hang(tag, "acid-cure", 2, title="", at_ms=HOUR, entered_ms=HOUR)
    store.batches.mix(Batch("P1", "acid-cure", 2, "L7", HOUR, crosslinker_lot="C3"), HOUR)
    store.pieces.coat("D-1", Coat(2 * HOUR, pot="P1"), 2 * HOUR)
    for what, target in (("lot", "l7"), ("lot", "c3"), ("batch", "p1"), ("piece", "d-2")):
        store.quarantines.hold(replace(FROZE, what=what, target=target), 6 * HOUR)
    store.quarantines.release(1, "fine", who="bo", at_ms=9 * HOUR)

    def told(tag: str) -> list[tuple[str, object]]:
        return [
            (entry.what, entry.facts["target"])
            for entry in store.pieces.history(tag)
            if entry.what in ("hold", "release")
        ]

    assert sorted(told("D-1")) == [
        *(("hold", "c3"), ("hold", "l7"), ("hold", "p1"), ("release", "l7")),
    ]
    store.batches.void("P1", "wrong pot", 10 * HOUR)
    assert told("D-1") == []
    assert told("D-2") == [("hold", "d-2")]
    assert told("D-3") == []


def test_a_question_nobody_can_answer_is_closed_with_a_reason(store: Store) -> None:
    store.pieces.hang("D-1", "acid-cure", 2, title="", at_ms=HOUR, entered_ms=HOUR)
    with pytest.raises(BadInput, match="needs a reason"):
        store.pieces.close_follow_up("D-1", 90, "", 9 * HOUR)
    store.pieces.close_follow_up("D-1", 90, "sold abroad", 9 * HOUR)
    store.pieces.close_follow_up("D-1", 90, "sold twice", 10 * HOUR)
    assert store.pieces.load("D-1").closed_days == (90,)
    (entry,) = (e for e in store.pieces.history("D-1") if e.what == "follow-up closed")
    assert entry.facts == {"days": 90, "why": "sold abroad"}
