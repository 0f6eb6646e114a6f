"""What the bench's findings say of the wait: which film, which hours, fine or too early."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.cli.outcome import FINDINGS
from curewatch.shop.findings import (
    FINE_EARLY,
    MEANINGS,
    NO_BUFFING,
    NO_COAT,
    NO_FINISHING,
    NO_HOURS,
    OUTDONE,
    SMELL_ELSEWHERE,
    UNKNOWN_FINDING,
    Evidence,
    Says,
    evidence,
)
from curewatch.shop.finish import MilestoneName
from curewatch.shop.piece import Coat, Outcome, Piece, Work, WorkKind
from tests.shop.scene import HOUR_MS, at_h, finish

if TYPE_CHECKING:
    from collections.abc import Sequence

WATERBORNE, NITRO, URETHANE = (
    finish(name) for name in ("waterborne", "nitro-lacquer", "two-part-urethane")
)
HOURS = {
    MilestoneName.DRY_SAND: 2.0,
    MilestoneName.WET_SAND: 60.0,
    MilestoneName.BUFF: 192.0,
    MilestoneName.FULL_CURE: 504.0,
}
DAYS = 24.0
Found = tuple[str, float]
Done = tuple[WorkKind, float]


def guitar(
    found: Sequence[Found],
    work: Sequence[Done] = (),
    *,
    coats: Sequence[float] = (0.0,),
    planned: int | None = None,
) -> Piece:
    """Return a piece with coats, work and findings at so many hours."""
    return Piece(
        tag="g1",
        finish="waterborne",
        coats=tuple(Coat(at_h(hours)) for hours in coats),
        work=tuple(Work(kind, at_h(hours)) for kind, hours in work),
        outcomes=tuple(
            Outcome(at_h(hours), name, id=number) for number, (name, hours) in enumerate(found)
        ),
        planned_coats=planned,
    )


def read(piece: Piece, *, memory: float = 1.0, shelf: str = "waterborne") -> tuple[Evidence, ...]:
    """Judge a piece that hung at the reference climate all along."""

    def hours_at(name: MilestoneName, at_ms: int) -> tuple[float, float] | None:
        earned_h = (at_ms - piece.coats_until(at_ms)[-1].at_ms) / HOUR_MS
        return (earned_h, HOURS[name]) if name in HOURS else None

    return evidence(piece, finish(shelf), hours_at=hours_at, memory=memory)


def told(piece: Piece, shelf: str = "waterborne") -> list[tuple[bool, str, float]]:
    """Return what is learnt: fine, about which milestone, after how many of its hours."""
    return [
        (each.finding.fine, each.finding.about, round(each.finding.ratio, 6))
        for each in read(piece, shelf=shelf)
        if each.finding is not None
    ]


def why_not(piece: Piece, shelf: str = "waterborne") -> str:
    """Return why the only finding says nothing."""
    (only,) = read(piece, shelf=shelf)
    assert only.finding is None
    assert only.says is Says.NOTHING
    assert only.judged_ms is None
    return only.why


def test_every_finding_of_the_bench_has_a_meaning_and_a_sentence() -> None:
    assert set(MEANINGS) == set(FINDINGS)
    for meaning in MEANINGS.values():
        assert meaning.why.endswith(".")
        assert len(meaning.why) > 30
    assert {name for name, m in MEANINGS.items() if m.says is Says.FINE} == {"powders", "fine"}


# ---- sanding


@pytest.mark.parametrize(
    ("kind", "about", "asked"),
    [
        (WorkKind.SCUFF, "dry-sand", 2.0),
        (WorkKind.DRY_SAND, "dry-sand", 2.0),
        (WorkKind.WET_SAND, "wet-sand", 60.0),
        (WorkKind.LEVEL, "wet-sand", 60.0),
    ],
)
def test_a_sanding_finding_speaks_of_the_sanding_that_was_done(
    kind: WorkKind, about: str, asked: float
) -> None:
    assert told(guitar([("powders", 48.0)], [(kind, 48.5)])) == [
        (True, about, pytest.approx(48.0 / asked))
    ]
    assert told(guitar([("loads-paper", 48.0)], [(kind, 47.0)])) == [
        (False, about, pytest.approx(48.0 / asked))
    ]


def test_the_nearest_of_two_sandings_is_the_one_meant() -> None:
    work = [(WorkKind.SCUFF, 44.0), (WorkKind.LEVEL, 48.0)]
    assert told(guitar([("powders", 47.0)], work))[0][1] == "wet-sand"


def test_sanding_half_a_day_and_more_away_was_another_job() -> None:
    assert told(guitar([("powders", 48.0)], [(WorkKind.SCUFF, 4.0)]))[0][1] == "wet-sand"


def test_unexplained_sanding_before_more_coats_is_sanding_between_coats() -> None:
    assert told(guitar([("powders", 48.0)], coats=[0.0, 50.0]))[0][1] == "dry-sand"
    assert told(guitar([("powders", 48.0)], planned=3))[0][1] == "dry-sand"
    assert told(guitar([("powders", 48.0)], planned=1))[0][1] == "wet-sand"


def test_sanding_after_the_next_coat_says_nothing_of_this_one() -> None:
    scuffed_later = [(WorkKind.SCUFF, 50.0)]
    assert told(guitar([("powders", 45.0)], scuffed_later, coats=[0.0, 46.0]))[0][1] == "dry-sand"


def test_an_early_sanding_that_nobody_explained_is_no_levelling() -> None:
    assert told(guitar([("powders", 29.0)]))[0][1] == "dry-sand"
    assert told(guitar([("powders", 31.0)])) == [(True, "wet-sand", pytest.approx(31.0 / 60.0))]


# ---- tests by thumb, nail and nose


@pytest.mark.parametrize("name", ["nail-dent", "thumbprint"])
@pytest.mark.parametrize(
    ("hours", "work", "about"),
    [
        (40.0, [], "wet-sand"),
        (170.0, [], "wet-sand"),
        (180.0, [], "buff"),
        (500.0, [], "full-cure"),
        (70.0, [(WorkKind.LEVEL, 65.0)], "buff"),
        (70.0, [(WorkKind.BUFF, 65.0)], "full-cure"),
        (70.0, [(WorkKind.LEVEL, 75.0)], "wet-sand"),
    ],
)
def test_a_bare_test_speaks_of_the_next_job_or_the_latest_it_was_due_for(
    name: str, hours: float, work: list[Done], about: str
) -> None:
    asked = HOURS[MilestoneName(about)]
    assert told(guitar([(name, hours)], work)) == [(False, about, pytest.approx(hours / asked))]


def test_smell_tells_something_where_solvent_leaves_and_nothing_elsewhere() -> None:
    assert told(guitar([("smell", 40.0)]), shelf="nitro-lacquer")[0][0] is False
    for shelf in ("waterborne", "two-part-urethane"):
        assert why_not(guitar([("smell", 40.0)]), shelf) == SMELL_ELSEWHERE


def test_a_print_of_cloth_speaks_of_packing() -> None:
    assert told(guitar([("lint-print", 252.0)])) == [(False, "full-cure", 0.5)]


# ---- looks at finished work


def test_lost_gloss_speaks_of_the_day_of_the_buffing_and_counts_as_late() -> None:
    (only,) = read(guitar([("gloss-lost", 90.0 * DAYS)], [(WorkKind.BUFF, 96.0)]))
    assert only.finding is not None
    assert (only.finding.ratio, only.finding.fine, only.finding.late) == (0.5, False, True)
    assert only.judged_ms == at_h(96.0)
    assert only.why == MEANINGS["gloss-lost"].why


def test_grain_that_came_back_speaks_of_the_last_levelling_or_buffing() -> None:
    level, buff = (WorkKind.LEVEL, 48.0), (WorkKind.BUFF, 96.0)
    assert told(guitar([("grain-back", 700.0)], [level])) == [(False, "wet-sand", 0.8)]
    assert told(guitar([("grain-back", 700.0)], [level, buff])) == [(False, "buff", 0.5)]
    assert told(guitar([("grain-back", 90.0)], [level, buff])) == [(False, "wet-sand", 0.8)]


@pytest.mark.parametrize(("days", "late"), [(24.9, False), (25.0, True), (180.0, True)])
def test_a_look_is_late_from_about_a_month_on(days: float, *, late: bool) -> None:
    buffed_h = 192.0
    (only,) = read(guitar([("fine", buffed_h + days * DAYS)], [(WorkKind.BUFF, buffed_h)]))
    assert only.finding is not None
    assert (only.finding.fine, only.finding.late, only.finding.ratio) == (True, late, 1.0)


def test_a_coat_over_it_ends_what_work_can_be_looked_at() -> None:
    piece = guitar([("gloss-lost", 300.0)], [(WorkKind.BUFF, 200.0)], coats=[0.0, 210.0])
    assert why_not(piece) == NO_BUFFING


def test_without_work_on_record_nothing_can_have_sunk_or_dulled() -> None:
    assert why_not(guitar([("gloss-lost", 300.0)], [(WorkKind.LEVEL, 200.0)])) == NO_BUFFING
    assert why_not(guitar([("grain-back", 300.0)], [(WorkKind.SCUFF, 200.0)])) == NO_FINISHING


def test_fine_on_a_film_nobody_worked_counts_only_once_it_was_due() -> None:
    assert why_not(guitar([("fine", 50.0)])) == FINE_EARLY
    assert told(guitar([("fine", 55.0)])) == [(True, "wet-sand", pytest.approx(55.0 / 60.0))]
    assert told(guitar([("fine", 192.0)])) == [(True, "buff", 1.0)]


def test_fine_just_after_an_early_buffing_does_count() -> None:
    assert told(guitar([("fine", 96.0)], [(WorkKind.BUFF, 96.0)])) == [(True, "buff", 0.5)]


# ---- what says nothing


def test_what_nobody_knows_and_what_nothing_was_sprayed_for_says_nothing() -> None:
    assert why_not(guitar([("sticky", 40.0)])) == UNKNOWN_FINDING
    assert why_not(guitar([("nail-dent", 40.0)], coats=[50.0])) == NO_COAT
    assert why_not(guitar([("nail-dent", 0.0)])) == NO_HOURS


def test_a_clock_that_does_not_run_teaches_nothing() -> None:
    (only,) = evidence(guitar([("powders", 70.0)]), WATERBORNE, hours_at=lambda _name, _at_ms: None)
    assert (only.finding, only.why) == (None, NO_HOURS)


# ---- one film, many looks


def test_a_film_tells_the_longest_too_early_and_the_shortest_fine() -> None:
    piece = guitar(
        [
            ("loads-paper", 30.0),
            ("loads-paper", 42.0),
            ("powders", 54.0),
            ("powders", 60.0),
        ]
    )
    assert told(piece) == [(False, "wet-sand", 0.7), (True, "wet-sand", 0.9)]
    assert [each.why for each in read(piece)].count(OUTDONE) == 2


def test_looks_at_one_buffing_are_one_outcome_and_the_last_of_them_rules() -> None:
    buff = [(WorkKind.BUFF, 192.0)]
    looks = [("fine", 193.0), ("fine", 192.0 + 30 * DAYS), ("fine", 192.0 + 90 * DAYS)]
    found = [each.finding for each in read(guitar(looks, buff)) if each.finding is not None]
    assert [(each.fine, each.late) for each in found] == [(True, True)]
    sunk = guitar([*looks, ("grain-back", 192.0 + 180 * DAYS)], buff)
    found = [each.finding for each in read(sunk) if each.finding is not None]
    assert [(each.fine, each.late) for each in found] == [(False, True)]


def test_a_film_stripped_and_sprayed_again_is_another_film() -> None:
    piece = guitar([("powders", 54.0), ("powders", 160.0)], coats=[0.0, 100.0], planned=1)
    assert told(piece) == [(True, "dry-sand", 27.0), (True, "wet-sand", 1.0)]


def test_memory_is_handed_on() -> None:
    (only,) = read(guitar([("powders", 60.0)]), memory=0.5)
    assert only.finding is not None
    assert only.finding.memory == 0.5


LOOKS = st.lists(
    st.tuples(st.sampled_from([*MEANINGS, "sticky"]), st.floats(0.0, 5000.0)), max_size=12
)
JOBS = st.lists(st.tuples(st.sampled_from(WorkKind), st.floats(1.0, 800.0)), max_size=5)


@given(looks=LOOKS, jobs=JOBS, coats=st.lists(st.floats(0.0, 300.0), min_size=1, max_size=3))
def test_whatever_is_logged_a_film_tells_at_most_two_things_of_a_milestone(
    looks: list[Found], jobs: list[Done], coats: list[float]
) -> None:
    piece = guitar(
        sorted(looks, key=lambda look: look[1]),
        sorted(jobs, key=lambda job: job[1]),
        coats=sorted(coats),
    )
    found = read(piece)
    assert [each.outcome for each in found] == list(piece.outcomes)
    kept: set[tuple[int, str, bool]] = set()
    for each in found:
        assert each.why
        if each.finding is None:
            continue
        assert each.judged_ms is not None
        assert each.judged_ms <= each.outcome.at_ms
        assert each.says is (Says.FINE if each.finding.fine else Says.TOO_EARLY)
        key = (len(piece.coats_until(each.judged_ms)), each.finding.about, each.finding.fine)
        assert key not in kept
        kept.add(key)
