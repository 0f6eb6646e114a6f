"""What outcomes do to the belief about a finish's pace: calculus, order, weight, memory, words."""

import itertools
import math
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from statistics import NormalDist

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from curewatch.errors import BadInput
from curewatch.science.learning import (
    Finding,
    PacePrior,
    Posterior,
    learn,
    memory_share,
    pace,
    prior_for,
    ready_probability,
)
from tests.validation_page import furthest

RULE = prior_for("common-practice")
MEMORY = prior_for("from-memory")
PHI = NormalDist().cdf
RATIOS = st.floats(0.05, 20.0)
FINDINGS = st.builds(
    Finding, RATIOS, st.booleans(), late=st.booleans(), memory=st.sampled_from([1.0, 0.5, 0.2])
)
SOME = st.lists(FINDINGS, max_size=25)
PRIORS = st.sampled_from([RULE, MEMORY])


def by_quadrature(findings: list[Finding], prior: PacePrior, ask: float) -> tuple[float, float]:
    """Posterior mean of ln pace, and of Phi((ask - ln s)/0.15), with nothing of the grid in it."""

    def belief(ln_s: float) -> float:
        value = NormalDist(prior.centre_ln, prior.spread_ln).pdf(ln_s)
        for finding in findings:
            z = (math.log(finding.ratio) - ln_s) / 0.15
            likely = 0.03 + 0.94 * PHI(z if finding.fine else -z)
            value *= likely ** ((2.0 if finding.late else 1.0) * finding.memory)
        return value

    def mean(of: object = None) -> float:
        weigh = of if callable(of) else lambda _: 1.0
        low, high = prior.centre_ln - 8.0 * prior.spread_ln, prior.centre_ln + 8.0 * prior.spread_ln
        return quad(lambda x: belief(x) * weigh(x), low, high, limit=400, epsabs=1e-10)[0]

    whole = mean()
    return mean(lambda x: x) / whole, mean(lambda x: PHI((ask - x) / 0.15)) / whole


@pytest.mark.parametrize("prior", [RULE, MEMORY])
@pytest.mark.parametrize(
    "findings",
    [
        [],
        [Finding(1.0, fine=True)],
        [Finding(0.7, fine=False, late=True), Finding(1.1, fine=True, memory=0.5)],
        [Finding(0.6 + 0.05 * step, fine=step > 4) for step in range(12)],
        [Finding(1.4, fine=False), Finding(0.5, fine=True)],
    ],
)
def test_the_grid_agrees_with_adaptive_quadrature(
    findings: list[Finding], prior: PacePrior, agreement: Callable
) -> None:
    learnt = learn(findings, prior)
    mean, chance = by_quadrature(findings, prior, math.log(0.9))
    # The grid's ends cut off 1e-12 of either prior; Phi's table is good to 2e-7.
    assert learnt.posterior.weight @ learnt.posterior.ln_pace == pytest.approx(mean, abs=2e-6)
    found = ready_probability(0.9, 0.0, required_h=1.0, posterior=learnt.posterior)
    assert found == pytest.approx(chance, abs=2e-6)
    source = "adaptive quadrature of scipy (QUADPACK)"
    ours = learnt.posterior.weight @ learnt.posterior.ln_pace
    agreement(
        check="mean logarithm of the pace after outcomes",
        source=source,
        tolerance="2e-6",
        measured=furthest(ours, mean),
        unit="",
        n=1,
    )
    agreement(
        check="chance that a piece is ready after outcomes",
        source=source,
        tolerance="2e-6",
        measured=furthest(found, chance),
        unit="",
        n=1,
    )


@pytest.mark.parametrize("prior", [RULE, MEMORY])
@pytest.mark.parametrize("se_rel", [0.0, 0.1, 0.5])
def test_with_no_outcomes_the_chance_is_a_normal_one(
    prior: PacePrior, se_rel: float, agreement: Callable
) -> None:
    spread = math.sqrt(0.15**2 + se_rel**2 + prior.spread_ln**2)
    for ratio in (0.3, 0.8, 1.0, 1.7):
        expected = PHI((math.log(ratio) - prior.centre_ln) / spread)
        found = ready_probability(60.0 * ratio, se_rel, required_h=60.0, posterior=_none(prior))
        assert found == pytest.approx(expected, abs=1e-6)
        agreement(
            check="chance that a piece is ready with no outcomes",
            source="closed form, normal distribution",
            tolerance="1e-6",
            measured=furthest(found, expected),
            unit="",
            n=1,
        )


def _none(prior: PacePrior) -> Posterior:
    return learn((), prior).posterior


def test_the_prior_is_a_cautious_rule_or_a_figure_from_memory() -> None:
    for standing in ("data-sheet", "common-practice"):
        assert prior_for(standing) == PacePrior(-0.40, 0.27, standing)
    for standing in ("from-memory", "learnt-here", "physics"):
        assert prior_for(standing) == PacePrior(0.0, 0.35, standing)


@given(findings=SOME, prior=PRIORS, data=st.data())
def test_the_order_of_findings_does_not_matter(
    findings: list[Finding], prior: PacePrior, data: st.DataObject
) -> None:
    shuffled = data.draw(st.permutations(findings))
    one, other = learn(findings, prior).posterior, learn(shuffled, prior).posterior
    np.testing.assert_array_equal(one.weight, other.weight)


@given(findings=SOME, prior=PRIORS, more=FINDINGS)
def test_a_fine_one_never_slows_the_pace_and_a_too_early_one_never_hastens_it(
    findings: list[Finding], prior: PacePrior, more: Finding
) -> None:
    shares = np.linspace(0.05, 0.95, 19)
    before = learn(findings, prior).posterior.quantile(shares)
    after = learn([*findings, more], prior).posterior.quantile(shares)
    sign = 1.0 if more.fine else -1.0
    assert np.all(sign * (before - after) >= -1e-9)


def test_a_finding_beyond_belief_is_taken_as_noted_wrongly() -> None:
    usual = float(learn((), RULE).posterior.quantile(0.5))
    believable = float(learn([Finding(1.0, fine=False)], RULE).posterior.quantile(0.5))
    beyond = float(learn([Finding(5.0, fine=False)], RULE).posterior.quantile(0.5))
    assert usual <= beyond < 1.01 * usual < believable


@given(findings=SOME, prior=PRIORS, ratio=RATIOS, fine=st.booleans())
def test_a_late_look_counts_as_two(
    findings: list[Finding], prior: PacePrior, ratio: float, *, fine: bool
) -> None:
    seen = Finding(ratio, fine=fine)
    twice = learn([*findings, seen, seen], prior).posterior.weight
    late = learn([*findings, replace(seen, late=True)], prior).posterior.weight
    np.testing.assert_allclose(late, twice, atol=1e-12)


@given(findings=SOME, prior=PRIORS, ratio=RATIOS, fine=st.booleans(), of=st.floats(0.1, 2.0))
def test_one_outcome_moves_no_odds_beyond_its_lapse(
    findings: list[Finding], prior: PacePrior, ratio: float, of: float, *, fine: bool
) -> None:
    before = learn(findings, prior).posterior
    after = learn([*findings, Finding(ratio, fine=fine)], prior).posterior
    odds = []
    for posterior in (before, after):
        below = posterior.weight[np.exp(posterior.ln_pace) < of].sum()
        odds.append(below / max(posterior.weight.sum() - below, 1e-300))
    if min(odds) > 1e-12 and max(odds) < 1e12:
        assert 0.03 / 0.97 - 1e-9 <= odds[1] / odds[0] <= 0.97 / 0.03 + 1e-9


def test_memory_goes_from_all_to_nothing_with_changes() -> None:
    assert memory_share() == 1.0
    assert memory_share(lots=1) == 0.5
    assert memory_share(lots=2) == 0.25
    assert memory_share(formulas=1) == 0.2
    assert memory_share(lots=1, formulas=1) == pytest.approx(0.1)


@pytest.mark.parametrize("counts", [{"lots": -1}, {"formulas": -2}])
def test_a_negative_number_of_changes_is_refused(counts: dict[str, int]) -> None:
    with pytest.raises(BadInput, match="from 0 up"):
        memory_share(**counts)


@given(ratios=st.lists(RATIOS, min_size=1, max_size=12), fine=st.booleans(), prior=PRIORS)
def test_a_new_lot_takes_the_pace_back_towards_the_prior_and_not_past_it(
    ratios: list[float], prior: PacePrior, *, fine: bool
) -> None:
    medians = [
        float(
            learn([Finding(r, fine=fine, memory=share) for r in ratios], prior).posterior.quantile(
                0.5
            )
        )
        for share in (1.0, memory_share(lots=1), memory_share(formulas=1), 0.0)
    ]
    assert medians[-1] == pytest.approx(math.exp(prior.centre_ln), rel=1e-5)
    for nearer, further in itertools.pairwise(reversed(medians)):
        assert further <= nearer + 1e-9 if fine else further >= nearer - 1e-9


def test_a_new_lot_widens_the_belief() -> None:
    found = [Finding(0.5 + 0.02 * step, fine=step > 10) for step in range(21)]
    spans = []
    for share in (1.0, 0.5, 0.2):
        told = [replace(each, memory=share) for each in found]
        low, high = learn(told, RULE).posterior.quantile([0.1, 0.9])
        spans.append(high / low)
    assert spans == sorted(spans)


def test_a_finish_far_slower_than_any_rule_is_found_out() -> None:
    found = [Finding(4.0, fine=False), Finding(12.0, fine=True)] * 12
    assert 4.0 < float(learn(found, RULE).posterior.quantile(0.5)) < 12.0


def test_the_pace_tells_what_it_rests_on() -> None:
    told = pace(learn((), RULE))
    assert told.median == pytest.approx(math.exp(-0.40), rel=1e-5)
    assert math.log(told.p90 / told.p10) == pytest.approx(2 * 1.2815516 * 0.27, rel=1e-3)
    assert (told.outcomes, told.standing) == (0, "common-practice")
    assert told.changed[0].startswith("No outcomes yet")


def test_the_pace_is_learnt_here_only_once_outcomes_moved_it() -> None:
    hung = [Finding(5.0, fine=True)] * 8
    told = pace(learn(hung, MEMORY))
    assert (told.outcomes, told.standing) == (8, "from-memory")
    assert told.changed[-1].endswith("the pace stays where it was.")
    told = pace(learn([*hung, Finding(1.0, fine=False)], MEMORY))
    assert (told.outcomes, told.standing) == (9, "learnt-here")
    assert told.changed[0] == "9 outcomes: 8 fine, 1 too early."
    assert told.changed[-1].startswith("They speak for longer waits: the pace went from 1.00 to 1.")


def test_late_looks_and_earlier_lots_are_counted_in_words() -> None:
    found = [Finding(0.8, fine=True, late=True), Finding(0.8, fine=True, memory=0.5)]
    changed = pace(learn(found, RULE)).changed
    assert "Late looks, which count twice: 1." in changed
    assert "From an earlier lot or formula, which count less: 1." in changed
    assert changed[-1].startswith("They speak for shorter waits")
    assert pace(learn(found[:1], RULE)).changed[0] == "1 outcome: 1 fine, 0 too early."


def test_hours_instants_and_errors_broadcast() -> None:
    theta = np.linspace(0.0, 120.0, 50)[:, None]
    found = ready_probability(theta, [0.0, 0.1, 3.0], required_h=60.0, posterior=_none(RULE))
    assert found.shape == (50, 3)
    assert np.all(found[0] == 0.0)
    assert np.all(np.diff(found, axis=0) >= 0.0)
    one = ready_probability(theta[7, 0], 0.1, required_h=60.0, posterior=_none(RULE))
    assert found[7, 1] == pytest.approx(float(one), abs=1e-15)


def test_an_endless_error_is_no_certainty() -> None:
    found = ready_probability(1e6, math.inf, required_h=60.0, posterior=_none(RULE))
    assert 0.5 < found < 0.9


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: Finding(0.0, fine=True), "ratio"),
        (lambda: Finding(math.nan, fine=True), "ratio"),
        (lambda: Finding(1.0, fine=True, memory=1.5), "memory"),
        (lambda: PacePrior(2.0, 0.3, "from-memory"), "centre_ln"),
        (lambda: PacePrior(0.0, 0.0, "from-memory"), "spread_ln"),
        (lambda: _none(RULE).quantile(1.5), "share"),
        (lambda: _ask(theta_h=-1.0), "theta_h"),
        (lambda: _ask(se_rel=-0.1), "se_rel"),
        (lambda: _ask(required_h=0.0), "required_h"),
        (lambda: _ask(theta_h=[1.0, 2.0], se_rel=[0.1, 0.1, 0.1]), "shapes"),
    ],
)
def test_what_cannot_be_is_refused_by_name(call: object, named: str) -> None:
    assert callable(call)
    with pytest.raises(BadInput, match=named):
        call()


def _ask(
    theta_h: float | list[float] = 1.0,
    se_rel: float | list[float] = 0.0,
    required_h: float = 1.0,
) -> None:
    ready_probability(theta_h, se_rel, required_h=required_h, posterior=_none(RULE))


def test_learning_and_the_daemon_leave_scipy_out_of_memory() -> None:
    code = (
        "import sys, curewatch.science.learning, curewatch.science.waiting, curewatch.daemon,"
        " curewatch.science.activation, curewatch.shop.findings;"
        " sys.exit('scipy' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
