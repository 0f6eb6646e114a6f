"""The page of questions is asked: every command runs, and its answer is as honest as promised."""

from __future__ import annotations

import re
import shlex
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from curewatch.finish_files import shipped_names
from curewatch.shop.build import DOUBT, TAKEN_UM
from curewatch.shop.onward import COLD_ROAD_C
from curewatch.shop.piece import WorkKind
from curewatch.shop.salt_jar import keeps_rh_frac
from curewatch.shop.side_by_side import FEW
from tests.questions_shop import QuestionsShop, questions_shop

if TYPE_CHECKING:
    from collections.abc import Callable

PAGE = (Path(__file__).parents[1] / "docs" / "questions.md").read_text(encoding="utf-8")
ROW = re.compile(r"^\| (\d+) \| (.+?) \| (.+?) \| (.+?) \| (.+?) \|$", re.MULTILINE)
ROWS = {int(row[0]): row[1:] for row in ROW.findall(PAGE)}
COMMANDS = {
    number: [shlex.split(said)[1:] for said in re.findall(r"`(curewatch [^`]+)`", row[1])]
    for number, row in ROWS.items()
}
COUNT = 25
STANDINGS = {
    "data-sheet",
    "learnt-here",
    "common-practice",
    "from-memory",
    "physics",
    "measured",
    "typed",
}

Answers = list[Any]


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> QuestionsShop:
    """Return the shop that is asked."""
    return questions_shop(tmp_path_factory.mktemp("questions"))


def test_there_are_twenty_five_questions_each_with_a_command() -> None:
    assert list(ROWS) == list(range(1, COUNT + 1))
    assert all(COMMANDS[number] for number in ROWS)
    assert set(HONEST) == set(ROWS)


@pytest.mark.parametrize("number", range(1, COUNT + 1))
def test_the_command_answers_as_the_page_promises(shop: QuestionsShop, number: int) -> None:
    answers = []
    for words in COMMANDS[number]:
        answer = shop.ask(*words, "--json")
        assert answer.status in {0, 10, 20, 30}, answer.text
        assert_standings(answer.plain)
        answers.append(answer.plain)
        text = shop.ask(*words)
        assert text.status == answer.status
        assert all(len(line) <= 80 for line in text.text.splitlines()), text.text
    HONEST[number](answers)


def assert_standings(plain: Any) -> None:  # noqa: ANN401 - whatever JSON holds
    """Every part of an answer that has a standing has one of the project's words for it."""
    if isinstance(plain, list):
        for part in plain:
            assert_standings(part)
    elif isinstance(plain, dict):
        told = plain.get("standing", {})
        words = [told] if isinstance(told, str) else list(told.values())
        for word in words:
            if word is not None:  # of a value that is not known
                assert (word if isinstance(word, str) else word["standing"]) in STANDINGS
        for key, part in plain.items():
            if key != "standing":
                assert_standings(part)


def stone(piece: Any, name: str) -> Any:  # noqa: ANN401 - whatever JSON holds
    """Return a milestone of a piece."""
    return next(one for one in piece["milestones"] if one["name"] == name)


def is_range(found: Any) -> bool:  # noqa: ANN401 - whatever JSON holds
    """Whether it is a range that is no number alone."""
    return bool(found["low"] <= found["likely"] <= found["high"] and found["low"] < found["high"])


def spray_now(answers: Answers) -> None:
    (told,) = answers
    assert told["verdict"] == "fit"
    assert told["sentence"]
    assert len(told["limits"]) >= 8
    assert all(limit["error"] is not None for limit in told["limits"])
    assert told["surface_c"] == pytest.approx(20.5)
    assert told["liquid_c"] is None
    assert any("liquid not measured" in note for note in told["notes"])
    assert told["standing"]


def stay_so(answers: Answers) -> None:
    (told,) = answers
    ahead = told["ahead"]
    assert ahead["until"] > told["at"]
    assert set(ahead["turns"]) == {"early", "likely", "late"}
    assert len(ahead["hours"]) >= 3
    assert {"likely", "worst"} <= set(ahead["hours"][0])


def next_coat(answers: Answers) -> None:
    opens = stone(answers[0], "recoat-opens")
    assert opens["reached_at"] < opens["cautious_at"]
    assert answers[0]["window"]["state"] == "open"
    assert answers[0]["window"]["opens_at"] == opens["reached_at"]
    asked = answers[0]["standing"]["milestones.recoat-opens.required_hours"]
    assert asked["standing"] in STANDINGS
    assert asked["source"]


def latest_coat(answers: Answers) -> None:
    (told,) = answers
    assert told["chilled_young_hours"] > 9.0  # it was cold, and yet:
    assert told["last_coat_at"] == "2026-03-04T14:00:00.000Z"
    assert told["window"]["closes_at"] == "2026-03-05T14:00:00.000Z"
    assert stone(told, "recoat-closes")["required_hours"] == pytest.approx(24.0)


def missed(answers: Answers) -> None:
    window = answers[0]["window"]
    assert window["state"] == "missed"
    assert window["closes_at"] == "2026-03-03T14:00:00.000Z"
    assert "closed Tue 3 Mar 14:00" in window["sentence"]
    assert "scuff" in window["next_action"]


def wrinkle(answers: Answers) -> None:
    window = answers[0]["window"]
    assert window["state"] == "in-middle"
    assert "wrinkle" in window["sentence"]
    far_side = stone(answers[0], "recoat-opens")["eta"]
    assert window["reopens_at"] == far_side["late"] > far_side["likely"]


def film_on(answers: Answers) -> None:
    build = answers[0]["build"]
    film = build["film_um"]
    assert is_range(film)
    assert film["low"] <= (1.0 - DOUBT) * film["likely"] + 1e-9
    assert film["high"] >= (1.0 + DOUBT) * film["likely"] - 1e-9
    assert build["coats_measured"] == build["coats"] == 6
    assert not re.search(r"\d\.\d\d", build["sentence"])
    assert build["standing"]["film_um"]["standing"] == "from-memory"


def level(answers: Answers) -> None:
    (told,) = answers
    wet = stone(told, "wet-sand")
    assert told["last_coat_at"] == "2026-02-28T18:00:00.000Z"
    assert told["last_coat_at"] < wet["reached_at"] < wet["cautious_at"]
    assert wet["late_hours"] > wet["required_hours"]
    assert told["clocks"]["cure"]["standard_error"] > 0.0
    assert told["coverage_pct"] == pytest.approx(100.0)


def buff(answers: Answers) -> None:
    (told,) = answers
    asked, film = stone(told, "buff"), told["sink_back"]
    assert asked["required_hours"] > stone(told, "wet-sand")["required_hours"]
    assert asked["eta"]["early"] <= asked["eta"]["likely"] < asked["eta"]["late"]
    assert film["lost_if_buffed_now_um"] > film["tolerance_um"]
    assert film["decides"] is False
    assert "take it as advice" in film["sentence"]


def nail(answers: Answers) -> None:
    (told,) = answers
    (found,) = told["outcomes"]
    assert found["finding"] == "fine"
    assert found["proves"]["reach"] == "surface"
    assert "shortens no wait" in found["proves"]["sentence"]
    buffing = stone(told, "buff")
    assert buffing["cautious_at"] is None
    assert buffing["cautious_hours"] >= buffing["required_hours"]
    assert told["sentence"].startswith("Not ready")


def white(answers: Answers) -> None:
    (told,) = answers
    assert len(told["suspects"]) >= 2
    assert {one["weight"] for one in told["suspects"]} <= {"strong", "slight"}
    assert "no diagnosis" in told["sentence"]
    assert told["clean"]
    assert told["not_seen"]
    assert told["coverage_pct"] == pytest.approx(100.0)


def haze(answers: Answers) -> None:
    told = answers[0]["will_it_clear"]
    assert told["verdict"] == "may-clear"
    assert told["when"] is None
    assert "panel" in told["trial"]
    assert told["standing"] == "common-practice"


def cold_night(answers: Answers) -> None:
    old, young = (answer["nights"][0] for answer in answers)
    for night in (old, young):
        assert is_range(night["lost_against_reference_h"])
        assert is_range(night["lost_against_expected_h"])
        assert night["lost_against_reference_h"]["likely"] == pytest.approx(10.4, abs=0.5)
        assert night["coverage_pct"] == pytest.approx(100.0)
    assert old["pieces"][0]["may_be_harmed"] is False
    assert young["pieces"][0]["may_be_harmed"] is True


def heating(answers: Answers) -> None:
    (told,) = answers
    assert is_range(told["rate"]["against_room"])
    assert told["rate"]["against_room"]["high"] > 1.3 * told["rate"]["against_room"]["low"]
    assert told["wood_emc_pct"]["then"] < told["wood_emc_pct"]["as_it_is"]
    assert {"flash", "safety", "wood"} <= {one["about"] for one in told["cautions"]}


def lamp(answers: Answers) -> None:
    blind, seen = answers
    assert blind["rate"]["against_room"] is None
    assert "credited with nothing" in blind["rate"]["why_not_against_room"]
    assert blind["drying_rate"] is None
    assert seen["to"]["temp_c"] == pytest.approx(20.5)  # what the probe on the piece measures
    assert seen["rate"]["against_room"]["high"] < 1.0
    for told in answers:
        assert told["cautions"][0]["about"] == "surface"


def humid_week(answers: Answers) -> None:
    usual, retarded = answers
    for told in answers:
        assert told["verdict"] == "wait"
        assert {one["change"] for one in told["what_would_clear_it"]} & {"warmer", "drier"}
    slow, fast = retarded["blush"]["margin_wood_k"], usual["blush"]["margin_wood_k"]
    assert slow > fast
    assert not any("pour" in one["words"] for one in usual["what_would_clear_it"])


def pot(answers: Answers) -> None:
    (told,) = answers
    assert told["warmth_counted"] is True
    assert told["ends"]["early"] <= told["ends"]["likely"] <= told["ends"]["late"]
    assert told["ends"]["late"] <= "2026-03-05T17:00:00.000Z"  # eight hours by the sheet
    assert told["standing"]["life_h"]["source"]


def humidity(answers: Answers) -> None:
    lacquer, water = answers
    assert lacquer["rate"]["against_room"]["likely"] == pytest.approx(1.0)
    assert water["drying_rate"]["against_room"]["high"] < 0.8
    said = [
        next(o["text"] for o in a["cautions"] if o["about"] == "humidity-sign") for a in answers
    ]
    assert "risk of blush" in said[0]
    assert "rules the drying" in said[1]


def still_soft(answers: Answers) -> None:
    (told,) = answers
    asked = told["asked"]
    assert is_range(asked["effective_h"])
    assert asked["effective_h"]["high"] < asked["on_the_wall_h"]
    mate = told["others"][0]
    assert mate["piece"] == "MATE"
    assert {"pot", "lot"} <= set(mate["shares"])
    assert mate["findings"] == ["fine"]
    hints = {hint["about"]: hint for hint in told["hints"]}
    assert "its room explains part of a wait" in hints["wall"]["text"]
    assert "1 batch-mate 1 last found fine" in hints["lot"]["text"]
    assert told["small"] is True
    assert "too few to show a cause" in told["sentence"]
    assert told["not_seen"]


def onward(answers: Answers) -> None:
    gates = {gate["gate"]: gate for gate in answers[0]["gates"]}
    assert list(gates) == ["fit-up", "case", "ship"]
    for gate in gates.values():
        assert gate["verdict"] in {"test-first", "not-yet", "unknown"}
        assert gate["reason"]
        assert gate["test"]
    assert gates["case"]["waits_for"]["name"] == "full-cure"
    asked = [gates[name]["waits_for"]["required_hours"] for name in ("fit-up", "case")]
    assert asked[0] < asked[1]
    assert answers[0]["coldest_on_the_way_c"] == 2.0


def bench_list(answers: Answers) -> None:
    (told,) = answers
    for part in ("due", "ready", "coming"):
        assert told[part]
        assert all(row["reason"] and row["next_action"] for row in told[part])
    assert [row["piece"] for row in told["due"]] == ["NEXT"]
    assert "STACK" in {row["piece"] for row in told["ready"]}
    instants = [row["at"] for row in told["ready"]]
    assert instants == sorted(instants)


def sank(answers: Answers) -> None:
    (told,) = answers
    hints = {hint["about"]: hint["says"] for hint in told["hints"]}
    assert hints["effective hours at the buff"] == "differs"
    assert hints["build"] == "alike"
    assert told["small"] is True
    assert "too few to show a cause" in told["sentence"]
    assert "cause" not in " ".join(hint["text"] for hint in told["hints"])
    assert [one["judged"] for one in (told["asked"], *told["others"])] == ["buff", "buff"]


def hygrometer(answers: Answers) -> None:
    beside, salt = answers
    assert beside["humidity"]["says"] == "apart"
    assert beside["humidity"]["difference"] == pytest.approx(-8.0, abs=0.1)
    assert beside["humidity"]["allowed"] > 0.0
    assert beside["temperature"]["says"] == "within"
    assert salt["humidity"]["says"] == "off"
    assert len(salt["steps"]) >= 4
    for told in answers:
        assert "nothing here makes a sensor right" in told["not_proved"]


def no_power(answers: Answers) -> None:
    gaps, piece = answers
    (silence,) = gaps["silences"]
    assert silence["credited_h"] == 0.0
    assert is_range(silence["may_have_earned_h"])
    assert silence["may_have_earned_h"]["high"] < gaps["gaps"][0]["hours"]
    (gap,) = piece["gaps"]
    assert (gap["start"], gap["stop"]) == (silence["start"], silence["stop"])
    assert piece["coverage_pct"] == pytest.approx(100.0 * (494.0 - 24.17) / 494.0, abs=0.1)
    assert piece["clocks"]["cure"]["covered_hours"] == pytest.approx(494.0 - 24.17, abs=0.1)


def seasons(answers: Answers) -> None:
    (told,) = answers
    assert is_range(told["times_as_long"])
    assert told["times_as_long"]["low"] > 1.3
    assert told["against_month"] == "2025-07"
    hardly = told["months"][0]
    assert hardly["coverage_pct"] < 50.0
    assert hardly["day_worth_h"] is None
    assert all(is_range(month["day_worth_h"]) for month in told["months"][1:])
    assert any("thick" in reason for reason in told["not_seen"])
    assert any("lot" in reason for reason in told["not_seen"])


HONEST: dict[int, Callable[[Answers], None]] = dict(
    enumerate(
        (
            spray_now,
            stay_so,
            next_coat,
            latest_coat,
            missed,
            wrinkle,
            film_on,
            level,
            buff,
            nail,
            white,
            haze,
            cold_night,
            heating,
            lamp,
            humid_week,
            pot,
            humidity,
            still_soft,
            onward,
            bench_list,
            sank,
            hygrometer,
            no_power,
            seasons,
        ),
        start=1,
    )
)


def test_unknown_stays_unknown_where_nothing_was_heard(shop: QuestionsShop) -> None:
    shop.do("piece", "hang", "LOST", "--finish", "waterborne", "--at", "3d ago")
    shop.do("coat", "LOST", "--no-pot", "--at", "2d ago")
    told = shop.ask("piece", "show", "LOST", "--json").plain
    assert told["room"] is None
    assert told["clocks"]["cure"]["effective_hours"] == 0.0
    assert told["coverage_pct"] == 0.0
    beside = shop.ask("piece", "compare", "LOST", "HELD", "--json").plain
    assert beside["asked"]["effective_h"] is None
    assert beside["asked"]["why_no_hours"]
    gates = shop.ask("piece", "onward", "LOST", "--json").plain["gates"]
    assert {gate["verdict"] for gate in gates} == {"not-yet"}


def test_the_figures_of_the_page_are_those_in_use() -> None:
    flat = " ".join(PAGE.split())
    low, high = TAKEN_UM[WorkKind.LEVEL]
    assert f"No less than {DOUBT * 100:.0f} %" in flat
    assert f"A scuff takes up to {TAKEN_UM[WorkKind.SCUFF][1]:g} µm" in flat
    assert f"levelling or wet sanding {low:g} to {high:g}" in flat
    assert TAKEN_UM[WorkKind.WET_SAND] == TAKEN_UM[WorkKind.LEVEL]
    assert f"Below {COLD_ROAD_C:g} °C on the way" in flat
    assert FEW == 10
    table, magnesium = (
        100.0 * (keeps_rh_frac(salt, 25.0) or 0.0) for salt in ("table", "magnesium")
    )
    assert f"table salt {table:.1f} % at 25 °C" in flat
    assert f"magnesium chloride {magnesium:.1f} %" in flat
    assert {"waterborne", "nitro-lacquer"} <= set(shipped_names())


def test_a_passed_test_is_said_to_be_of_the_surface_when_it_is_logged(shop: QuestionsShop) -> None:
    said = " ".join(shop.ask("outcome", "add", "STACK", "fine", "--at", "3h ago").text.split())
    assert "A passed test is evidence of the surface" in said
    assert "By itself it shortens no wait" in said
    (row,) = shop.ask("outcome", "STACK", "nail-dent", "--at", "2h ago", "--json").plain["outcomes"]
    assert row["proves"]["reach"] == "film"
