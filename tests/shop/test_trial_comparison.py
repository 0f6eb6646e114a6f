"""Boards at equal effective age, judges apart, gloss retained, and the history behind a score."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.shop.piece import Stay, WorkKind
from curewatch.shop.plain_trial import (
    comparison_plain,
    history_plain,
    score_plain,
    sheet_plain,
    trial_plain,
)
from curewatch.shop.standings import numbers, told_at
from curewatch.shop.trial import Measure, Quality, Scale, Score, Trial
from curewatch.shop.trial_comparison import (
    Comparison,
    compare,
    measures_in,
    occasions,
    warnings,
)
from curewatch.shop.trial_history import History, history
from curewatch.shop.trial_sheets import SHEETS
from tests.shop.scene import HOUR_MS, at_h, every, finish, piece, readings, shop_of, steady

HAZE = Measure(Quality.HAZE)
GLOSS = Measure(Quality.GLOSS, "GU", 60.0)
SCALE = Scale(10.0, 0.0, "0 clear, 10 fog")
WEEK_H = 168.0


def score(value: float, hours: float, who: str = "", measure: Measure = HAZE) -> Score:
    """Return a score given so many hours after the scene begins."""
    return Score(measure, value, at_h(hours), who=who)


def aged(tag: str, at_ms: int) -> History:
    """Return a history in which board C cures at half the pace of the others, D unwatched."""
    wall_h = (at_ms - at_h(0.0)) / HOUR_MS
    pace = 0.5 if tag.startswith("C") else 1.0
    cover = 50.0 if tag.startswith("D") else 100.0
    return History("waterborne", 2, wall_h, wall_h * pace, 1.0, cover, 21.0, 0.5)


def found(
    scores: dict[str, list[Score]], measure: Measure = HAZE, equal_age: float = 0.2
) -> Comparison:
    """Return a comparison by the made-up ages."""
    return compare(measure, scores, scale=SCALE, history_of=aged, equal_age=equal_age)


def test_boards_are_compared_at_equal_effective_age_not_on_the_same_day() -> None:
    told = found({
        "A1": [score(2.0, 100.0), score(3.0, 200.0)],
        "C1": [score(8.0, 100.0), score(5.0, 200.0)],
    })  # fmt: skip
    pairs = [[(one.tag, one.value) for one in row.compared] for row in told.rows]
    assert [("A1", 2.0), ("C1", 5.0)] in pairs  # C1 at 200 h is as old as A1 at 100
    assert all(("C1", 8.0) not in pair for pair in pairs if len(pair) > 1)


def test_ages_too_far_apart_are_refused_with_the_reason() -> None:
    scores = {"A1": [score(2.0, 100.0)], "B1": [score(4.0, 140.0)]}
    row = found(scores).rows[0]
    assert [cell.refused for cell in row.cells] == ["", "ages differ by 40 %"]
    assert row.apart is None
    assert row.sentence.startswith("Fewer than two boards")
    wide = found(scores, equal_age=0.5).rows[0]
    assert wide.apart == 2.0


def test_two_boards_on_either_side_of_a_third_are_not_both_taken() -> None:
    row = found({
        "A1": [score(1.0, 100.0)], "A2": [score(2.0, 115.0)], "A3": [score(3.0, 88.0)],
    }).rows[0]  # fmt: skip
    assert [cell.refused for cell in row.cells] == ["", "ages differ by 31 %", ""]


def test_an_age_that_was_not_watched_is_no_age() -> None:
    told = found({
        "A1": [score(1.0, 100.0)], "A2": [score(2.0, 100.0)], "D1": [score(3.0, 100.0)], "E1": [],
    })  # fmt: skip
    refused = [cell.refused for cell in told.rows[0].cells]
    assert refused == ["", "", "readings cover only 50 % of its time", "not judged"]
    assert [one.tag for one in told.unused] == ["D1"]


def test_one_board_alone_is_no_comparison() -> None:
    told = found({"A1": [score(1.0, 100.0)], "A2": []})
    assert told.rows == ()
    assert len(told.unused) == 1


def test_judges_of_one_occasion_stand_together_and_their_spread_counts() -> None:
    told = found({
        "A1": [score(2.0, 100.0, "ann"), score(4.0, 101.0, "bo")],
        "A2": [score(4.0, 100.0, "ann"), score(5.0, 101.0, "bo")],
    })  # fmt: skip
    row = told.rows[0]
    assert [one.value for one in row.compared] == [3.0, 4.5]
    assert row.judges_apart == 2.0
    assert row.apart == 1.5
    assert row.sentence.endswith("no difference can be told.")
    far = found({
        "A1": [score(1.0, 100.0, "ann"), score(2.0, 101.0, "bo")],
        "A2": [score(8.0, 100.0, "ann"), score(9.0, 101.0, "bo")],
    })  # fmt: skip
    assert far.rows[0].sentence.endswith("a difference, on these boards and at this age.")


def test_without_a_second_judge_no_difference_is_claimed() -> None:
    row = found({"A1": [score(2.0, 100.0)], "A2": [score(9.0, 100.0)]}).rows[0]
    assert row.judges_apart is None
    assert "is not known" in row.sentence


def test_occasions_are_half_a_day_apart() -> None:
    mine = [score(1.0, 100.0), score(2.0, 112.0), score(3.0, 112.5)]
    assert [len(one.values) for one in occasions("A1", mine, aged)] == [2, 1]
    assert occasions("A1", mine, aged)[0].spread == 1.0
    assert occasions("A1", mine, aged)[1].spread is None


def test_measured_gloss_is_retained_as_a_share_of_the_first_reading() -> None:
    told = found(
        {
            "A1": [score(80.0, 100.0, measure=GLOSS), score(72.0, 100.0 + WEEK_H, measure=GLOSS)],
            "A2": [score(0.0, 100.0, measure=GLOSS), score(5.0, 100.0 + WEEK_H, measure=GLOSS)],
            "A3": [score(9.0, 100.0)],
        },
        GLOSS,
    )
    first, second = told.retained
    assert first.share == pytest.approx(0.9)
    assert first.weeks == pytest.approx(1.0)
    assert not first.worked
    assert second.share is None
    assert told.scale is None  # a measured unit has no scale of the shop's
    assert not found({"A1": [score(8.0, 1.0), score(7.0, 500.0)]}).retained


def test_gloss_after_more_work_is_another_surface() -> None:
    def buffed(tag: str, at_ms: int) -> History:
        later = at_ms > at_h(150.0)
        return replace(aged(tag, at_ms), work=(WorkKind.BUFF,) if later else ())

    mine = [score(80.0, 100.0, measure=GLOSS), score(85.0, 300.0, measure=GLOSS)]
    told = compare(GLOSS, {"A1": mine}, scale=None, history_of=buffed)
    assert told.retained[0].worked


def test_measures_are_told_apart_and_ordered() -> None:
    at_20 = Measure(Quality.GLOSS, "GU", 20.0)
    scores = {"A1": [score(1.0, 1.0), score(80.0, 1.0, measure=GLOSS)],
              "A2": [score(60.0, 1.0, measure=at_20)]}  # fmt: skip
    assert measures_in(scores) == (at_20, GLOSS, HAZE)


def test_small_numbers_are_warned_of() -> None:
    told = found({
        "A1": [score(2.0, 100.0, "ann"), score(4.0, 101.0, "ann")],
        "A2": [score(4.0, 100.0), score(4.0, 600.0)],
    })  # fmt: skip
    said = " ".join(warnings(told, {"A1": "waterborne", "A2": "shellac"}))
    assert "Fewer than 3 boards of shellac, waterborne" in said
    assert "come from one person" in said
    assert "One of the scoring times" not in said
    assert "1 of the scoring times stand in no comparison" in said
    many = dict.fromkeys(("A1", "A2", "A3"), "waterborne")
    calm = found({tag: [score(2.0, 100.0, "ann")] for tag in many})
    assert warnings(calm, many) == ()


def test_the_history_behind_a_score() -> None:
    hours = every(10.0, 240.0)
    series = readings(hours, 18.0, 0.6)
    board = piece("two-part-urethane", [0.0, 4.0], work=[(WorkKind.BUFF, 90.0)])
    shop = shop_of({"loft": series}, finishes=[finish("two-part-urethane")], pieces=[board])
    told = history(shop, board, at_h(104.0))
    assert told.coats == 2
    assert told.wall_h == pytest.approx(100.0)
    # by hand: 45 kJ/mol at 18 degC: exp(-45000/8.314 (1/291.15 - 1/294.15)) = 0.8273
    assert told.effective_h == pytest.approx(82.7, abs=0.1)
    assert told.age_h == told.effective_h
    assert told.standard_error_h is not None
    assert told.standard_error_h > 1.0
    assert told.coverage_pct == pytest.approx(100.0)
    assert told.mean_temp_c == pytest.approx(18.0)
    assert told.mean_rh_frac == pytest.approx(0.6)
    assert told.work == (WorkKind.BUFF,)
    assert told.why_no_age == ""


def test_what_is_not_known_of_a_boards_history_is_said() -> None:
    bare = piece("waterborne", [50.0])
    dose = piece("dose-cured", [0.0])
    away = piece("waterborne", [0.0], stays=[Stay("cellar", at_h(0.0)), Stay("loft", at_h(300.0))])
    shop = shop_of(
        {"loft": steady(10.0, 21.0, None)},
        finishes=[finish("waterborne"), finish("dose-cured")],
        pieces=[bare],
    )
    before = history(shop, bare, at_h(10.0))
    assert (before.coats, before.age_h, before.why_no_age) == (0, None, "no coat was on it")
    at_once = history(shop, bare, at_h(50.0))
    assert at_once.coverage_pct is None
    assert at_once.why_no_age == "it had earned nothing yet"
    assert history(shop, dose, at_h(10.0)).why_no_age == "its finish has no clock"
    unseen = history(shop, away, at_h(100.0))
    assert unseen.mean_temp_c is None
    assert unseen.why_no_age == "readings cover only 0 % of its time"
    deaf = history(shop, piece("waterborne", [0.0]), at_h(100.0))
    assert deaf.mean_temp_c == pytest.approx(21.0)
    assert deaf.mean_rh_frac is None


def test_a_cold_board_that_earned_nothing_has_no_age() -> None:
    board = piece("waterborne", [0.0])
    shop = shop_of({"loft": steady(5.0, 5.0)}, finishes=[finish("waterborne")], pieces=[board])
    told = history(shop, board, at_h(100.0))
    assert told.coverage_pct == pytest.approx(100.0)
    assert told.age_h is None
    assert told.why_no_age == "it had earned nothing yet"


def test_plain_data_holds_scores_their_history_and_why_one_is_left_out() -> None:
    told = found({
        "A1": [score(2.0, 100.0, "ann")], "A2": [score(4.0, 100.0), score(5.0, 500.0)], "E1": [],
    })  # fmt: skip
    plain = comparison_plain(told, {"A1": "waterborne", "A2": "waterborne", "E1": "shellac"})
    row = plain["rows"][0]  # type: ignore[index] # JSON
    assert row["boards"][0]["share_of_scale"] == pytest.approx(0.8)  # type: ignore[index, call-overload] # JSON
    assert row["boards"][2] == {"board": "E1", "left_out_because": "not judged"}  # type: ignore[index, call-overload] # JSON
    assert plain["scale"] == {"worst": 10.0, "best": 0.0, "words": "0 clear, 10 fog"}
    assert len(plain["not_compared"]) == 1  # type: ignore[arg-type] # JSON
    gloss = found({"A1": [score(80.0, 1.0, measure=GLOSS), score(40.0, 169.0, measure=GLOSS)]},
                  GLOSS)  # fmt: skip
    assert comparison_plain(gloss, {"A1": "shellac"})["retained_gloss"] == [
        {"board": "A1", "weeks": 1.0, "share_of_first": 0.5, "worked_on_since": False}
    ]
    pencil = Score(Measure(Quality.HARDNESS, "pencil"), 9.0, at_h(0.0), id=3)
    assert score_plain("A1", pencil)["pencil"] == "2H"
    trial = Trial("T1", "which hazes", at_h(0.0), ("A1",), {Quality.HAZE: SCALE})
    assert trial_plain(trial)["scales"] == {"haze": plain["scale"]}
    assert history_plain(History("shellac", 0))["mean_rh_pct"] is None
    assert sheet_plain(SHEETS[Quality.MAR])["standing"] == "common-practice"


@given(
    ages=st.lists(st.lists(st.floats(1.0, 5000.0), min_size=1, max_size=4), min_size=2, max_size=4),
    equal_age=st.floats(0.01, 1.0),
)
def test_no_row_ever_holds_ages_farther_apart_than_was_said(
    ages: list[list[float]], equal_age: float
) -> None:
    scores = {f"A{n}": [score(1.0, age) for age in mine] for n, mine in enumerate(ages)}
    for row in found(scores, equal_age=equal_age).rows:
        held = [one.history.age_h or 0.0 for one in row.compared]
        assert max(held) / min(held) - 1.0 <= equal_age + 1e-12
        assert len(row.cells) == len(scores)


def test_every_number_of_a_comparison_says_where_it_comes_from() -> None:
    told = found({
        "A1": [score(2.0, 100.0, "ann")], "A2": [score(4.0, 100.0), score(5.0, 500.0)],
    })  # fmt: skip
    plain = comparison_plain(told, {"A1": "waterborne", "A2": "waterborne"})
    history_of = plain["rows"][0]["boards"][0]["history"]  # type: ignore[index, call-overload] # JSON
    assert isinstance(history_of, dict)
    for part in (plain, history_of):
        standing = part["standing"]
        assert isinstance(standing, dict)
        places = [place for place, _ in numbers(part)]
        assert places
        assert [place for place in places if told_at(standing, place) is None] == []
