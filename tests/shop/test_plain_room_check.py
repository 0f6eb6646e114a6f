"""A spray check of a room as plain data, and what an old climate may decide."""

from __future__ import annotations

import pytest

from curewatch.shop.plain import instant
from curewatch.shop.plain_room_check import HEARD_AGAIN, Place, place_plain, stale
from curewatch.shop.spray_answer import Job, typed_answer
from curewatch.shop.spray_terms import Conditions, Verdict
from curewatch.shop.words import Words
from tests.shop.scene import at_h, finish

NOTHING = Conditions(None, None)
GOOD = Conditions(21.0, 0.5, surface_c=21.0)


def room(here: Conditions, at_h_: float | None, *, fresh: bool) -> Place:
    at_ms = None if at_h_ is None else at_h(at_h_)
    return Place(here, Words(), room="loft", at_ms=at_ms, now_ms=at_h(9.0), fresh=fresh)


def test_an_old_climate_says_how_old_it_is_and_decides_nothing() -> None:
    said = stale(room(NOTHING, 4.0, fresh=False))
    assert said.startswith("its newest climate is 5.0 h old (")
    assert said.endswith("and decides nothing")


def test_a_room_whose_sensors_were_never_heard_says_so() -> None:
    assert stale(room(NOTHING, None, fresh=False)) == "no sensor of this room was ever heard"


@pytest.mark.parametrize(
    "place",
    [
        Place(NOTHING, Words()),
        room(NOTHING, 8.9, fresh=True),
        room(Conditions(21.0, None), 4.0, fresh=False),
        room(Conditions(None, 0.5), 4.0, fresh=False),
        room(Conditions(None, None, surface_c=20.0), 4.0, fresh=False),
    ],
)
def test_where_something_else_decides_nothing_is_called_stale(place: Place) -> None:
    assert stale(place) == ""


def test_an_old_climate_is_the_only_reason_and_asks_for_a_fresh_reading() -> None:
    place = room(NOTHING, 4.0, fresh=False)
    answer = typed_answer(Job(finish("waterborne")), NOTHING, Words())
    plain = place_plain(answer, place)
    assert answer.verdict is Verdict.UNKNOWN
    assert plain["sentence"] == f"cannot tell: {stale(place)}"
    assert plain["reasons"] == [stale(place)]
    clears = plain["what_would_clear_it"]
    assert isinstance(clears, list)
    (again,) = clears
    assert isinstance(again, dict)
    assert (again["change"], again["words"]) == ("measure", HEARD_AGAIN)
    assert (plain["room"], plain["fresh"], plain["at"]) == ("loft", False, instant(at_h(4.0)))


def test_typed_values_have_no_room_and_no_age() -> None:
    answer = typed_answer(Job(finish("waterborne")), GOOD, Words())
    plain = place_plain(answer, Place(GOOD, Words(), typed=("temp_c", "rh_pct", "surface_c")))
    assert (plain["room"], plain["at"], plain["fresh"]) == (None, None, None)
    assert plain["verdict"] == str(answer.verdict)
    assert HEARD_AGAIN not in str(plain)
