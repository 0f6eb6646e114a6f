"""What people entered about a piece, as plain data."""

from __future__ import annotations

from dataclasses import replace

from curewatch.shop.piece import Coat, Outcome, Piece, Stay, Work, WorkKind
from curewatch.shop.plain import instant
from curewatch.shop.plain_entries import entries_plain
from curewatch.shop.safety import SAFETY
from tests.shop.scene import at_h, finish

WATER = finish("waterborne")
ENTERED = Piece(
    "B12",
    "waterborne",
    coats=(
        Coat(at_h(1.0), 90.0, passes=2, mixed_at_ms=at_h(0.5), id=3, who="Ada", pot="P1"),
        Coat(at_h(4.0)),
    ),
    work=(Work(WorkKind.LEVEL, at_h(60.0), "wet", "it was for the shop", 5, "Ben"),),
    stays=(Stay("booth", at_h(0.0), at_h(8.0), 7), Stay("loft", at_h(8.0), id=8)),
    outcomes=(Outcome(at_h(900.0), "fine", "in the window", 9, "Ada"),),
)


def rows(of: Piece, key: str) -> list[dict[str, object]]:
    found = entries_plain(of, WATER)[key]
    assert isinstance(found, list)
    assert all(isinstance(row, dict) for row in found)
    return found  # type: ignore[return-value]


def test_a_coat_keeps_everything_that_was_entered_of_it() -> None:
    first, second = rows(ENTERED, "coats_laid")
    assert first == {
        "id": 3,
        "at": instant(at_h(1.0)),
        "wet_um": 90.0,
        "passes": 2,
        "pot": "P1",
        "mixed_at": instant(at_h(0.5)),
        "who": "Ada",
        "note": "",
    }
    assert [second[key] for key in ("wet_um", "pot", "mixed_at")] == [None, None, None]


def test_work_done_against_advice_keeps_its_reason() -> None:
    (work,) = rows(ENTERED, "work")
    assert work == {
        "id": 5,
        "kind": str(WorkKind.LEVEL),
        "at": instant(at_h(60.0)),
        "note": "wet",
        "anyway": "it was for the shop",
        "who": "Ben",
    }


def test_a_stay_that_lasts_has_no_end() -> None:
    assert [(stay["room"], stay["from"], stay["to"]) for stay in rows(ENTERED, "stays")] == [
        ("booth", instant(at_h(0.0)), instant(at_h(8.0))),
        ("loft", instant(at_h(8.0)), None),
    ]


def test_what_was_found_says_what_it_proves() -> None:
    (found,) = rows(ENTERED, "outcomes")
    assert (found["id"], found["finding"], found["note"]) == (9, "fine", "in the window")
    proves = found["proves"]
    assert isinstance(proves, dict)
    assert proves["sentence"]
    (other,) = rows(replace(ENTERED, outcomes=(Outcome(at_h(900.0), "white"),)), "outcomes")
    assert other["proves"] != proves


def test_a_piece_that_left_says_when() -> None:
    assert entries_plain(ENTERED, WATER)["left_at"] is None
    gone = replace(ENTERED, left_ms=at_h(950.0))
    assert entries_plain(gone, WATER)["left_at"] == instant(at_h(950.0))


def test_the_usual_caution_comes_before_those_of_the_finish() -> None:
    wary = replace(WATER, safety=("keep it from the flame",))
    assert entries_plain(ENTERED, wary)["safety"] == [SAFETY, "keep it from the flame"]
