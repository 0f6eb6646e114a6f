"""Work: refused before its time with the numbers, logged anyway with the reason."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from curewatch.storage import Store
    from tests.cli.conftest import Curewatch, StoresClimate


@pytest.fixture
def hung(curewatch: Curewatch, climate: StoresClimate) -> Curewatch:
    """Give a shop with waterborne pieces A1 and A2 in the drying room."""
    climate(days=14.0)
    curewatch(
        *("piece", "hang", "A1", "A2", "--finish", "waterborne"),
        *("--room", "drying", "--at", "13d ago"),
    )
    return curewatch


def lay(curewatch: Curewatch, tag: str, coats: int, last_h: float, *, apart_h: float = 3.0) -> None:
    """Lay coats so many hours apart, the last so many hours ago."""
    for place in range(coats):
        curewatch("coat", tag, "--at", f"{last_h + apart_h * (coats - 1 - place):g}h ago")


def test_ten_coats_levelled_twelve_hours_after_the_last_are_refused(
    hung: Curewatch, kept: Callable[[], Store]
) -> None:
    """Common practice, no source: wet sanding waits two to three days."""
    lay(hung, "A1", 10, 12.0)
    said = hung("work", "A1", "level", status=20)
    assert said.narrow()
    assert "Not ready to level: 12.0 of 60 effective hours on 10 coats" in said.flat
    assert "still shrinking by 7.1 um, as far as can be told; gloss and flat" in said.flat
    assert "at the earliest, Sat 7 Mar" in said.flat
    assert "--anyway" in said.flat
    with kept() as store:
        assert store.pieces.load("A1").work == ()


def test_eight_coats_are_buffed_eight_days_after_the_last_and_not_at_four(
    hung: Curewatch,
) -> None:
    """Common practice, no source: one full day for every coat before buffing."""
    lay(hung, "A1", 8, 4 * 24.0)
    lay(hung, "A2", 8, 8.5 * 24.0, apart_h=8.0)
    assert "96.0 of 192 effective hours" in hung("work", "A1", "buff", status=20).flat
    assert "By its clocks it was ready." in hung("work", "A2", "buff").flat


def test_a_film_laid_fast_is_told_beside_the_rule_that_is_met(hung: Curewatch) -> None:
    lay(hung, "A1", 8, 8.5 * 24.0)
    said = hung("work", "A1", "buff", status=20)
    assert "The rule itself is met; the film has not come to rest" in said.flat
    assert "204.0 of 224 effective hours" in said.flat
    shown = hung("piece", "show", "A1")
    assert "If you buff now you will lose 0.6 um" in shown.flat
    assert hung("piece", "show", "A1", "--json").plain["sink_back"]["standing"] == "from-memory"


def test_the_cautious_end_decides_and_says_so(hung: Curewatch) -> None:
    lay(hung, "A1", 8, 8 * 24.0 + 1.0, apart_h=8.0)  # an hour past the rule, inside its doubt
    said = hung("work", "A1", "buff", status=20)
    assert "The rule itself is met; with what the hours may be off by it is not." in said.flat


def test_where_outcomes_ask_for_more_hours_it_says_so_and_not_that_it_is_the_film(
    hung: Curewatch,
) -> None:
    hang = ("--finish", "two-part-urethane", "--room", "drying", "--at", "9d ago")
    hung("piece", "hang", "L1", "L2", *hang)
    for tag in ("L1", "L2"):
        lay(hung, tag, 1, 6.5 * 24.0)
    hung("work", "L1", "buff", "--at", "2h ago", "--anyway", "to see")
    hung("outcome", "L1", "gloss-lost")
    said = hung("work", "L2", "buff", status=20).flat
    assert "what was found on earlier pieces asks for more hours" in said
    assert "come to rest" not in said


def test_where_film_and_outcomes_ask_for_more_hours_it_names_both(hung: Curewatch) -> None:
    lay(hung, "A1", 8, 8.5 * 24.0)
    lay(hung, "A2", 8, 8.5 * 24.0, apart_h=8.0)
    hung("work", "A2", "buff", "--at", "2h ago")
    hung("outcome", "A2", "gloss-lost")
    said = hung("work", "A1", "buff", status=20).flat
    assert (
        "the film has not come to rest by what is known of it and what was found on earlier "
        "pieces asks for more hours"
    ) in said


def test_refusal_tells_scripts_the_milestone(hung: Curewatch) -> None:
    lay(hung, "A1", 2, 12.0)
    plain = hung("work", "A1", "wet-sand", "--json", status=20).plain
    (refused,) = plain["refused"]
    assert plain["work"] == []
    assert refused["deed"]["kind"] == "work-early"
    assert refused["milestone"]["name"] == "wet-sand"
    assert refused["milestone"]["required_hours"] == 60.0
    assert refused["milestone"]["expected_cautious_at"].startswith("2026-03-07T")


def test_anyway_logs_it_with_the_reason(hung: Curewatch, kept: Callable[[], Store]) -> None:
    lay(hung, "A1", 2, 12.0)
    said = hung("work", "A1", "buff", "--anyway", "the show is tomorrow", "--note", "by hand")
    assert "Logged anyway: the show is tomorrow" in said.flat
    with kept() as store:
        (work,) = store.pieces.load("A1").work
        assert (work.kind, work.anyway, work.note) == ("buff", "the show is tomorrow", "by hand")
    shown = hung("piece", "show", "A1")
    assert "Not ready to buff" in shown.flat
    assert "anyway: the show is tomorrow" in shown.flat


def test_where_one_of_several_is_refused_none_is_logged(
    hung: Curewatch, kept: Callable[[], Store]
) -> None:
    lay(hung, "A1", 1, 12.0)
    lay(hung, "A2", 1, 8 * 24.0)
    said = hung("work", "A1", "A2", "level", status=20)
    assert "Ready, and not logged either: A2" in said.flat
    with kept() as store:
        assert store.pieces.load("A2").work == ()
    assert len(hung("work", "A2", "level", "--json").plain["work"]) == 1


def test_without_readings_nothing_is_ready(curewatch: Curewatch, climate: StoresClimate) -> None:
    climate("spray")  # the drying room is never heard
    curewatch(
        *("piece", "hang", "A1", "--finish", "waterborne", "--room", "drying", "--at", "9d ago")
    )
    curewatch("coat", "A1", "--at", "9d ago")
    said = curewatch("work", "A1", "buff", status=20)
    assert "0.0 of" in said.flat
    assert "cannot be told" in said.flat


def test_a_scuff_is_always_logged(hung: Curewatch) -> None:
    lay(hung, "A1", 1, 1.0)
    assert "lifts the closing of the recoat window" in hung("work", "A1", "scuff").flat


def test_work_without_a_coat_or_a_clock_is_logged_and_not_judged(
    hung: Curewatch,
) -> None:
    assert "No coat was on it" in hung("work", "A1", "dry-sand").flat
    hung("piece", "hang", "D1", "--finish", "dose-cured", "--room", "drying", "--at", "2d ago")
    hung("coat", "D1", "--at", "1d ago")
    assert "No clock judges this" in hung("work", "D1", "buff").flat


@pytest.mark.parametrize(
    ("words", "complaint"),
    [
        (("A1", "polish"), "no kind of work: name it last, one of scuff, dry-sand"),
        (("buff",), "which piece?"),
        (("A1", "buff", "--anyway", " "), "needs the reason"),
        (("A9", "buff"), "no piece with the tag 'A9'"),
        (("A1", "buff", "--at", "2100-01-01"), "lies ahead"),
        (("void",), "takes one number"),
        (("void", "7", "--why", "x"), "no work with number 7"),
    ],
)
def test_what_cannot_be_is_refused(hung: Curewatch, words: tuple[str, ...], complaint: str) -> None:
    assert complaint in hung("work", *words, status=2).complaint


def test_void_work_counts_no_more(hung: Curewatch, kept: Callable[[], Store]) -> None:
    hung("work", "A1", "scuff", "--at", "1h ago")
    assert (
        "Work 1 of A1 (today 11:00) no longer counts"
        in hung("work", "void", "1", "--why", "was A2").flat
    )
    with kept() as store:
        assert store.pieces.load("A1").work == ()
