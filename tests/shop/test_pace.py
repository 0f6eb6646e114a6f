"""Pace: a shop's own outcomes move the cautious end of the waits, within their guards."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curewatch.science.learning import Finding, learn
from curewatch.shop.assessment import assess_piece
from curewatch.shop.deeds import work_deed
from curewatch.shop.finish import Figure, MilestoneName, PacePriorName, Requirement
from curewatch.shop.laws import required_h
from curewatch.shop.pace import judge, learnt_of, pace_now, pace_sentence, paces, prior_of
from curewatch.shop.piece import Outcome, Piece, Work, WorkKind
from curewatch.shop.reading import Standing
from curewatch.shop.waits import DOUBTS, need, slowness
from tests.shop.scene import at_h, finish, piece, readings, shop_of, steady
from tests.shop.test_watch_against_plain import NAMES, Scenario

if TYPE_CHECKING:
    from collections.abc import Sequence

    from curewatch.science.learning import Learnt
    from curewatch.shop.finish import Finish
    from curewatch.shop.milestones import Milestone
    from curewatch.shop.shop import Shop

WATER = replace(finish("waterborne"), film=None)
BUFF, LEVEL = MilestoneName.BUFF, MilestoneName.WET_SAND


def taught(*ratios: tuple[float, bool], about: MilestoneName = BUFF, of: Finish = WATER) -> Learnt:
    return learn([Finding(r, fine, about=str(about)) for r, fine in ratios], prior_of(of))


def buffed(tag: str, buff_h: float, *found: tuple[float, str]) -> Piece:
    """Return four coats at the start, levelled, buffed; then what was found, when."""
    mine = piece("waterborne", [0.0] * 4, tag=tag, planned=4, work=[(WorkKind.BUFF, buff_h)])
    return replace(mine, outcomes=tuple(Outcome(at_h(h), word) for h, word in found))


def shop_with(
    pieces: Sequence[Piece], days: float = 60, finishes: Sequence[Finish] = (WATER,)
) -> Shop:
    shop = shop_of({"loft": steady(days)}, finishes=finishes, pieces=pieces)
    shop.judged = {one.tag: judge(one, shop.finish_of(one), shop) for one in pieces}
    shop.paces = paces(finishes, shop.judged.values(), {})
    return shop


def buff_of(shop: Shop, mine: Piece, now_h: float) -> Milestone:
    stone = assess_piece(shop, mine, at_h(now_h)).milestone(BUFF)
    assert stone is not None
    return stone


def test_an_outcome_speaks_of_the_hours_at_the_deed_and_counts_twice_when_late() -> None:
    mine = buffed("A", 120.0, (130.0, "fine"), (120.0 + 26 * 24, "grain-back"))
    shop = shop_with([mine])
    early, late = shop.judged["A"].said
    assert early.finding is None  # outdone by the fault seen later in the same film
    assert late.finding is not None
    assert late.finding.ratio == pytest.approx(120 / 96, rel=1e-6)
    assert (late.finding.fine, late.finding.weight) == (False, 2.0)


def test_nothing_is_learnt_of_hours_that_nobody_measured() -> None:
    mine = buffed("A", 120.0, (130.0, "fine"))
    hours = np.concatenate((np.arange(0, 60, 0.2), np.arange(118, 200, 0.2)))
    shop = shop_of({"loft": readings(hours, 21.0, 0.5)}, finishes=[WATER], pieces=[mine])
    assert [each.finding for each in judge(mine, WATER, shop).said] == [None]


def test_without_outcomes_nothing_changes() -> None:
    mine = piece("waterborne", [0.0] * 4, planned=4)
    shop = shop_of({"loft": steady(20)}, finishes=[WATER], pieces=[mine])
    stone = buff_of(shop, mine, 200.0)
    assert shop.learnt_of(WATER) is None
    assert stone.cautious_hours == stone.required_hours == 96.0
    assert pace_now(WATER, None).outcomes == 0
    assert pace_now(WATER, None).median == pytest.approx(0.67, abs=0.01)


def test_too_early_lengthens_the_cautious_end_and_leaves_the_rule() -> None:
    mine = piece("waterborne", [0.0] * 4, tag="N", planned=4)
    bad = [buffed(f"A{i}", 110.0, (900.0, "gloss-lost")) for i in range(3)]
    shop = shop_with([mine, *bad])
    stone = buff_of(shop, mine, 400.0)
    assert stone.reached_at == pytest.approx(at_h(96.0), abs=2000)
    assert stone.cautious_at is not None
    assert stone.cautious_at > at_h(110.0)
    told = pace_now(WATER, shop.learnt_of(WATER))
    assert (told.outcomes, told.standing) == (3, "learnt-here")


def test_four_fine_shorten_nothing_and_seven_do_within_their_guard() -> None:
    mine = piece("waterborne", [0.0] * 4, tag="N", planned=4)
    good = [buffed(f"A{i}", 90.0 - i, (900.0, "fine")) for i in range(7)]
    few, many = shop_with([mine, *good[:4]]), shop_with([mine, *good])
    bare = shop_of({"loft": steady(60)}, finishes=[WATER], pieces=[mine])
    usual = buff_of(bare, mine, 400.0).cautious_at
    assert usual is not None
    assert (buff_of(few, mine, 400.0).cautious_at or 0) >= usual
    # Levelling has no outcomes of its own: its 60 h and their doubt are kept.
    sooner = buff_of(many, mine, 400.0)
    assert sooner.cautious_at is not None
    assert at_h(60.0) < sooner.cautious_at < usual
    assert sooner.reached_at == pytest.approx(at_h(96.0), abs=2000)  # the rule, beside it
    ready = Work(WorkKind.BUFF, sooner.cautious_at + 60_000)
    assert work_deed(mine, many, ready) is None
    assert work_deed(mine, bare, ready, cautious=True) is not None


def test_a_data_sheets_minimum_holds_whatever_was_found() -> None:
    hours = Figure(96.0, Standing.DATA_SHEET, 90.0, 130.0, "sheet")
    sheet = replace(WATER, requirements={**WATER.requirements, BUFF: Requirement(hours)})
    coats = piece("waterborne", [0.0] * 4).coats
    quick = taught(*[(0.4, True)] * 9, of=sheet)
    slow = taught(*[(2.5, False)] * 9, of=sheet)
    assert need(sheet, BUFF, coats, rule_h=96.0, learnt=quick).at(0.0) >= 90.0
    assert need(sheet, BUFF, coats, rule_h=96.0, learnt=slow).at(0.0) <= 130.0


def test_another_revision_remembers_in_part_and_opens_no_guard() -> None:
    second = replace(WATER, revision=2)
    good = [buffed(f"A{i}", 90.0, (900.0, "fine")) for i in range(6)]
    shop = shop_with(good, finishes=[WATER, second])
    old, new = shop.paces["waterborne", 1], shop.paces["waterborne", 2]
    assert {f.memory for f in old.findings} == {1.0}
    assert {f.memory for f in new.findings} == {0.2}
    coats = good[0].coats
    assert need(second, BUFF, coats, rule_h=96.0, learnt=new).at(0.1) >= 96.0 * 1.128


def test_what_is_learnt_stays_the_same_object_until_it_changes() -> None:
    shop = shop_with([buffed("A", 90.0, (900.0, "fine"))])
    again = paces([WATER], shop.judged.values(), shop.paces)
    assert again == shop.paces
    assert again["waterborne", 1] is shop.paces["waterborne", 1]
    assert paces([WATER], [], shop.paces) == {}


def test_the_prior_follows_the_profile() -> None:
    assert prior_of(WATER).centre_ln == -0.40  # one full day a coat: a rule
    middle = prior_of(replace(WATER, pace_prior=PacePriorName.MEMORY))
    assert (middle.centre_ln, middle.standing) == (0.0, "common-practice")
    assert prior_of(finish("shellac")).centre_ln in (0.0, -0.40)


def test_a_slow_pace_slows_the_film_and_a_quick_one_does_not_speed_it() -> None:
    assert slowness(None) == 1.0
    assert slowness(taught(*[(0.3, True)] * 9)) == 1.0
    assert slowness(taught(*[(1.4, False)] * 4)) > 1.3
    wet = finish("waterborne")
    mine = piece("waterborne", [0.0] * 4, planned=4)
    shop = shop_of({"loft": steady(30)}, finishes=[wet], pieces=[mine])
    plain = assess_piece(shop, mine, at_h(60.0)).sink_back
    shop.paces = {("waterborne", 1): taught(*[(1.4, False)] * 4)}
    slow = assess_piece(shop, mine, at_h(60.0)).sink_back
    assert plain is not None
    assert slow is not None
    assert slow.remaining_um > plain.remaining_um


@settings(max_examples=40, deadline=None)
@given(
    found=st.lists(st.tuples(st.floats(0.3, 3.0), st.booleans()), min_size=1, max_size=12),
    about=st.sampled_from([BUFF, LEVEL]),
    coats=st.integers(1, 9),
)
def test_waits_come_in_order_grow_with_doubt_and_few_fine_never_shorten_them(
    found: list[tuple[float, bool]], about: MilestoneName, coats: int
) -> None:
    learnt, stack = taught(*found, about=about), piece("waterborne", [0.0] * coats).coats
    errors = np.sort(np.concatenate((DOUBTS[DOUBTS < 2.0], np.linspace(0, 1, 37))))
    waits = []
    for name in (LEVEL, BUFF, MilestoneName.FULL_CURE):
        asked = required_h(WATER, name, stack)
        assert asked is not None
        wait = need(WATER, name, stack, rule_h=asked, learnt=learnt).at(errors)
        assert np.all(np.diff(wait) >= -1e-6)
        if name is not about or sum(fine for _, fine in found) < 5:
            assert np.all(wait >= asked * (1.0 + 1.28 * errors) - 1e-9)
        waits.append(wait)
    assert np.all(waits[0] <= waits[1] + 1e-9)
    assert np.all(waits[1] <= waits[2] + 1e-9)


def test_a_look_stays_cheap_in_the_doubts_it_asks_for() -> None:
    learnt = taught((1.2, False), (1.5, True))
    coats = piece("waterborne", [0.0] * 4).coats
    first = need(WATER, BUFF, coats, rule_h=96.0, learnt=learnt)
    again = need(WATER, BUFF, coats, rule_h=96.0, learnt=learnt)
    assert all(a is b for a, b in zip(first.learnt_h, again.learnt_h, strict=True))
    assert learnt_of(WATER, []).findings == ()


@pytest.mark.parametrize(
    ("seed", "ratio", "fine"), [(3, 0.5, True), (8, 0.5, True), (5, 1.1, False)]
)
def test_the_watch_misses_nothing_where_outcomes_move_the_waits(
    seed: int, ratio: float, *, fine: bool
) -> None:
    scenario = Scenario(seed, 3.0, 15)
    found = [
        Finding(ratio, fine, about=str(name))
        for name in (LEVEL, BUFF, MilestoneName.FULL_CURE)
        for _ in range(7)
    ]
    for name in NAMES:
        scenario.shop.paces[name, 1] = learn(found, prior_of(finish(name)))
    assert scenario.run() > 0


def without(of: Finish, *names: MilestoneName) -> Finish:
    """Return a finish that says nothing of some milestones."""
    left = {name: asked for name, asked in of.requirements.items() if name not in names}
    return replace(of, requirements=left)


def test_an_outcome_of_a_milestone_the_profile_does_not_know_teaches_nothing() -> None:
    mute = without(WATER, BUFF, LEVEL, MilestoneName.FULL_CURE)
    mine = buffed("A", 120.0, (130.0, "fine"))
    shop = shop_with([mine], finishes=[mute])
    assert all(said.finding is None for said in shop.judged["A"].said)


def test_outcomes_of_another_finish_are_not_this_ones() -> None:
    mine = buffed("A", 120.0, (130.0, "fine"))
    shop = shop_with([mine])
    other = finish("nitro-lacquer")
    assert learnt_of(WATER, shop.judged.values()).findings
    assert not learnt_of(other, shop.judged.values()).findings


def test_a_profile_without_wet_sanding_still_learns_when_to_buff() -> None:
    bare = without(WATER, LEVEL)
    slow = taught(*[(1.2, False)] * 5, of=bare)
    coats = piece("waterborne", [0.0] * 4).coats
    asked = required_h(bare, BUFF, coats)
    assert asked is not None
    assert need(bare, BUFF, coats, rule_h=asked, learnt=slow).at(0.0) > asked


def test_a_pace_is_said_with_how_many_outcomes_it_rests_on() -> None:
    rule = pace_now(WATER, None)
    assert "by no outcome; " in pace_sentence(rule)
    one = pace_now(WATER, taught((1.4, True)))
    assert f"films take {one.median:.2f} times" in pace_sentence(one)
    assert "by 1 outcome; " in pace_sentence(one)
    assert "by 2 outcomes; " in pace_sentence(pace_now(WATER, taught((1.4, True), (0.9, False))))
