"""Trials of test boards in storage: what is kept, and what is refused."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from curewatch.errors import BadInput
from curewatch.shop.trial import Measure, Quality, Scale, Score
from curewatch.storage import Store

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

HAZE, GLOSS = Measure(Quality.HAZE), Measure(Quality.GLOSS, "GU", 60.0)
TEN = Scale(10.0, 0.0, "0 clear, 10 fog")


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    """Return a store with three pieces and a trial of two of them."""
    with Store.open(tmp_path / "shop.db") as opened:
        revision = opened.finishes.keep("waterborne", "text", 1)
        for tag in ("A1", "A2", "B1"):
            opened.pieces.hang(tag, "waterborne", revision, title="", at_ms=1, entered_ms=1)
        opened.trials.start("haze-1", "which hazes least", 10)
        opened.trials.add("haze-1", ["A1", "A2"], 11)
        yield opened


def test_a_trial_comes_back_as_it_was_entered(store: Store) -> None:
    store.trials.set_scale("haze-1", Quality.HAZE, TEN)
    trial = store.trials.load("HAZE-1")
    assert (trial.name, trial.question, trial.entered_ms) == ("haze-1", "which hazes least", 10)
    assert trial.boards == ("A1", "A2")
    assert trial.scales == {Quality.HAZE: TEN}
    assert store.trials.all() == (trial,)
    assert store.trials.of_board("a1") == (trial,)
    assert store.trials.of_board("B1") == ()


def test_scores_come_back_in_order_and_voided_ones_do_not(store: Store) -> None:
    store.trials.set_scale("haze-1", Quality.HAZE, TEN)
    late = store.trials.score("A1", Score(HAZE, 3.0, 200, "lamp", "ann"), 300)
    early = store.trials.score("A1", Score(GLOSS, 82.5, 100), 301)
    assert store.trials.scores("A1") == (
        Score(GLOSS, 82.5, 100, id=early),
        Score(HAZE, 3.0, 200, "lamp", "ann", late),
    )
    store.trials.void_score(late, "wrong board", 400)
    assert [score.id for score in store.trials.scores("A1")] == [early]
    with pytest.raises(BadInput, match="is void already"):
        store.trials.void_score(late, "again", 401)


def test_a_scale_stays_once_it_was_used_and_may_be_mended_before(store: Store) -> None:
    store.trials.set_scale("haze-1", Quality.HAZE, Scale(5.0, 0.0, "x"))
    store.trials.set_scale("haze-1", Quality.HAZE, TEN)
    number = store.trials.score("A2", Score(HAZE, 9.0, 200), 300)
    with pytest.raises(BadInput, match="1 scores for haze stand on the scale"):
        store.trials.set_scale("haze-1", Quality.HAZE, Scale(5.0, 0.0, "x"))
    store.trials.void_score(number, "wrong", 400)
    store.trials.set_scale("haze-1", Quality.HAZE, Scale(5.0, 0.0, "x"))


def test_a_score_needs_a_board_and_a_scale_it_fits(store: Store) -> None:
    for tag, score, why in (
        ("B1", Score(HAZE, 3.0, 1), "a board of no trial"),
        ("A1", Score(HAZE, 3.0, 1), "no scale is set for haze"),
        ("C9", Score(HAZE, 3.0, 1), "there is no piece 'C9'"),
    ):
        with pytest.raises(BadInput, match=why):
            store.trials.score(tag, score, 2)
    store.trials.set_scale("haze-1", Quality.HAZE, TEN)
    with pytest.raises(BadInput, match="off the scale"):
        store.trials.score("A1", Score(HAZE, 11.0, 1), 2)
    assert store.trials.scores("A1") == ()


def test_a_board_of_two_trials_needs_one_scale(store: Store) -> None:
    store.trials.start("other", "which scratches", 12)
    store.trials.add("other", ["A1"], 13)
    store.trials.set_scale("haze-1", Quality.HAZE, TEN)
    store.trials.score("A1", Score(HAZE, 3.0, 1), 2)
    store.trials.start("third", "again", 14)
    store.trials.set_scale("third", Quality.HAZE, Scale(5.0, 0.0, "x"))
    store.trials.add("third", ["A1"], 15)
    with pytest.raises(BadInput, match="their scales for haze differ"):
        store.trials.score("A1", Score(HAZE, 3.0, 1), 2)


def test_names_and_boards_are_checked_and_all_boards_go_in_or_none(store: Store) -> None:
    for do, why in (
        (lambda: store.trials.start("haze-1", "x", 1), "there is a trial haze-1 already"),
        (lambda: store.trials.start("two words", "x", 1), "cannot be a trial's name"),
        (lambda: store.trials.start("new", "  ", 1), "say what the trial is to answer"),
        (lambda: store.trials.load("haze1"), "did you mean haze-1"),
        (lambda: store.trials.load("zzz"), "there is no trial 'zzz': 'curewatch"),
        (lambda: store.trials.add("haze-1", ["B1", "A1"], 1), "is a board of haze-1 already"),
    ):
        with pytest.raises(BadInput, match=why):
            do()
    assert store.trials.load("haze-1").boards == ("A1", "A2")
