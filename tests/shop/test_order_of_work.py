"""The order of work: by honest times, coarsely, with the reason."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC
from typing import TYPE_CHECKING

import pytest

from curewatch.shop.assessment import PieceNow, assess
from curewatch.shop.bench_list import BenchList, bench_list, eta_of
from curewatch.shop.finish import MilestoneName
from curewatch.shop.piece import Piece, Stay, WorkKind
from curewatch.shop.plain_bench import bench_list_plain
from curewatch.shop.words import Words
from tests.shop.scene import at_h, finish, piece, shop_of, steady

if TYPE_CHECKING:
    from collections.abc import Sequence

    from curewatch.shop.finish import Finish

DAYS = 40.0
NOW_H = DAYS * 24.0 - 12.0  # noon of the last day
NAMES = (
    "waterborne",
    "nitro-lacquer",
    "oil-varnish",
    "dose-cured",
    "two-part-urethane",
    "acid-cure",
)
FINISHES = [finish(name) for name in NAMES]


def listed(
    *pieces: Piece,
    held: dict[str, str] | None = None,
    temp_c: float = 21.0,
    now_h: float = NOW_H,
    finishes: Sequence[Finish] = FINISHES,
) -> BenchList:
    shop = shop_of({"loft": steady(DAYS, temp_c)}, finishes=finishes, pieces=pieces, rooms=[])
    return bench_list(assess(shop, at_h(now_h)), shop.pieces, Words(zone=UTC), held=held)


def test_a_window_that_closes_comes_first_and_says_before_when() -> None:
    late = piece("waterborne", [NOW_H - 10.0], tag="B", planned=6)
    soon = piece("waterborne", [NOW_H - 20.0], tag="C", planned=6)
    found = listed(late, soon)
    assert [job.tag for job in found.due] == ["C", "B"]
    assert [job.job for job in found.due] == ["next coat"] * 2
    first, second = found.due
    assert first.at_ms is not None
    assert second.at_ms is not None
    assert at_h(NOW_H) < first.at_ms <= at_h(NOW_H + 4.0)
    assert first.today
    assert not second.today  # it closes tomorrow
    assert "Recoat window" in first.reason


def test_a_window_without_a_limit_is_ready() -> None:
    found = listed(piece("nitro-lacquer", [NOW_H - 5.0], planned=6))
    (job,) = found.ready
    assert job.job == "next coat"
    assert job.at_ms is not None
    assert at_h(NOW_H - 5.0) < job.at_ms < at_h(NOW_H)


@pytest.mark.parametrize("age_h", [0.1, 0.95])
def test_a_window_not_surely_open_is_coming_with_all_its_ends(age_h: float) -> None:
    found = listed(piece("nitro-lacquer", [NOW_H - age_h], planned=6))
    (job,) = found.coming
    assert job.eta.early is not None
    assert job.eta.likely is not None
    assert job.eta.late == job.at_ms
    assert job.eta.early <= job.eta.likely <= (job.eta.late or 0)
    assert job.today


def test_inside_the_middle_its_far_side_is_coming() -> None:
    found = listed(piece("oil-varnish", [NOW_H - 10.0], planned=6))
    (job,) = found.coming
    assert job.eta.early is job.eta.likely is None
    assert job.at_ms is not None
    assert job.at_ms >= at_h(NOW_H + 62.0)
    assert not job.today


def test_a_film_that_is_done_is_ready_for_its_next_job_or_coming() -> None:
    old = piece("waterborne", [NOW_H - 600.0] * 3, tag="OLD", planned=3)
    young = piece("waterborne", [NOW_H - 30.0] * 3, tag="YOUNG", planned=3)
    levelled = piece(
        "waterborne",
        [NOW_H - 100.0] * 3,
        tag="LEVELLED",
        planned=3,
        work=[(WorkKind.WET_SAND, NOW_H - 2.0)],
    )
    found = listed(old, young, levelled)
    assert [(job.tag, job.job) for job in found.ready][:1] == [("OLD", "wet-sand")]
    assert "Go and test" in found.ready[0].action
    assert ("YOUNG", "wet-sand") in [(job.tag, job.job) for job in found.coming]
    everything = [*found.ready, *found.coming]
    assert ("LEVELLED", "buff") in [(job.tag, job.job) for job in everything]


def test_ready_since_is_the_instant_that_the_sentence_says() -> None:
    levelled = piece(
        "waterborne",
        [NOW_H - 600.0],
        planned=1,
        work=[(WorkKind.WET_SAND, NOW_H - 2.0)],
    )
    (job,) = listed(levelled).ready
    assert job.job == "buff"
    assert job.at_ms == at_h(NOW_H - 2.0)
    assert f"since {Words().at(job.at_ms, at_h(NOW_H))}" in job.reason


def test_what_comes_is_ordered_by_the_cautious_time() -> None:
    tags = {"X": 20.0, "A": 10.0, "M": 40.0}
    pieces = [
        piece("waterborne", [NOW_H - age] * 3, tag=tag, planned=3) for tag, age in tags.items()
    ]
    assert [job.tag for job in listed(*pieces).coming] == ["M", "X", "A"]


def test_minutes_do_not_decide_an_order_that_is_days_away() -> None:
    later = piece("nitro-lacquer", [NOW_H - 20.0], tag="A", planned=1)
    sooner = piece("nitro-lacquer", [NOW_H - 20.2], tag="B", planned=1)
    found = listed(sooner, later)
    assert [job.tag for job in found.coming] == ["A", "B"]  # the same half day: by tag


def test_after_a_missed_window_the_job_is_to_scuff_and_coat_while_coats_are_planned() -> None:
    found = listed(piece("waterborne", [NOW_H - 200.0], planned=6))
    assert found.due == ()
    (job,) = found.ready
    assert job.job == "scuff and coat"
    assert job.reason.startswith("Recoat window missed: it closed ")
    assert job.at_ms is not None
    assert job.at_ms < at_h(NOW_H - 150.0)
    (untold,) = listed(piece("waterborne", [NOW_H - 200.0])).ready
    assert untold.job == "wet-sand"  # nobody said how many: it may have had its last


def test_past_the_middle_the_job_is_to_scuff_and_coat_and_before_it_the_far_side_is_coming() -> (
    None
):
    (past,) = listed(piece("acid-cure", [NOW_H - 100.0], planned=2)).ready
    assert past.job == "scuff and coat"
    assert past.reason.startswith("Past the far side of the forbidden middle since ")
    (oil,) = listed(piece("oil-varnish", [NOW_H - 200.0], planned=6)).ready
    assert oil.job == "scuff and coat"
    (before,) = listed(piece("acid-cure", [NOW_H - 5.0], planned=2)).coming
    assert before.job == "scuff and coat"


def test_a_film_that_missed_its_window_still_wet_is_not_to_be_coated_yet() -> None:
    slow = finish("two-part-urethane")
    opens = slow.requirements[MilestoneName.RECOAT_OPENS]
    asked = {
        **slow.requirements,
        MilestoneName.RECOAT_OPENS: replace(opens, hours=replace(opens.hours, value=9.0)),
    }
    wet = replace(slow, requirements=asked)
    hung = piece("two-part-urethane", [NOW_H - 6.0], planned=3)
    (job,) = listed(hung, finishes=[wet]).coming
    assert job.job == "scuff and coat"
    assert (job.at_ms or 0) > at_h(NOW_H)


def test_a_piece_of_unknown_coats_that_waited_its_whole_time_is_ready_for_the_bench() -> None:
    rested = piece("nitro-lacquer", [0.0], tag="RESTED")
    fresh = piece("nitro-lacquer", [NOW_H - 5.0], tag="FRESH")
    found = listed(rested, fresh)
    assert [(job.tag, job.job) for job in found.ready] == [
        ("RESTED", "wet-sand"),
        ("FRESH", "next coat"),
    ]


def test_bare_pieces_dose_cured_ones_and_cold_rooms_wait() -> None:
    bare = replace(piece("waterborne", [], tag="BARE"), stays=(Stay("loft", at_h(0.0)),))
    lamp = piece("dose-cured", [NOW_H - 5.0], tag="LAMP")
    lamp_done = piece("dose-cured", [NOW_H - 5.0], tag="LAMP2", planned=1)
    found = listed(bare, lamp, lamp_done)
    assert [(job.tag, job.job) for job in found.waiting] == [
        ("BARE", "first coat"),
        ("LAMP", "next coat"),
        ("LAMP2", "see its sheet"),
    ]
    cold = listed(
        piece("two-part-urethane", [NOW_H - 5.0], tag="A", planned=3),
        piece("two-part-urethane", [NOW_H - 5.0], tag="B", planned=1),
        piece("oil-varnish", [NOW_H - 5.0], tag="C", planned=3),
        temp_c=2.0,
    )
    assert [job.tag for job in cold.waiting] == ["A", "B", "C"]
    assert not any(job.today for job in cold.waiting)


def test_what_is_held_is_listed_apart_whatever_is_due() -> None:
    due = piece("waterborne", [NOW_H - 10.0], tag="B", planned=6)
    found = listed(due, held={"B": "lot under suspicion"})
    assert found.due == ()
    (job,) = found.held
    assert (job.tag, job.reason, job.today) == ("B", "lot under suspicion", False)


def test_a_hold_of_the_shop_and_a_part_that_is_behind_count() -> None:
    shop = shop_of({"loft": steady(DAYS)}, finishes=FINISHES)
    hung = [piece("waterborne", [NOW_H - 600.0] * 3, tag=tag, planned=3) for tag in "ABC"]
    shop.pieces = {one.tag: one for one in hung}
    now = assess(shop, at_h(NOW_H))
    held, behind, stuck = now.pieces
    pieces: tuple[PieceNow, ...] = (
        replace(held, held="lot 7"),
        replace(behind, held_back_by="NECK", next_at=at_h(NOW_H + 50.0)),
        replace(stuck, held_back_by="NECK", next_at=None),
    )
    found = bench_list(replace(now, pieces=pieces), shop.pieces, Words())
    assert [job.reason for job in found.held] == ["lot 7"]
    assert [(job.tag, job.at_ms) for job in found.coming] == [("B", at_h(NOW_H + 50.0))]
    assert [job.tag for job in found.waiting] == ["C"]


def test_expected_times_of_a_rule_just_met_begin_where_it_was_met() -> None:
    hung = piece("nitro-lacquer", [NOW_H - 0.95], planned=6)
    shop = shop_of({"loft": steady(DAYS)}, finishes=FINISHES, pieces=[hung])
    stone = assess(shop, at_h(NOW_H)).pieces[0].milestone(MilestoneName.RECOAT_OPENS)
    assert stone is not None
    assert stone.reached_at is not None
    assert stone.cautious_at is None
    assert eta_of(stone).early == eta_of(stone).likely == stone.reached_at
    assert eta_of(replace(stone, eta=None)).late is None


def test_what_may_come_but_not_surely_stands_last() -> None:
    pieces = {
        tag: piece("waterborne", [NOW_H - 20.0] * 3, tag=tag, planned=3) for tag in ("A", "B")
    }
    shop = shop_of({"loft": steady(DAYS)}, finishes=FINISHES, pieces=pieces.values())
    now = assess(shop, at_h(NOW_H))
    first, second = now.pieces
    unsure = tuple(
        stone if stone.eta is None else replace(stone, eta=replace(stone.eta, late=None))
        for stone in first.milestones
    )
    found = bench_list(
        replace(now, pieces=(replace(first, milestones=unsure), second)), pieces, Words()
    )
    assert [(job.tag, job.at_ms is None) for job in found.coming] == [("B", False), ("A", True)]


def test_as_plain_data_every_group_is_there() -> None:
    told = bench_list_plain(listed(piece("waterborne", [NOW_H - 10.0], tag="B", planned=6)))
    groups = ["due", "ready", "coming", "waiting", "held"]
    assert list(told) == ["format", "at", *groups]
    assert [len(told[group]) for group in groups] == [1, 0, 0, 0, 0]  # type: ignore[arg-type]
