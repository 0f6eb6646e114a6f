from __future__ import annotations

from dataclasses import replace

import pytest

from curewatch.shop.alert import AlertKind
from curewatch.shop.alert_words import heading
from curewatch.shop.assessment import assess_piece
from curewatch.shop.conditions import Condition, piece_conditions
from curewatch.shop.finish import MilestoneName
from curewatch.shop.piece import Piece, Work, WorkKind
from curewatch.shop.reading import Urgency
from curewatch.shop.verdict import next_milestone
from tests.shop.scene import at_h, finish, piece, shop_of, steady

K = AlertKind


def found(hung: Piece, now_h: float) -> list[Condition]:
    shop = shop_of({"loft": steady(40.0)}, finishes=[finish(hung.finish)], pieces=[hung])
    return piece_conditions(assess_piece(shop, hung, at_h(now_h)), hung, at_h(now_h))


def kinds(hung: Piece, now_h: float) -> list[AlertKind]:
    return [condition.kind for condition in found(hung, now_h)]


def test_a_bare_piece_has_nothing_to_say() -> None:
    assert kinds(piece("waterborne", []), 5.0) == []
    assert kinds(piece("waterborne", [9.0]), 5.0) == []


@pytest.mark.parametrize(
    ("now_h", "expected"),
    [
        (0.5, []),
        (0.92, []),
        (1.5, [K.RECOAT_OPEN]),
        (3.5, [K.RECOAT_CLOSING]),
        (5.0, [K.RECOAT_MISSED]),
    ],
)
def test_a_window_is_told_open_closing_and_missed(now_h: float, expected: list[K]) -> None:
    assert kinds(piece("two-part-urethane", planned=3), now_h) == expected


def test_while_a_coat_is_planned_no_later_job_is_told_ready() -> None:
    assert kinds(piece("two-part-urethane", planned=3), 200.0) == [K.RECOAT_MISSED]
    assert K.READY_WET_SAND in kinds(piece("two-part-urethane", planned=1), 200.0)
    assert K.READY_WET_SAND in kinds(piece("two-part-urethane"), 200.0)


def test_a_film_buffed_early_is_told_for_its_gloss_once_its_hours_are_met() -> None:
    early = Work(WorkKind.BUFF, at_h(45.0), anyway=True)
    hung = piece("waterborne", planned=1, work=[(WorkKind.LEVEL, 40.0)])
    (told,) = found(replace(hung, work=(*hung.work, early)), 900.0)
    assert told.kind is K.READY_BUFF
    assert "buffed early, its hours are met now: judge the gloss" in told.reason
    assert heading(told.kind, told.reason) == "judge the gloss"


def test_inside_a_forbidden_middle_the_window_is_missed() -> None:
    (middle,) = found(piece("acid-cure", planned=2), 5.0)
    assert (middle.kind, middle.urgency) == (K.RECOAT_MISSED, Urgency.TODAY)
    assert "forbidden middle" in middle.reason


def test_a_last_call_is_urgent_and_a_missed_window_is_for_today() -> None:
    hung = piece("two-part-urethane", planned=3)
    assert [found(hung, h)[0].urgency for h in (1.5, 3.5, 5.0)] == [
        Urgency.NOTE,
        Urgency.NOW,
        Urgency.TODAY,
    ]


def test_where_nobody_said_how_many_coats_a_closing_window_is_only_a_note_with_a_hint() -> None:
    hung = piece("two-part-urethane")
    for now_h in (3.5, 5.0):
        (told,) = found(hung, now_h)
        assert told.urgency is Urgency.NOTE
        assert told.next_action.endswith(
            "If that was the last coat, say so: curewatch piece done B12"
        )
    assert "last coat" not in found(hung, 1.5)[0].next_action


def test_once_all_coats_are_on_no_window_is_told() -> None:
    hung = piece("two-part-urethane", [0.0, 2.0], planned=2)
    assert [kinds(hung, h) for h in (3.5, 5.5, 9.0)] == [[], [], []]


def test_ready_milestones_are_told_one_after_the_other_as_the_work_is_done() -> None:
    hung = piece("waterborne", [0.0], planned=1)
    assert kinds(hung, 59.0) == []
    (ready,) = found(hung, 70.0)
    assert (ready.kind, ready.urgency) == (K.READY_WET_SAND, Urgency.TODAY)
    assert "70 of 60 effective hours on 1 coat, " in ready.reason
    sanded = replace(hung, work=piece("", work=[(WorkKind.WET_SAND, 71.0)]).work)
    assert kinds(sanded, 72.0) == [K.READY_BUFF]
    buffed = replace(hung, work=piece("", work=[(WorkKind.BUFF, 73.0)]).work)
    assert kinds(buffed, 74.0) == []
    (cured,) = found(buffed, 700.0)
    assert (cured.kind, cured.urgency) == (K.CURED, Urgency.NOTE)


def test_work_before_the_last_coat_or_still_to_come_does_not_count_as_done() -> None:
    hung = piece("waterborne", [0.0, 5.0], planned=2, work=[(WorkKind.WET_SAND, 2.0)])
    assert K.READY_WET_SAND in kinds(hung, 100.0)
    ahead = piece("waterborne", [0.0], planned=1, work=[(WorkKind.WET_SAND, 200.0)])
    assert kinds(ahead, 100.0) == [K.READY_WET_SAND]


def test_a_finish_that_is_never_wet_sanded_is_buffed_next() -> None:
    of = finish("waterborne")
    bare = {k: v for k, v in of.requirements.items() if k is not MilestoneName.WET_SAND}
    hung = piece("waterborne", [0.0], planned=1)
    shop = shop_of({"loft": steady(9.0)}, finishes=[replace(of, requirements=bare)], pieces=[hung])
    now = assess_piece(shop, hung, at_h(30.0))
    stone = next_milestone(now, hung, at_h(30.0))
    assert stone is not None
    assert stone.name is MilestoneName.BUFF
    assert [c.kind for c in piece_conditions(now, hung, at_h(30.0))] == [K.READY_BUFF]


def test_a_film_cured_by_dose_is_never_told_ready() -> None:
    assert kinds(piece("dose-cured", [0.0], planned=1), 900.0) == []


def test_a_deed_out_of_time_is_told_for_a_week() -> None:
    hung = piece("waterborne", [0.0, 0.3], planned=2)
    assert kinds(hung, 0.3) == [K.COAT_EARLY]
    (told,) = [c for c in found(hung, 100.0) if c.kind is K.COAT_EARLY]
    assert told.subject == f"piece:B12#coat-{at_h(0.3)}"
    assert K.COAT_EARLY in kinds(hung, 0.3 + 7 * 24 - 0.01)
    assert K.COAT_EARLY not in kinds(hung, 0.3 + 7 * 24)


def test_each_deed_has_an_alert_of_its_own() -> None:
    hung = piece("waterborne", [0.0, 0.3, 0.6], planned=3, work=[(WorkKind.LEVEL, 5.0)])
    keys = {condition.key for condition in found(hung, 6.0)}
    assert len(keys) == 3


def test_what_rests_on_a_fill_is_told_with_the_ready_alert() -> None:
    hung = piece("waterborne", [0.0], planned=1)
    shop = shop_of({"loft": steady(150.0)}, finishes=[finish(hung.finish)], pieces=[hung])
    now = replace(assess_piece(shop, hung, at_h(100.0)), assumed="Of these hours 9 h rest on it.")
    (ready,) = piece_conditions(now, hung, at_h(100.0))
    assert ready.kind is K.READY_WET_SAND
    assert ready.reason.endswith("on 1 coat, cautious end included. Of these hours 9 h rest on it.")
