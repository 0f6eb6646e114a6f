"""Synthetic shops: how often the tool knows the pace, and how often a piece that obeyed is fine.

Each shop's pace is drawn from the prior; each film's test turns at a point of its own; three
outcomes in a hundred are noted wrongly. Pieces are tested when the tool calls them ready, half of
them at once and half up to a quarter later.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pytest

from curewatch.science.learning import (
    Finding,
    Learnt,
    PacePrior,
    learn,
    prior_for,
    ready_probability,
)
from curewatch.science.waiting import required_for

SHOPS = 500
PIECES = 14
RULE, MEMORY = prior_for("common-practice"), prior_for("from-memory")


@dataclass(frozen=True, slots=True)
class Told:
    """What became of one shop: was its pace inside the interval, how many films were fine."""

    inside: bool
    too_early: int
    promised: float
    learnt: Learnt


def shop(rng: np.random.Generator, prior: PacePrior, pieces: int) -> Told:
    """Run one shop that obeys the tool."""
    ln_pace = rng.normal(prior.centre_ln, prior.spread_ln)
    findings: list[Finding] = []
    learnt, too_early, promised = learn((), prior), 0, 0.0
    for _ in range(pieces):
        ratio = float(required_for(0.9, 1.0, learnt=learnt).hours)
        if rng.random() < 0.5:
            ratio *= 1.0 + 0.25 * rng.random()
        promised += float(ready_probability(ratio, 0.0, required_h=1.0, posterior=learnt.posterior))
        fine = bool(np.log(ratio) + rng.normal(0.0, 0.15) > ln_pace)
        too_early += not fine
        findings.append(Finding(ratio, fine=fine != (rng.random() < 0.03)))
        learnt = learn(findings, prior)
    low, high = np.log(learnt.posterior.quantile([0.05, 0.95]))
    return Told(bool(low <= ln_pace <= high), too_early, promised, learnt)


@pytest.fixture(scope="module", params=["common-practice", "from-memory"])
def shops(request: pytest.FixtureRequest) -> list[Told]:
    rng = np.random.default_rng(2026)
    return [shop(rng, prior_for(request.param), PIECES) for _ in range(SHOPS)]


def test_the_90_percent_interval_holds_the_pace_in_85_to_95_of_100_shops(
    shops: list[Told], agreement: Callable
) -> None:
    assert 0.85 <= np.mean([told.inside for told in shops]) <= 0.95
    agreement(
        check="pace inside its 90 % interval after 14 pieces",
        source="paces planted in synthetic shops, two priors",
        tolerance="85 to 95 %",
        measured=100.0 * np.mean([told.inside for told in shops]),
        unit="%",
        n=len(shops),
    )


def test_at_most_12_in_100_pieces_that_obeyed_the_tool_were_too_early(
    shops: list[Told], agreement: Callable
) -> None:
    share = sum(told.too_early for told in shops) / (SHOPS * PIECES)
    assert 0.01 < share <= 0.12  # at nothing at all the tool would keep people waiting for no gain
    agreement(
        check="pieces that obeyed and were still too early",
        source="paces planted in synthetic shops, two priors",
        tolerance="1 to 12 %",
        measured=100.0 * share,
        unit="%",
        n=SHOPS * PIECES,
    )


def test_films_are_fine_as_often_as_was_promised(shops: list[Told], agreement: Callable) -> None:
    promised = sum(told.promised for told in shops) / (SHOPS * PIECES)
    fine = 1.0 - sum(told.too_early for told in shops) / (SHOPS * PIECES)
    assert fine == pytest.approx(promised, abs=0.012)  # shops differ: three standard errors
    agreement(
        check="share of fine pieces against the chance promised, in hundredths",
        source="paces planted in synthetic shops, two priors",
        tolerance="1.2 %",
        measured=100.0 * abs(fine - promised),
        unit="%",
        n=SHOPS * PIECES,
    )


def test_one_mistaken_outcome_in_twenty_moves_the_wait_by_under_a_tenth() -> None:
    """All but the rarest: where one film alone told that a shop is slow, losing it costs more."""
    rng = np.random.default_rng(7)
    moved = []
    for prior in (RULE, MEMORY):
        for _ in range(15):
            learnt = shop(rng, prior, 20).learnt
            usual = float(required_for(0.9, 1.0, learnt=learnt).hours)
            for number, each in enumerate(learnt.findings):
                mistaken = [*learnt.findings]
                mistaken[number] = Finding(each.ratio, fine=not each.fine)
                held = required_for(0.9, 1.0, learnt=learn(mistaken, prior))
                moved.append(abs(float(held.hours) / usual - 1.0))
    assert len(moved) == 600
    assert np.mean(moved) < 0.04
    assert np.quantile(moved, 0.97) < 0.10


def test_without_the_spread_of_the_test_itself_the_promise_would_be_broken() -> None:
    """The rule that forgets the 0.15 fails one piece in four: why the 0.15 is in it."""
    rng = np.random.default_rng(3)
    pieces, early = 60, 0
    for _ in range(60):
        ln_pace = rng.normal(RULE.centre_ln, RULE.spread_ln)
        findings: list[Finding] = []
        for _ in range(pieces):
            ratio = float(learn(findings, RULE).posterior.quantile(0.9))
            fine = bool(np.log(ratio) + rng.normal(0.0, 0.15) > ln_pace)
            early += not fine
            findings.append(Finding(ratio, fine=fine))
    assert early / (60 * pieces) > 0.15
