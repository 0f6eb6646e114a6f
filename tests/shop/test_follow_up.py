"""Follow-ups: when a finished piece is asked about, and what answers the question."""

from __future__ import annotations

from dataclasses import replace

import pytest

from curewatch.shop.alert import AlertPhase
from curewatch.shop.follow_up import (
    DAY_MS,
    LAPSES_MS,
    due,
    follow_up_conditions,
    may_be_asked,
    next_change_ms,
)
from curewatch.shop.piece import Outcome, Piece, Work, WorkKind
from curewatch.shop.watch import Watch
from tests.shop.scene import at_h, finish, piece, shop_of, steady

BUFFED_MS = at_h(500.0)
BUFFED = piece("acid-cure", [0.0], work=[(WorkKind.BUFF, 500.0)])


def asked(of: Piece, days: float) -> list[int]:
    """Return the days of the questions that are open so many days after the buff."""
    return [one.days for one in due(of, BUFFED_MS + round(days * DAY_MS))]


def found(days: float) -> Outcome:
    return Outcome(BUFFED_MS + round(days * DAY_MS), "fine")


@pytest.mark.parametrize(
    ("days", "open_questions"),
    [(0, []), (29.9, []), (30, [30]), (89.9, [30]), (90, [90]), (180, [180]), (500, [180])],
)
def test_a_buffed_piece_is_asked_about_after_30_90_and_180_days(
    days: float, open_questions: list[int]
) -> None:
    assert asked(BUFFED, days) == open_questions


def test_an_unanswered_question_lapses_after_a_year() -> None:
    last_ms = BUFFED_MS + 180 * DAY_MS + LAPSES_MS
    assert due(BUFFED, last_ms - 1) != ()
    assert due(BUFFED, last_ms) == ()


def test_an_outcome_within_its_span_answers_and_an_early_one_only_by_two_days() -> None:
    assert asked(replace(BUFFED, outcomes=(found(28),)), 31) == []
    assert asked(replace(BUFFED, outcomes=(found(27),)), 31) == [30]
    assert asked(replace(BUFFED, outcomes=(found(31),)), 40) == []
    assert asked(replace(BUFFED, outcomes=(found(31),)), 91) == [90]
    assert asked(replace(BUFFED, outcomes=(found(45),)), 40) == [30]  # not found yet by then


def test_a_closed_question_is_not_asked_again() -> None:
    closed = replace(BUFFED, closed_days=(90,))
    assert [asked(closed, days) for days in (31, 91, 181)] == [[30], [], [180]]


def test_a_piece_that_left_unbuffed_is_asked_about_from_then_on() -> None:
    left = replace(piece("acid-cure", [0.0]), left_ms=BUFFED_MS)
    assert asked(left, 31) == [30]
    assert asked(piece("acid-cure", [0.0]), 31) == []
    assert asked(replace(Piece("A1", "acid-cure"), left_ms=BUFFED_MS), 31) == []  # never coated
    assert asked(replace(BUFFED, left_ms=BUFFED_MS + 10 * DAY_MS), 31) == [30]  # by its buff


def test_a_coat_after_the_buff_begins_it_anew() -> None:
    again = piece("acid-cure", [0.0, 600.0], work=[(WorkKind.BUFF, 500.0)])
    assert asked(again, 31) == []
    assert not may_be_asked(again)
    bare = replace(BUFFED, coats=())
    assert asked(bare, 31) == [30]  # coats not entered: the buff alone counts


def test_work_done_anyway_is_asked_about_after_7_and_30_days_with_its_reason() -> None:
    early = Work(WorkKind.BUFF, BUFFED_MS, anyway="show on Friday", who="ann")
    forced = replace(BUFFED, work=(early,))
    assert [asked(forced, days) for days in (6, 7, 29, 30, 90)] == [
        *([], [7], [7], [30], [30, 90]),
    ]
    (one,) = due(forced, BUFFED_MS + 7 * DAY_MS)
    assert one.question == ("done before it was ready 7 days ago (show on Friday): did it hold?")
    assert (one.anyway, one.tag, one.since_ms) == ("show on Friday", "B12", BUFFED_MS)
    levelled = replace(BUFFED, work=(replace(early, kind=WorkKind.LEVEL),))
    assert [asked(levelled, days) for days in (7, 91)] == [[7], [30]]


def test_the_next_change_is_the_next_day_of_a_question_or_its_lapse() -> None:
    assert next_change_ms(BUFFED, BUFFED_MS - 1) == BUFFED_MS
    days = [30, 60, 90, 120, 180, 210]  # due, or no more told of
    for before, after in zip([0, *days], days, strict=False):
        assert next_change_ms(BUFFED, BUFFED_MS + before * DAY_MS) == BUFFED_MS + after * DAY_MS
    last_ms = BUFFED_MS + 180 * DAY_MS + LAPSES_MS
    assert next_change_ms(BUFFED, last_ms) is None
    assert next_change_ms(piece("acid-cure"), 0) is None


def test_a_question_is_told_as_a_note_until_it_is_answered() -> None:
    shop = shop_of({"loft": steady(1.0)}, finishes=[finish("acid-cure")])
    shop.finished = (BUFFED,)
    watch = Watch(shop)
    at_ms = BUFFED_MS + 30 * DAY_MS
    assert watch.step(at_ms - 60_000) == []
    (raised,) = watch.step(at_ms)
    assert (raised.kind, raised.subject, raised.phase) == (
        *("follow-up", "follow-up:B12#30", AlertPhase.RAISED),
    )
    assert raised.urgency == "note"
    assert "--days 30" in raised.next_action
    assert watch.step(at_ms + 60_000) == []
    shop.finished = (replace(BUFFED, outcomes=(found(31),)),)
    (cleared,) = watch.step(at_ms + DAY_MS + 60_000)
    assert cleared.phase is AlertPhase.CLEARED
    assert follow_up_conditions(shop.finished[0], at_ms + DAY_MS + 60_000) == []


def test_an_old_question_is_listed_and_no_more_told() -> None:
    for days, told in ((30, True), (59.9, True), (60, False), (95, True), (300, False)):
        at_ms = BUFFED_MS + round(days * DAY_MS)
        assert due(BUFFED, at_ms) != ()
        assert bool(follow_up_conditions(BUFFED, at_ms)) == told


def test_a_question_at_rest_speaks_again_and_one_of_a_piece_that_is_gone_is_cleared() -> None:
    shop = shop_of({"loft": steady(1.0)}, finishes=[finish("acid-cure")])
    shop.finished = (BUFFED,)
    watch = Watch(shop)
    at_ms = BUFFED_MS + 30 * DAY_MS
    (raised,) = watch.step(at_ms)
    resting = replace(raised, phase=AlertPhase.RESTING, rest_until_ms=at_ms + DAY_MS, id=1)
    watch.replace_alerts([resting])
    assert watch.step(at_ms + 60_000) == []
    (again,) = watch.step(at_ms + DAY_MS)
    assert again.phase is AlertPhase.RAISED
    shop.finished = ()
    (gone,) = watch.step(at_ms + DAY_MS + 60_000)
    assert gone.phase is AlertPhase.CLEARED
