"""The hours that the cautious end of a milestone asks for, by the doubt of the hours earned.

With no outcomes that is the rule's hours with 1.28 standard errors more. With outcomes it is what
`science.waiting` makes of them; and as long as they are too few to shorten a wait, the rule's hours
with their doubt hold as well.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from curewatch.science.learning import untaught
from curewatch.science.waiting import LEAST_FINE, SheetLimits, required_for
from curewatch.shop.finish import MilestoneName
from curewatch.shop.laws import required_h
from curewatch.shop.reading import Standing

if TYPE_CHECKING:
    from curewatch.science.learning import Learnt
    from curewatch.shop.climate import Floats
    from curewatch.shop.finish import Finish
    from curewatch.shop.piece import Coat

CONFIDENT_Z = 1.28  # nine times in ten, one-sided (standard normal)
LEARNING = (MilestoneName.WET_SAND, MilestoneName.BUFF, MilestoneName.FULL_CURE)
"""Milestones whose waits follow outcomes, in order: those on the cure clock."""
DOUBTS = np.concatenate(([0.0], np.geomspace(0.005, 10.0, 40)))
"""Relative standard errors that waits are worked out at; straight lines between them."""


@dataclass(frozen=True, slots=True, eq=False)
class Need:
    """
    Hours that the cautious end asks for.

    Attributes
    ----------
    rule_h : float
        Hours that 1.28 standard errors are laid on [h].
    learnt_h : tuple of ndarray
        Hours that outcomes ask for at each of `DOUBTS`, their doubt included [h].
    """

    rule_h: float
    learnt_h: tuple[Floats, ...] = ()

    def at(self, se_rel: Floats | float) -> Floats:
        """Return the hours asked for at a relative standard error [h]; same shape."""
        error = np.asarray(se_rel, dtype=np.float64)
        hours = np.asarray(self.rule_h * (1.0 + CONFIDENT_Z * error), dtype=np.float64)
        for table in self.learnt_h:
            hours = np.maximum(hours, np.interp(error, DOUBTS, table))
        return hours


def need(
    finish: Finish,
    name: MilestoneName,
    coats: tuple[Coat, ...],
    *,
    rule_h: float,
    film_h: float = 0.0,
    learnt: Learnt | None = None,
) -> Need:
    """
    Return what the cautious end of a milestone asks for.

    Parameters
    ----------
    finish : Finish
        The profile.
    name : MilestoneName
        Which milestone; outcomes count for those in `LEARNING`.
    coats : tuple of Coat
        The stack.
    rule_h : float
        What the milestone asks for by the profile [h].
    film_h : float
        What the film asks for [h], 0 where it says nothing.
    learnt : Learnt or None
        What outcomes say of the finish's pace; None where there are none.

    Notes
    -----
    Nothing is ready before what comes before it, whichever of them outcomes were logged for.
    """
    if learnt is None or not learnt.findings or name not in LEARNING:
        return Need(max(rule_h, film_h))
    kept_h, tables = film_h, []
    for each in LEARNING[: LEARNING.index(name) + 1]:
        asked = required_h(finish, each, coats)
        if asked is None:
            continue
        fine = sum(f.fine and f.memory == 1.0 and f.about == each for f in learnt.findings)
        if fine < LEAST_FINE:
            kept_h = max(kept_h, asked)
        sheet = _sheet(finish, each, len(coats))
        tables.append(_table(learnt, finish.sure_enough, asked, sheet, str(each)))
    return Need(kept_h, tuple(tables))


@lru_cache(maxsize=64)
def slowness(learnt: Learnt | None) -> float:
    """Return how many times slower than its profile a film is taken: never faster.

    A quicker pace is shown and shortens waits by its own guards; it dries no film on paper.
    """
    if learnt is None or not learnt.findings:
        return 1.0
    moved = learnt.posterior.quantile(0.5) / untaught(learnt.prior).quantile(0.5)
    return max(round(float(moved), 3), 1.0)


def _sheet(finish: Finish, name: MilestoneName, coats: int) -> SheetLimits:
    """Return what the data sheet prints for a milestone; nothing where it prints nothing.

    What comes before another milestone takes no longer than that one's printed maximum either.
    """
    least, _ = _printed(finish, name, coats)
    later = [_printed(finish, each, coats)[1] for each in LEARNING[LEARNING.index(name) :]]
    most = min((one for one in later if one is not None), default=None)
    if least is not None and most is not None:
        most = max(most, least)
    return SheetLimits(least, most)


def _printed(finish: Finish, name: MilestoneName, coats: int) -> tuple[float | None, float | None]:
    """Return a milestone's least and most hours where a data sheet prints them [h]."""
    asked = finish.requirements.get(name)
    if asked is None or asked.hours.standing is not Standing.DATA_SHEET:
        return None, None
    times = coats if asked.per_coat else 1
    least = asked.hours.value if asked.hours.low is None else asked.hours.low
    return least * times, None if asked.hours.high is None else asked.hours.high * times


@lru_cache(maxsize=256)
def _table(
    learnt: Learnt, confidence: float, asked_h: float, sheet: SheetLimits, about: str
) -> Floats:
    wait = required_for(confidence, asked_h, learnt=learnt, se_rel=DOUBTS, sheet=sheet, about=about)
    wait.hours.setflags(write=False)
    return wait.hours
