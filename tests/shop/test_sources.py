"""Where the numbers of an answer come from, in sentences."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from curewatch.shop.assessment import assess_piece
from curewatch.shop.plain import piece_plain
from curewatch.shop.sources import UNITS, sources
from curewatch.shop.standings import KEY, entry
from tests.shop.scene import at_h
from tests.shop.test_standings import hung_shop

if TYPE_CHECKING:
    from curewatch.shop.plain import Plain

SHEET = entry("data-sheet", "page 2")


def said(place: str, value: float) -> str:
    """Return the one sentence about a number of this name."""
    ((title, (sentence,)),) = sources({place: value, KEY: {place: SHEET}})
    assert title == ""
    return sentence


def test_numbers_of_one_source_share_a_sentence() -> None:
    told: Plain = {"temp_c": SHEET, "rh_pct": SHEET, "coats": entry("measured", "counted")}
    plain: Plain = {"temp_c": 21.0, "rh_pct": 50.0, "coats": 3, KEY: told}
    assert sources(plain) == [
        ("", ["temp 21 °C, rh 50 %: data sheet (page 2)", "coats 3: measured (counted)"])
    ]


def test_an_hour_asked_goes_by_its_milestone_alone() -> None:
    plain: Plain = {
        "milestones": {"buff": {"required_hours": 280.0}},
        KEY: {"milestones.buff": SHEET},
    }
    assert sources(plain) == [("", ["buff 280 h: data sheet (page 2)"])]


@pytest.mark.parametrize(("end", "unit"), UNITS.items())
def test_a_name_s_unit_is_said_behind_the_number(end: str, unit: str) -> None:
    assert said(f"asked{end}", 2.5).startswith(f"asked 2.5{unit}:")


def test_a_name_without_a_unit_is_a_bare_number() -> None:
    assert said("coats_laid", 4) == "coats laid 4: data sheet (page 2)"


def test_next_to_nothing_is_nought_without_a_sign() -> None:
    assert said("moved_pct", -0.00001).startswith("moved 0 %:")


@pytest.mark.parametrize(
    ("standing", "source", "because"),
    [
        ("from-memory", "from memory, nobody looked", "from memory, nobody looked"),
        ("common-practice", "", "common practice"),
        ("physics", "Crank 1975", "physics (Crank 1975)"),
    ],
)
def test_a_standing_is_said_once_with_its_source(standing: str, source: str, because: str) -> None:
    plain: Plain = {"temp_c": 21.0, KEY: {"temp_c": entry(standing, source)}}
    assert sources(plain) == [("", [f"temp 21 °C: {because}"])]


def test_a_number_that_nobody_answers_for_is_not_given_a_source() -> None:
    assert sources({"temp_c": 21.0, "dew_c": 9.0, KEY: {"dew_c": SHEET}}) == [
        ("", ["dew 9 °C: data sheet (page 2)"])
    ]
    assert sources({"temp_c": 21.0}) == [("", [])]


def test_a_part_that_answers_in_one_word_stands_among_the_answer_s_own() -> None:
    pace: Plain = {"median": 1.1, KEY: "learnt-here", "source": "two outcomes"}
    assert sources({"our_pace": pace}) == [
        ("", []),
        ("", ["our pace median 1.1: learnt here (two outcomes)"]),
    ]


def test_a_part_with_sources_of_its_own_has_its_name_as_a_title() -> None:
    inner: Plain = {"temp_c": 30.0, KEY: {"temp_c": SHEET}}
    assert sources({"spray_check": inner})[1] == (
        "spray check",
        ["temp 30 °C: data sheet (page 2)"],
    )


def test_an_entry_of_a_list_goes_by_its_name() -> None:
    row: Plain = {"name": "h1", "off_k": 0.3, KEY: {"off_k": SHEET}}
    assert sources({"sensors": [row, 5, {"bare": 1}]}) == [
        ("", []),
        ("sensors h1", ["off 0.3 K: data sheet (page 2)"]),
    ]


def test_a_piece_s_hours_say_the_words_of_its_profile() -> None:
    shop = hung_shop("waterborne")
    now = assess_piece(shop, shop.pieces["B12"], at_h(30 * 24.0))
    (stone,) = [one for one in now.milestones if str(one.name) == "buff"]
    own = sources(piece_plain(now))[0][1]
    assert any(f"buff {stone.required_hours:.4g} h" in sentence for sentence in own)
