"""The hours a milestone asks of a piece, given what is believed of the finish's pace.

A milestone is ready when a test would say 'fine' with the confidence asked for. Guards keep a few
lucky outcomes from shortening that, and the data sheet's own limits are not crossed.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from curewatch.errors import BadInput
from curewatch.science.arrays import FloatArray, Numbers, checked, checked_positive
from curewatch.science.learning import (
    FURTHEST_SPREADS,
    LN_PACE_RANGE,
    TEST_SPREAD,
    Finding,
    Learnt,
    Posterior,
    chance,
    checked_error,
    untaught,
)

LEAST_FINE = 5
"""Fewer fine outcomes than this shorten no wait (our own rule)."""
FINE_RANK = 3
"""The wait follows this one of the smallest ratios found fine: two lucky films rule nothing."""
FINE_MARGIN = 0.95
"""A wait goes this far below that ratio and no further (our own rule)."""
EARLY_RANK = 3
"""So many films too early at some hours, and fewer fine by then, are no mistaken taps."""
CONFIDENCE = 0.9
"""How sure the outcome must be fine, where a finish does not say otherwise [fraction]."""
CONFIDENCE_RANGE = (0.5, 0.999)
"""Confidences that can be asked for [fraction]."""

_HALVINGS = 32  # of a bracket of 8 spreads or more: hours to 1e-7 of themselves


@dataclass(frozen=True, slots=True)
class SheetLimits:
    """
    Hours of a data sheet that learning does not cross, for one milestone.

    Attributes
    ----------
    at_least_h, at_most_h : float or None
        Its minimum and maximum [h] at the reference climate; None where it prints none.

    Raises
    ------
    BadInput
        A value is not above 0, or the two are crossed.
    """

    at_least_h: float | None = None
    at_most_h: float | None = None

    def __post_init__(self) -> None:
        """Refuse limits that cannot be meant."""
        for name in ("at_least_h", "at_most_h"):
            hours: float | None = getattr(self, name)
            if hours is not None:
                checked_positive(hours, name, unit="h")
        if None not in (self.at_least_h, self.at_most_h) and self.low_h > self.high_h:
            raise BadInput(
                f"at_least_h {self.low_h:g} is above at_most_h {self.high_h:g}. Correct one."
            )

    @property
    def low_h(self) -> float:
        """The minimum, 0 where there is none [h]."""
        return 0.0 if self.at_least_h is None else self.at_least_h

    @property
    def high_h(self) -> float:
        """The maximum, infinite where there is none [h]."""
        return math.inf if self.at_most_h is None else self.at_most_h


NO_LIMITS = SheetLimits()


class HeldBy(StrEnum):
    """What a wait follows."""

    PROFILE = "profile"  # no outcomes yet: the profile's hours and their prior
    OUTCOMES = "outcomes"
    TOO_FEW = "too-few"  # they would shorten it, but there are too few
    FINE_SO_FAR = "fine-so-far"  # they would shorten it further than films were found fine
    EARLY_SO_FAR = "early-so-far"  # films were too early at longer hours than the belief allows
    SHEET_MINIMUM = "sheet-minimum"
    SHEET_MAXIMUM = "sheet-maximum"


@dataclass(frozen=True, slots=True, eq=False)
class Wait:
    """
    Hours at which a milestone is ready.

    Attributes
    ----------
    hours : ndarray
        Effective hours [h], shape of `se_rel`.
    held_by : HeldBy
        What they follow, at the first of them where there are several.
    untaught_h : ndarray
        The same with no outcomes [h].
    """

    hours: FloatArray
    held_by: HeldBy
    untaught_h: FloatArray


def required_for(
    confidence: float,
    required_h: float,
    *,
    learnt: Learnt,
    se_rel: Numbers = 0.0,
    sheet: SheetLimits = NO_LIMITS,
    about: str | None = None,
) -> Wait:
    """
    Effective hours at which a milestone is ready.

    Parameters
    ----------
    confidence : float
        How sure the outcome must be fine [fraction], 0.5 to 0.999.
    required_h : float
        Hours that the profile requires [h], above 0.
    learnt : Learnt
        What is believed of the finish's pace.
    se_rel : float or array
        Relative standard error of the hours earned [fraction], not negative.
    sheet : SheetLimits
        What the data sheet prints for this milestone.
    about : str or None
        Only films tested against this requirement let its wait grow shorter; None for all films.

    Returns
    -------
    Wait
        The hours, what they follow, and what they would be with no outcomes.

    Raises
    ------
    BadInput
        A value is out of range.

    Notes
    -----
    Without guards the hours where `ready_probability` is `confidence`, and never fewer than were
    the hours earned known exactly. Guards: never below the
    sheet's minimum; longer than with no outcomes only up to its maximum; shorter than with no
    outcomes only from `LEAST_FINE` fine findings of the present lot on, and only to 0.95 of the
    third-smallest ratio among them. 'Too early' may lengthen from the first on. Fine ones are
    counted, so that no 'too early' can ever open the guard. A finish many times slower than its
    profile looks to the belief like a run of mistaken taps; so where `EARLY_RANK` films were too
    early at some hours, and fewer were fine by then than were too early in all, the wait goes
    beyond those hours.
    """
    sure = float(checked(confidence, "confidence", allowed=CONFIDENCE_RANGE, unit="as a fraction"))
    asked = float(checked_positive(required_h, "required_h", unit="h"))
    error = checked_error(se_rel)
    if error.size == 0:
        raise BadInput("se_rel is empty. Give the relative standard error of the hours earned.")
    plain = asked * _ratio_at(sure, error, untaught(learnt.prior))
    if not learnt.findings:
        return _within(sheet, plain, plain, HeldBy.PROFILE)
    sharp = _ratio_at(sure, np.zeros(()), learnt.posterior)
    # Doubt can blur the upper hump of a belief away, and it must not pay to measure badly.
    taught = asked * np.maximum(_ratio_at(sure, error, learnt.posterior), sharp)
    here = [f for f in learnt.findings if f.memory == 1.0]
    fine = sorted(f.ratio for f in here if f.fine and about in (None, f.about))
    held_by, hours = HeldBy.OUTCOMES, taught
    for why, floor in (
        (HeldBy.TOO_FEW, plain if len(fine) < LEAST_FINE else 0.0 * plain),
        (HeldBy.FINE_SO_FAR, np.minimum(plain, asked * _fine_floor(fine))),
        (HeldBy.EARLY_SO_FAR, np.full_like(plain, asked * _early_floor(here))),
    ):
        if floor.flat[0] > hours.flat[0]:
            held_by = why
        hours = np.maximum(hours, floor)
    return _within(sheet, hours, plain, held_by)


def _fine_floor(fine: Sequence[float]) -> float:
    """Return the ratio that fine films shorten to at most; `fine` is sorted."""
    return FINE_MARGIN * fine[FINE_RANK - 1] if len(fine) >= FINE_RANK else 0.0


def _early_floor(findings: Sequence[Finding]) -> float:
    """Return the ratio that films too early lengthen to at least, 0 where they speak for none."""
    early = sorted((f.ratio for f in findings if not f.fine), reverse=True)
    for ratio in early[EARLY_RANK - 1 :]:
        if sum(f.fine and f.ratio <= ratio for f in findings) < len(early):
            return ratio / FINE_MARGIN
    return 0.0


def _ratio_at(confidence: float, se_rel: FloatArray, posterior: Posterior) -> FloatArray:
    """Return theta/H at which the chance is `confidence`, by halving."""
    spread = np.hypot(TEST_SPREAD, se_rel)
    low = LN_PACE_RANGE[0] - FURTHEST_SPREADS * spread
    high = LN_PACE_RANGE[1] + FURTHEST_SPREADS * spread
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        short = chance(middle, spread, posterior) < confidence
        low, high = np.where(short, middle, low), np.where(short, high, middle)
    return np.asarray(np.exp(high))


def _within(sheet: SheetLimits, hours: FloatArray, plain: FloatArray, held_by: HeldBy) -> Wait:
    """Hold a wait inside the sheet's limits; doubt alone may take it beyond the maximum."""
    most = np.maximum(sheet.high_h, plain)
    if hours.flat[0] > most.flat[0]:
        held_by = HeldBy.SHEET_MAXIMUM
    if hours.flat[0] < sheet.low_h:
        held_by = HeldBy.SHEET_MINIMUM
    return Wait(np.maximum(np.minimum(hours, most), sheet.low_h), held_by, plain)
