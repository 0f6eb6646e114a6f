"""Pace: how long this shop's finish really takes against its profile, learnt from outcomes.

One latent number a finish, the pace s, multiplies all required cure hours; below 1 the finish goes
faster than its profile says. A film tested at effective hours theta against a requirement H is
truly fine with probability Phi((ln(theta/H) - ln s)/0.15), and one outcome in thirty is noted
wrongly. The posterior of ln s is a grid of 400 points. `waiting`
turns it into the hours a piece is held to.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from curewatch.errors import BadInput
from curewatch.science.arrays import (
    FloatArray,
    Numbers,
    checked,
    checked_positive,
    checked_shapes,
)

GRID_POINTS = 400
"""Points of the grid of ln pace."""
LN_PACE_RANGE = (-2.4, 2.6)
"""Ends of the grid: a pace of 0.09 to 13.5. Waits of one family that the trade reports differ up to
twelvefold (common practice, no source)."""
TEST_SPREAD = 0.15
"""Spread of ln(theta/H) over which a test turns from 'too early' to 'fine': films, hands and paper
differ (our own estimate, no source)."""
LAPSE_FRAC = 0.03
"""Share of outcomes taken to be noted wrongly [fraction] (our own estimate, no source)."""
LATE_WEIGHT = 2.0
"""An outcome seen 30 days or more later counts as this many (common practice, no source: the
failures that cost most show late)."""
LOT_MEMORY, FORMULA_MEMORY = 0.5, 0.2
"""What an outcome still counts after a new lot, and after a new formula (our own rule)."""
LARGEST_ERROR = 10.0
"""Relative standard errors beyond this [fraction] are taken as this: hardly any hours are known and
the wait is 370 000 times the hours required."""
MOVED_LN = 0.01
"""The pace is learnt here once outcomes moved its median by 1 %."""
CAUTIOUS_STANDINGS = ("data-sheet", "common-practice")
"""Standings of hours that a trade or a maker prints: they are on the safe side."""

FURTHEST_SPREADS = 9.0
"""So many spreads away a test is decided: the normal distribution is 0 or 1 to 1e-18."""

_CURVE_STEP = 1.0 / 512.0
_CURVE_Z = np.arange(-FURTHEST_SPREADS, FURTHEST_SPREADS + _CURVE_STEP, _CURVE_STEP)
_CURVE = np.array([0.5 * math.erfc(-z / math.sqrt(2.0)) for z in _CURVE_Z])


@dataclass(frozen=True, slots=True)
class PacePrior:
    """
    What is believed of ln pace before any outcome: a normal distribution.

    Attributes
    ----------
    centre_ln, spread_ln : float
        Mean and standard deviation of ln pace.
    standing : str
        Where the hours it belongs to come from.

    Raises
    ------
    BadInput
        A value is out of range.
    """

    centre_ln: float
    spread_ln: float
    standing: str

    def __post_init__(self) -> None:
        """Refuse a belief that cannot be meant."""
        checked(self.centre_ln, "centre_ln", allowed=(-1.0, 1.0), unit="(ln of a ratio)")
        checked(self.spread_ln, "spread_ln", allowed=(0.05, 0.5), unit="(ln of a ratio)")


def prior_for(standing: str) -> PacePrior:
    """
    Return the belief that belongs to hours of a standing.

    Parameters
    ----------
    standing : str
        'data-sheet', 'common-practice', 'from-memory', 'learnt-here' or 'physics'.

    Returns
    -------
    PacePrior
        For what a trade or a maker prints N(-0.40, 0.27): such a rule is a cautious one, so that
        with no outcomes a piece is ready just when the rule says. For every other figure N(0,
        0.35): it is a middle, and the wait is longer than it.
    """
    if standing in CAUTIOUS_STANDINGS:
        return PacePrior(-0.40, 0.27, standing)
    return PacePrior(0.0, 0.35, standing)


@dataclass(frozen=True, slots=True)
class Finding:
    """
    What one test or one look said of the wait; the order of findings does not matter.

    Attributes
    ----------
    ratio : float
        Effective hours of the film over the hours required, theta/H, above 0.
    fine : bool
        True for 'fine', False for 'too early'.
    late : bool
        Seen 30 days or more after the deed.
    memory : float
        What it still counts [fraction], from `memory_share`: 1 for the present lot.
    about : str
        Which requirement it tested; '' where that is not told apart.

    Raises
    ------
    BadInput
        The ratio or the memory is out of range.
    """

    ratio: float
    fine: bool
    late: bool = False
    memory: float = 1.0
    about: str = ""

    def __post_init__(self) -> None:
        """Refuse a finding that cannot be."""
        checked(self.ratio, "ratio", allowed=(1e-9, 1e9), unit="(hours over hours required)")
        checked(self.memory, "memory", allowed=(0.0, 1.0), unit="as a fraction")

    @property
    def weight(self) -> float:
        """As how many outcomes it counts."""
        return self.memory * (LATE_WEIGHT if self.late else 1.0)


def memory_share(*, lots: int = 0, formulas: int = 0) -> float:
    """
    Return what an outcome still counts after changes of the product.

    Parameters
    ----------
    lots, formulas : int
        How many new lots and how many new formulas came since, not negative.

    Returns
    -------
    float
        Share [fraction], 1 where nothing changed.

    Raises
    ------
    BadInput
        A count is negative.

    Notes
    -----
    A reset with a memory. The outcome's likelihood is raised to this power, so the posterior goes
    back towards the prior by as much as was forgotten; what went slow stays slower for a while. It
    no longer counts for the guards: the new lot must show `LEAST_FINE` fine films of its own.

    References
    ----------
    J. G. Ibrahim, M.-H. Chen, Power prior distributions for regression models, Statistical Science
    15 (2000) 46-60 (from memory), for the power; the two shares are our own.
    """
    if lots < 0 or formulas < 0:
        raise BadInput(f"{lots} lots and {formulas} formulas: give counts from 0 up.")
    return LOT_MEMORY**lots * FORMULA_MEMORY**formulas


@dataclass(frozen=True, slots=True, eq=False)
class Posterior:
    """
    What is believed of ln pace: weights on a grid.

    Attributes
    ----------
    ln_pace, weight : ndarray
        Grid and weights that sum to 1, shape (400,).
    """

    ln_pace: FloatArray
    weight: FloatArray

    def quantile(self, share: Numbers) -> FloatArray:
        """Return the pace below which `share` [fraction] of the belief lies; same shape."""
        wanted = checked(share, "share", allowed=(0.0, 1.0), unit="as a fraction")
        below = np.cumsum(self.weight) - 0.5 * self.weight
        return np.exp(np.interp(wanted, below, self.ln_pace))


@dataclass(frozen=True, slots=True, eq=False)
class Learnt:
    """A finish's belief and what it rests on: the prior, all findings, the posterior."""

    prior: PacePrior
    findings: tuple[Finding, ...]
    posterior: Posterior


def learn(findings: Sequence[Finding], prior: PacePrior) -> Learnt:
    """
    Move a belief by what was found.

    Parameters
    ----------
    findings : sequence of Finding
        All there are, in any order; one a film and deed, since looks at one film are not
        independent.
    prior : PacePrior
        The belief before them.

    Returns
    -------
    Learnt
        Posterior on the grid, with what it rests on.

    Notes
    -----
    Likelihood of a finding: 0.03 + 0.94 Phi(+-(ln(theta/H) - ln s)/0.15), to the power of its
    weight. The 0.03 keeps one mistaken tap from ruling.
    """
    ln_pace = np.linspace(*LN_PACE_RANGE, GRID_POINTS)
    belief = -0.5 * ((ln_pace - prior.centre_ln) / prior.spread_ln) ** 2
    if findings:
        told = np.array([[f.ratio, 1.0 if f.fine else -1.0, f.weight] for f in findings])
        # In one order whatever order they came in: equal beliefs are equal to the last bit.
        ratio, sign, weight = told[np.lexsort(told.T)].T
        z = sign[:, None] * (np.log(ratio)[:, None] - ln_pace) / TEST_SPREAD
        belief += weight @ np.log(LAPSE_FRAC + (1.0 - 2.0 * LAPSE_FRAC) * _below(z))
    dense = np.exp(belief - belief.max())
    posterior = Posterior(ln_pace, dense / dense.sum())
    for array in (posterior.ln_pace, posterior.weight):
        array.setflags(write=False)  # the prior's is shared
    return Learnt(prior, tuple(findings), posterior)


def ready_probability(
    theta_h: Numbers, se_rel: Numbers, *, required_h: Numbers, posterior: Posterior
) -> FloatArray:
    """
    How likely a test now would say 'fine'.

    Parameters
    ----------
    theta_h : float or array
        Effective hours earned [h], not negative.
    se_rel : float or array
        Their relative standard error [fraction], not negative.
    required_h : float or array
        Hours that the profile requires [h], above 0.
    posterior : Posterior
        What is believed of the pace.

    Returns
    -------
    ndarray
        Probability [fraction], broadcast shape; 0 where no hours are earned.

    Raises
    ------
    BadInput
        A value is out of range.

    Notes
    -----
    E[Phi((ln(theta/H) - ln s)/sqrt(0.15^2 + se^2))] over the posterior. It knows no guards: what a
    piece is held to is `waiting.required_for`. A relative error above 10 is taken as 10.
    """
    theta = checked(theta_h, "theta_h", allowed=(0.0, 1e9), unit="h")
    error = checked_error(se_rel)
    required = checked_positive(required_h, "required_h", unit="h")
    checked_shapes(theta_h=theta, se_rel=error, required_h=required)
    earned = theta > 0.0
    ln_ratio = np.log(np.where(earned, theta, 1.0) / required)
    ln_ratio, spread = np.broadcast_arrays(ln_ratio, np.hypot(TEST_SPREAD, error))
    return np.where(earned, chance(ln_ratio, spread, posterior), 0.0)


@dataclass(frozen=True, slots=True)
class Pace:
    """
    What people read of a finish's pace.

    Attributes
    ----------
    median, p10, p90 : float
        Pace; 1 is as the profile says, below 1 faster.
    outcomes : int
        How many findings it rests on.
    standing : str
        'learnt-here' once outcomes moved it, else the standing of the profile's hours.
    changed : tuple of str
        What moved it, as sentences.
    """

    median: float
    p10: float
    p90: float
    outcomes: int
    standing: str
    changed: tuple[str, ...]


def pace(learnt: Learnt) -> Pace:
    """Return a finish's pace as people read it, with what changed it."""
    low, median, high = (float(value) for value in learnt.posterior.quantile([0.1, 0.5, 0.9]))
    before = float(untaught(learnt.prior).quantile(0.5))
    moved = abs(math.log(median / before)) >= MOVED_LN
    return Pace(
        median=median,
        p10=low,
        p90=high,
        outcomes=len(learnt.findings),
        standing="learnt-here" if moved else learnt.prior.standing,
        changed=tuple(_changes(learnt.findings, before, median, moved=moved)),
    )


@lru_cache(maxsize=16)
def untaught(prior: PacePrior) -> Posterior:
    """Return the prior itself on the grid."""
    return learn((), prior).posterior


def checked_error(se_rel: Numbers) -> FloatArray:
    """Return relative standard errors [fraction], those beyond `LARGEST_ERROR` as that."""
    error = checked(se_rel, "se_rel", allowed=(0.0, math.inf), unit="as a fraction")
    return np.minimum(error, LARGEST_ERROR)


def chance(ln_ratio: FloatArray, spread: FloatArray, posterior: Posterior) -> FloatArray:
    """Return the probability that a test says 'fine' at ln(theta/H), unchecked; same shapes."""
    z = (ln_ratio[..., None] - posterior.ln_pace) / spread[..., None]
    return np.asarray(_below(z) @ posterior.weight, dtype=np.float64)


def _below(z: FloatArray) -> FloatArray:
    """Return the normal distribution function, to 5e-7: straight lines between values of erfc."""
    return np.asarray(np.interp(z, _CURVE_Z, _CURVE), dtype=np.float64)


def _changes(
    findings: Sequence[Finding], before: float, median: float, *, moved: bool
) -> list[str]:
    """Say in sentences what moved the pace."""
    if not findings:
        return ["No outcomes yet: the pace is what the profile's figures are usually worth."]
    fine = sum(f.fine for f in findings)
    said = [f"{_outcomes(len(findings))}: {fine} fine, {len(findings) - fine} too early."]
    late = sum(f.late for f in findings)
    if late:
        said.append(f"Late looks, which count twice: {late}.")
    old = sum(f.memory < 1.0 for f in findings)
    if old:
        said.append(f"From an earlier lot or formula, which count less: {old}.")
    if not moved:
        said.append("They agree with what was believed before: the pace stays where it was.")
    else:
        word = "shorter" if median < before else "longer"
        said.append(
            f"They speak for {word} waits: the pace went from {before:.2f} to {median:.2f}."
        )
    return said


def _outcomes(count: int) -> str:
    return "1 outcome" if count == 1 else f"{count} outcomes"
