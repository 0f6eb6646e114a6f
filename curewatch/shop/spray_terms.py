"""The nouns of the spray check: verdicts, what is known of a place, one limit, the whole answer."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import TYPE_CHECKING

from curewatch.science import evaporation
from curewatch.shop.clocks import Bias

if TYPE_CHECKING:
    from collections.abc import Iterable

    from curewatch.shop.blush_check import FreshFilm
    from curewatch.shop.reading import Standing
    from curewatch.shop.words import Words

LEAST_RH_FRAC = 0.001  # below this no dew point is worth telling
TIGHT_TEMP_K = 1.0  # closer to a temperature limit than this is 'little to spare'
AGE_STEP_S = 300.0
"""An old reading's doubt grows by steps of this, so that answers can be kept."""
DRIFT_K_PER_H, DRIFT_RH_FRAC_PER_H = 1.0, 0.04
"""How far a room's air may have drifted since its last reading (our own figures, no source)."""


class Verdict(StrEnum):
    """Whether to spray, in order of caution."""

    FIT = "fit"
    TIGHT = "tight"
    UNKNOWN = "unknown"
    WAIT = "wait"

    @property
    def words(self) -> str:
        """What people read."""
        return {
            Verdict.FIT: "fit to spray",
            Verdict.TIGHT: "fit, little to spare",
            Verdict.WAIT: "do not spray now",
            Verdict.UNKNOWN: "cannot tell",
        }[self]

    @property
    def is_go(self) -> bool:
        """Whether one may spray at all."""
        return self in (Verdict.FIT, Verdict.TIGHT)


SEVERITY = {Verdict.FIT: 0, Verdict.TIGHT: 1, Verdict.UNKNOWN: 2, Verdict.WAIT: 3}


def worst(verdicts: Iterable[Verdict]) -> Verdict:
    """Return the most cautious of some verdicts."""
    return max(verdicts, key=SEVERITY.__getitem__)


@dataclass(frozen=True, slots=True)
class Conditions:
    """What is known where one wants to spray; None where nothing measured it.

    Attributes
    ----------
    temp_c, surface_c, liquid_c: air, piece, liquid in the gun [degC].
    rh_frac: relative humidity [fraction].
    air_speed_m_s, pressure_pa: air movement [m/s] and pressure [Pa].
    bias: what the room's sensors may be off by.
    """

    temp_c: float | None
    rh_frac: float | None
    surface_c: float | None = None
    liquid_c: float | None = None
    air_speed_m_s: float = evaporation.AIR_SPEED_M_S["still"]
    pressure_pa: float = 101325.0
    bias: Bias = field(default_factory=Bias)


def aged(here: Conditions, age_s: float) -> Conditions:
    """Return conditions whose doubt has grown by the age of their reading [s]."""
    hours = -(-max(age_s, 0.0) // AGE_STEP_S) * AGE_STEP_S / 3600.0
    if hours == 0.0:
        return here
    bias = Bias(
        float((here.bias.temp_k**2 + (DRIFT_K_PER_H * hours) ** 2) ** 0.5),
        float((here.bias.rh_frac**2 + (DRIFT_RH_FRAC_PER_H * hours) ** 2) ** 0.5),
        here.bias.surface_k,
    )
    return replace(here, bias=bias)


@dataclass(frozen=True, slots=True)
class Limit:
    """One limit of a finish against what is.

    Attributes
    ----------
    name: machine word of the limit.
    value, allowed: what is and where the limit lies, in `unit`; value None if not measured.
    margin: how far inside, negative outside.
    error: standard error of the margin.
    verdict: what this limit alone says.
    reason: in words; `clears`: which way would ease it.
    standing, source: where the limit comes from, as a word and in words.
    """

    name: str
    unit: str
    value: float | None
    allowed: float
    margin: float | None
    error: float
    verdict: Verdict
    reason: str
    clears: str
    standing: Standing
    source: str = ""


@dataclass(frozen=True, slots=True)
class SprayCheck:
    """The verdict for a finish, with every limit; `binding` is the one that decides.

    `blush` is None for finishes that do not dry by solvent, and where it cannot be told.
    """

    finish: str
    verdict: Verdict
    binding: Limit | None
    limits: tuple[Limit, ...]
    dew_point_c: float | None
    wet_film_c: float | None
    notes: tuple[str, ...]
    blush: FreshFilm | None = None

    @property
    def sentence(self) -> str:
        """The verdict with its reason."""
        reason = self.binding.reason if self.binding else "every limit that was measured is kept"
        return f"{self.verdict.words}: {reason}"


def binding_of(limits: Iterable[Limit], verdict: Verdict) -> Limit:
    """Return the limit that decides: of those that say the verdict, the least to spare."""
    return min((limit for limit in limits if limit.verdict is verdict), key=_relative)


def graded(margin: float | None, tight_below: float) -> Verdict:
    """Return what a margin says by itself: outside, little to spare, inside."""
    if margin is None:
        return Verdict.UNKNOWN
    if margin < 0.0:
        return Verdict.WAIT
    return Verdict.TIGHT if margin < tight_below else Verdict.FIT


def said(temp_c: float | None, words: Words) -> str:
    """Say a temperature [degC] that may not have been measured."""
    return "not measured" if temp_c is None else words.temp(temp_c)


def warmer(what: str, margin: float | None, sign: float, *, spare: float, words: Words) -> str:
    """Say which way eases a temperature limit, '' where nothing presses."""
    if margin is None:
        return f"measure the {what}"
    if margin >= spare:
        return ""
    way = "warmer" if sign > 0 else "cooler"
    return f"{what} {way} by {words.kelvin(spare - margin)}"


def _relative(limit: Limit) -> float:
    """Order limits of one verdict: the least margin first, an unmeasured one last."""
    return float("inf") if limit.margin is None else limit.margin / max(abs(limit.allowed), 1.0)
