from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from curewatch.cli.why import HEAD, why_lines
from tests.shop.test_standings import untold

if TYPE_CHECKING:
    from curewatch.shop.plain import Plain, PlainValue
    from tests.cli.conftest import Curewatch, StoresClimate

SINCE = ("--at", "2026-02-25 11:00")
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


def test_a_part_with_one_word_for_all_its_numbers_is_told_in_a_line() -> None:
    pace: Plain = {"median": 0.67, "outcomes": 0, "standing": "from-memory", "source": "a rule"}
    assert why_lines({"pace": pace}) == [
        "  pace median 0.67, pace outcomes 0: from memory (a rule)"
    ]
    rows: list[PlainValue] = [{"key": "young_h", "value": 48.0, **SHEET}]
    assert why_lines({"figures": rows}) == ["  young h value 48: data sheet (the sheet, page 2)"]


# ---- the commands


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (
            ("status",),
            ("rooms drying:", "pieces A7:", "temp 21 °C, rh 50 %", "measured (the room's sensors)"),
        ),
        (
            ("piece", "show", "A7"),
            (
                "buff 60 h: common practice, no source: one full day",
                "cure effective 192 h",
                "coverage 100 %",
                "sink back remaining",
            ),
        ),
        (
            ("room", "show", "drying"),
            ("spray waterborne:", "surface-over-dew-point allowed 3: common practice"),
        ),
        (("finish", "show", "waterborne"), ("pace median",)),
        (
            ("check", "drying", "--finish", "waterborne"),
            ("dew point", "physics", "measured", "common practice"),
        ),
    ],
)
def test_why_says_under_the_answer_where_its_numbers_come_from(
    curewatch: Curewatch, climate: StoresClimate, words: tuple[str, ...], said: tuple[str, ...]
) -> None:
    climate("drying", days=30.0, every_min=20.0)
    curewatch("piece", "hang", "A7", "--finish", "waterborne", "--room", "drying", *SINCE)
    curewatch("coat", "A7", "--at", "2026-02-25 12:00")
    plain = curewatch(*words, status=None)
    assert HEAD not in plain.out
    why = curewatch(*words, "--why", status=plain.status)
    assert why.narrow()
    assert why.out.startswith(plain.out.rstrip("\n"))
    under = why.flat.partition(HEAD)[2]
    assert [one for one in said if one not in under] == []


def test_a_piece_s_wood_is_told_with_its_history(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate("drying", days=30.0, every_min=20.0)
    curewatch("piece", "hang", "A7", "--finish", "waterborne", "--room", "drying", *SINCE)
    curewatch("coat", "A7", "--at", "2026-02-25 12:00")
    told = curewatch("piece", "show", "A7", "--json").plain["wood"]
    assert told["known"]
    assert told["before_coverage_pct"] == 100.0
    assert told["now_pct"] == pytest.approx(9.23, abs=0.05)
    assert "The wood is taken to hold 9.2 % moisture" in curewatch("piece", "show", "A7").flat


def test_a_source_that_begins_with_its_standing_says_it_once() -> None:
    rule: Plain = {"standing": "from-memory", "source": "from memory: a guess"}
    assert why_lines({"a_h": 1.00004, "b_h": -1e-15, "standing": {"a_h": rule, "b_h": rule}}) == [
        "  a 1 h, b 0 h: from memory: a guess"
    ]


@pytest.mark.parametrize(
    "words",
    [
        ("piece", "show", "A7"),
        ("room", "show", "drying"),
        ("finish", "show", "waterborne"),
        ("check", "drying", "--finish", "waterborne"),
        ("check", "--finish", "nitro-lacquer", "--temp-c", "20", "--rh-pct", "60"),
        ("status",),
        ("air", "--temp-c", "20", "--rh-pct", "50"),
        ("air", "--temp-c", "-5", "--rh-pct", "50"),
        ("room", "ahead", "drying"),
        ("room", "ahead", "drying", "--heating-off", "--drifts-to-c", "6", "--why", "week-end"),
        ("piece", "suspects", "A7"),
        ("piece", "rejudge", "A7"),
        ("sensor", "list"),
        ("what-if", "drying", "--temp-c", "27", "--finish", "waterborne"),
        ("what-if", "drying", "--temp-c", "27", "--finish", "dose-cured"),
        ("lost", "drying"),
        ("plan", "--finish", "waterborne", "--coats", "2", "--room", "drying"),
    ],
)
def test_every_number_of_an_answer_in_json_says_where_it_comes_from(
    curewatch: Curewatch, climate: StoresClimate, words: tuple[str, ...]
) -> None:
    climate("drying", days=30.0, every_min=20.0)
    curewatch("piece", "hang", "A7", "--finish", "waterborne", "--room", "drying", *SINCE)
    curewatch("coat", "A7", "--at", "2026-02-25 12:00", "--wet-um", "90")
    plain = curewatch(*words, "--json", status=None).plain
    assert "error" not in plain
    assert untold(plain) == []
