from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.cli.why import why_lines

if TYPE_CHECKING:
    from curewatch.shop.plain import Plain

SHEET = {"standing": "data-sheet", "source": "the sheet, page 2"}
AIR = {"standing": "measured", "source": "the room's sensors"}


def answer() -> Plain:
    return {
        "format": 1,
        "piece": "B12",
        "temp_c": 21.25,
        "rh_pct": 50.0,
        "dew_point_c": None,
        "wet": True,
        "milestones": [{"name": "buff", "required_hours": 280.0}],
        "spray": [{"finish": "waterborne", "asked_k": 3.0, "standing": {"asked_k": SHEET}}],
        "standing": {"temp_c": AIR, "rh_pct": AIR, "milestones.buff.required_hours": SHEET},
    }


def test_numbers_of_one_source_share_a_line_with_their_units() -> None:
    lines = why_lines(answer())
    assert lines[0] == "  temp 21.25 °C, rh 50 %: measured (the room's sensors)"
    assert lines[1] == "  buff 280 h: data sheet (the sheet, page 2)"


def test_a_part_with_standings_of_its_own_follows_under_its_name() -> None:
    assert why_lines(answer())[2:] == [
        "",
        "spray waterborne:",
        "  asked 3 K: data sheet (the sheet, page 2)",
    ]


def test_no_line_is_wider_than_asked() -> None:
    long = answer()
    long["standing"] = {"temp_c": {"standing": "physics", "source": "word " * 60}}
    lines = why_lines(long, columns=60)
    assert len(lines) > 5
    assert max(map(len, lines)) <= 60


def test_an_answer_without_standings_says_nothing() -> None:
    assert why_lines({"temp_c": 21.0}) == []


def test_a_standing_without_a_source_is_told_alone() -> None:
    assert why_lines({"dew_c": 9.0, "standing": {"dew_c": "physics"}}) == ["  dew 9 °C: physics"]


def test_a_longer_place_answers_before_a_shorter_one() -> None:
    air: Plain = {"air": {"temp_c": 20.0, "asked_c": 18.0}}
    told: Plain = {"air": AIR, "air.asked_c": SHEET}
    assert why_lines({**air, "standing": told}) == [
        "  air temp 20 °C: measured (the room's sensors)",
        "  air asked 18 °C: data sheet (the sheet, page 2)",
    ]
