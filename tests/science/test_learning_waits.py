"""The hours a milestone asks: confidence, doubt, and every guard for any findings at all."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from curewatch.errors import BadInput
from curewatch.science.learning import (
    Finding,
    PacePrior,
    learn,
    memory_share,
    prior_for,
    ready_probability,
)
from curewatch.science.waiting import HeldBy, SheetLimits, Wait, required_for

RULE = prior_for("data-sheet")
MEMORY = prior_for("from-memory")
PRIORS = st.sampled_from([RULE, MEMORY])
ABOUT = st.sampled_from(["", "wet-sand", "buff"])
MEMORIES = st.sampled_from([1.0, 1.0, 1.0, 0.5, 0.2])
FINDINGS = st.builds(
    Finding, st.floats(0.05, 20.0), st.booleans(), st.booleans(), memory=MEMORIES, about=ABOUT
)
SOME = st.lists(FINDINGS, max_size=20)
ERRORS = st.floats(0.0, 3.0)
CONFIDENCES = st.floats(0.5, 0.99)
CLOSE = 1e-7  # of a wait: the halving's resolution


def wait(
    findings: list[Finding],
    prior: PacePrior = RULE,
    *,
    confidence: float = 0.9,
    se_rel: float = 0.0,
    sheet: SheetLimits | None = None,
    about: str | None = None,
) -> Wait:
    """Ask for a requirement of one hour, so that waits are ratios."""
    return required_for(
        confidence,
        1.0,
        learnt=learn(findings, prior),
        se_rel=se_rel,
        sheet=sheet or SheetLimits(),
        about=about,
    )


def test_with_no_outcomes_a_rule_is_ready_when_the_rule_says() -> None:
    # 0.996 H is exp(-0.40 + 1.2816 sqrt(0.27^2 + 0.15^2)).
    found = required_for(0.9, 60.0, learnt=learn((), RULE))
    assert found.hours == pytest.approx(60.0 * 0.99584, rel=1e-5)
    assert found.held_by is HeldBy.PROFILE


@given(prior=PRIORS, confidence=CONFIDENCES, se_rel=ERRORS)
def test_with_no_outcomes_the_wait_is_a_quantile_of_a_normal_distribution(
    prior: PacePrior, confidence: float, se_rel: float
) -> None:
    spread = math.sqrt(prior.spread_ln**2 + 0.15**2 + se_rel**2)
    expected = math.exp(prior.centre_ln + norm.ppf(confidence) * spread)
    found = wait([], prior, confidence=confidence, se_rel=se_rel)
    assert found.hours == pytest.approx(expected, rel=2e-4)
    assert found.hours == found.untaught_h


@given(findings=SOME, prior=PRIORS, confidence=CONFIDENCES, se_rel=ERRORS)
def test_an_unguarded_wait_is_where_the_chance_is_the_confidence(
    findings: list[Finding], prior: PacePrior, confidence: float, se_rel: float
) -> None:
    found = wait(findings, prior, confidence=confidence, se_rel=se_rel)
    chance = ready_probability(
        found.hours, se_rel, required_h=1.0, posterior=learn(findings, prior).posterior
    )
    sharp = wait(findings, prior, confidence=confidence).hours
    if found.held_by in {HeldBy.OUTCOMES, HeldBy.PROFILE} and found.hours > sharp:
        assert chance == pytest.approx(confidence, abs=1e-6)
    else:
        assert chance >= confidence - 1e-6


@given(findings=SOME, prior=PRIORS, confidence=CONFIDENCES, about=st.none() | ABOUT)
def test_doubt_never_makes_a_wait_shorter_than_exact_hours_would(
    findings: list[Finding], prior: PacePrior, confidence: float, about: str | None
) -> None:
    errors = np.array([0.0, 0.02, 0.1, 0.3, 1.0, 4.0])
    found = required_for(
        confidence, 60.0, learnt=learn(findings, prior), se_rel=errors, about=about
    )
    assert found.hours.shape == errors.shape
    assert np.all(found.hours >= found.hours[0] * (1.0 - CLOSE))


@given(prior=PRIORS, confidence=CONFIDENCES, one=ERRORS, other=ERRORS)
def test_with_no_outcomes_more_doubt_never_shortens_a_wait(
    prior: PacePrior, confidence: float, one: float, other: float
) -> None:
    found = required_for(
        confidence, 1.0, learnt=learn((), prior), se_rel=sorted((one, other))
    ).hours
    assert found[1] >= found[0] * (1.0 - CLOSE)


@given(findings=SOME, prior=PRIORS, se_rel=ERRORS, one=CONFIDENCES, other=CONFIDENCES)
def test_more_confidence_never_shortens_a_wait(
    findings: list[Finding], prior: PacePrior, se_rel: float, one: float, other: float
) -> None:
    low, high = sorted((one, other))
    short = wait(findings, prior, confidence=low, se_rel=se_rel).hours
    long = wait(findings, prior, confidence=high, se_rel=se_rel).hours
    assert short <= long * (1.0 + CLOSE)


@given(findings=SOME, prior=PRIORS, more=FINDINGS, about=st.none() | ABOUT)
def test_a_fine_one_never_lengthens_a_wait_and_a_too_early_one_never_shortens_it(
    findings: list[Finding], prior: PacePrior, more: Finding, about: str | None
) -> None:
    before = wait(findings, prior, about=about).hours
    after = wait([*findings, more], prior, about=about).hours
    if more.fine:
        assert after <= before * (1.0 + CLOSE)
    else:
        assert after >= before * (1.0 - CLOSE)


@given(
    findings=st.lists(FINDINGS, max_size=4), prior=PRIORS, se_rel=ERRORS, about=st.none() | ABOUT
)
def test_fewer_than_five_outcomes_never_shorten_a_wait(
    findings: list[Finding], prior: PacePrior, se_rel: float, about: str | None
) -> None:
    found = wait(findings, prior, se_rel=se_rel, about=about)
    assert found.hours >= found.untaught_h


@given(findings=SOME, prior=PRIORS, se_rel=ERRORS, about=st.none() | ABOUT)
def test_a_wait_is_never_shorter_than_95_percent_of_the_third_smallest_found_fine(
    findings: list[Finding], prior: PacePrior, se_rel: float, about: str | None
) -> None:
    found = wait(findings, prior, se_rel=se_rel, about=about)
    fine = sorted(
        f.ratio for f in findings if f.fine and f.memory == 1.0 and about in (None, f.about)
    )
    if len(fine) < 5:
        assert found.hours >= found.untaught_h
    else:
        assert found.hours >= min(0.95 * fine[2], found.untaught_h)


def test_five_fine_at_the_rule_shorten_by_a_twentieth_and_no_more() -> None:
    found = wait([Finding(1.0, fine=True)] * 5)
    assert found.hours == pytest.approx(0.95)
    assert found.held_by is HeldBy.FINE_SO_FAR
    # What the guard is for: the outcomes alone would have cut it far deeper.
    unguarded = learn([Finding(1.0, fine=True)] * 5, RULE).posterior
    assert ready_probability(0.85, 0.0, required_h=1.0, posterior=unguarded) > 0.9


def test_four_fine_change_nothing() -> None:
    found = wait([Finding(1.0, fine=True)] * 4)
    assert found.hours == found.untaught_h
    assert found.held_by is HeldBy.TOO_FEW


def test_two_lucky_films_rule_nothing() -> None:
    usual = [Finding(1.0, fine=True)] * 5
    lucky = [Finding(0.3, fine=True)] * 2
    assert wait([*usual, *lucky]).hours == pytest.approx(0.95)


def test_one_too_early_lengthens_at_once() -> None:
    found = wait([Finding(1.0, fine=False)])
    assert found.hours > 1.2 * found.untaught_h
    assert found.held_by is HeldBy.OUTCOMES


def test_a_fifth_outcome_too_early_does_not_open_the_guard() -> None:
    four = [Finding(1.0, fine=True)] * 4
    assert wait([*four, Finding(0.2, fine=False)]).hours >= wait(four).hours


def test_a_run_of_films_too_early_is_no_run_of_mistaken_taps() -> None:
    # The belief itself takes three such films for mistakes: no rule was ever four times too short.
    assert wait([Finding(4.0, fine=False)] * 2).hours < 1.05
    found = wait([Finding(4.0, fine=False)] * 3)
    assert found.hours == pytest.approx(4.0 / 0.95)
    assert found.held_by is HeldBy.EARLY_SO_FAR


def test_as_many_fine_by_then_outweigh_films_too_early_beyond_belief() -> None:
    early = [Finding(4.0, fine=False)] * 3
    assert wait([*early, *[Finding(2.0, fine=True)] * 2]).held_by is HeldBy.EARLY_SO_FAR
    assert wait([*early, *[Finding(2.0, fine=True)] * 3]).held_by is not HeldBy.EARLY_SO_FAR
    assert wait([*early, *[Finding(6.0, fine=True)] * 3]).held_by is HeldBy.EARLY_SO_FAR


@given(findings=SOME, prior=PRIORS)
def test_the_new_lot_must_show_five_of_its_own_before_a_wait_grows_shorter(
    findings: list[Finding], prior: PacePrior
) -> None:
    old = [replace(each, memory=memory_share(lots=1)) for each in findings]
    found = wait(old, prior)
    assert found.hours >= found.untaught_h


def test_what_went_slow_before_the_new_lot_stays_slower_for_a_while() -> None:
    slow = [Finding(1.2, fine=False)] * 3
    old = [replace(each, memory=memory_share(lots=1)) for each in slow]
    assert wait([]).hours < wait(old).hours < wait(slow).hours


def test_films_fine_at_another_milestone_shorten_no_wait_of_this_one() -> None:
    scuffed = [Finding(0.6, fine=True, about="dry-sand")] * 9
    assert wait(scuffed, about="buff").held_by is HeldBy.TOO_FEW
    assert wait(scuffed, about="dry-sand").hours < 0.95
    slow = [Finding(1.2, fine=False, about="dry-sand")]
    assert wait(slow, about="buff").hours > 1.2


@given(findings=SOME, prior=PRIORS, se_rel=ERRORS, least=st.floats(0.1, 3.0))
def test_a_wait_is_never_below_the_sheets_minimum(
    findings: list[Finding], prior: PacePrior, se_rel: float, least: float
) -> None:
    free = wait(findings, prior, se_rel=se_rel)
    held = wait(findings, prior, se_rel=se_rel, sheet=SheetLimits(at_least_h=least))
    assert held.hours == max(float(free.hours), least)
    assert (held.held_by is HeldBy.SHEET_MINIMUM) == (free.hours < least)


@given(findings=SOME, prior=PRIORS, se_rel=ERRORS, most=st.floats(0.1, 3.0))
def test_outcomes_never_lengthen_a_wait_beyond_the_sheets_maximum(
    findings: list[Finding], prior: PacePrior, se_rel: float, most: float
) -> None:
    free = wait(findings, prior, se_rel=se_rel)
    held = wait(findings, prior, se_rel=se_rel, sheet=SheetLimits(at_most_h=most))
    assert held.hours <= max(most, float(held.untaught_h))
    assert held.hours == free.hours or held.held_by is HeldBy.SHEET_MAXIMUM


def test_a_sheets_maximum_holds_a_slow_shop_and_says_so() -> None:
    found = wait([Finding(1.5, fine=False)] * 4, sheet=SheetLimits(0.5, 1.3))
    assert found.hours == pytest.approx(1.3)
    assert found.held_by is HeldBy.SHEET_MAXIMUM


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: SheetLimits(at_least_h=0.0), "at_least_h"),
        (lambda: SheetLimits(at_most_h=math.nan), "at_most_h"),
        (lambda: SheetLimits(80.0, 60.0), "at_least_h 80 is above"),
        (lambda: wait([], confidence=0.4), "confidence"),
        (lambda: wait([], confidence=1.0), "confidence"),
        (lambda: wait([], se_rel=-0.1), "se_rel"),
        (lambda: required_for(0.9, 0.0, learnt=learn((), RULE)), "required_h"),
        (lambda: required_for(0.9, 1.0, learnt=learn((), RULE), se_rel=[]), "se_rel is empty"),
    ],
)
def test_what_cannot_be_is_refused_by_name(call: object, named: str) -> None:
    assert callable(call)
    with pytest.raises(BadInput, match=named):
        call()


def test_hardly_any_hours_known_asks_for_a_wait_without_end_but_finite() -> None:
    found = wait([], se_rel=math.inf)
    assert 1e5 < found.hours < 1e6
