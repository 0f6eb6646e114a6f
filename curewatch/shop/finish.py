"""A finish: one product profile, every number with its standing."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from curewatch.shop.reading import Standing


class DryingLaw(StrEnum):
    """How the film of a finish loses what it was thinned with."""

    WATER = "water"  # the wet film's evaporation, science.evaporation
    SOLVENT = "solvent"  # vapour pressure of a leading solvent; humidity gates blush only
    CURE = "cure"  # the cure clock serves as drying clock
    NONE = "none"  # cured by dose: no clock answers


class ClockName(StrEnum):
    """The clocks a milestone can be read from."""

    DRYING = "drying"
    CURE = "cure"
    WALL = "wall"
    DOSE = "dose"


class MilestoneName(StrEnum):
    """The thresholds of a piece's cure, in order."""

    RECOAT_OPENS = "recoat-opens"
    RECOAT_CLOSES = "recoat-closes"
    DRY_SAND = "dry-sand"
    WET_SAND = "wet-sand"
    BUFF = "buff"
    FULL_CURE = "full-cure"


@dataclass(frozen=True, slots=True)
class Figure:
    """A number of a profile.

    Attributes
    ----------
        value: the figure in the unit its key names.
        standing: where it comes from.
        low, high: the ends of what is plausible, where they are known.
        source: in words: which sheet, which practice, why.
    """

    value: float
    standing: Standing
    low: float | None = None
    high: float | None = None
    source: str = ""

    @property
    def standard_error(self) -> float:
        """Half-width of one standard error, (high - low)/sqrt(12); 0 where no band is given."""
        if self.low is None or self.high is None:
            return 0.0
        return float((self.high - self.low) / 12.0**0.5)


@dataclass(frozen=True, slots=True)
class CureFigures:
    """The cure clock's rate law: Ea [kJ/mol], humidity exponent, limits of credit [degC]."""

    ea_kj_mol: Figure
    humidity_exponent: Figure
    lower_limit_c: Figure
    upper_limit_c: Figure
    reference_temp_c: Figure
    reference_rh_pct: Figure


@dataclass(frozen=True, slots=True)
class DryingFigures:
    """The drying clock.

    Attributes
    ----------
        law: which law it follows.
        solvent: the leading solvent of the `solvent` law, '' otherwise.
        wet_film_um: the usual wet film of one coat [um].
        thickness_exponent: how drying hours grow with the wet film.
        water_load_g_m2: water in the usual coat [g/m2], water law only.
        water_fraction_to_leave: share of it that must leave before the next coat.
    """

    law: DryingLaw
    wet_film_um: Figure
    thickness_exponent: Figure
    solvent: str = ""
    water_load_g_m2: Figure | None = None
    water_fraction_to_leave: Figure | None = None


@dataclass(frozen=True, slots=True)
class Requirement:
    """The hours a milestone asks for on its clock at the reference climate.

    Attributes
    ----------
        hours: effective hours [h]; with `per_coat` hours for each coat of the stack.
        per_coat: multiply by the number of coats.
    """

    hours: Figure
    per_coat: bool = False


@dataclass(frozen=True, slots=True)
class ForbiddenMiddle:
    """Hours after a coat between which the next one wrinkles the film (recoat early or late)."""

    start_h: Figure
    stop_h: Figure


@dataclass(frozen=True, slots=True)
class Limits:
    """The climate a finish may be sprayed and dried in.

    Attributes
    ----------
        temp_low_c, temp_high_c: air, liquid and wood while spraying [degC].
        rh_low_pct, rh_high_pct: comfortable relative humidity [%].
        rh_warn_pct, rh_stop_pct: little to spare, and do not spray [%].
        surface_dew_stop_k, surface_dew_warn_k: surface above the dew point [K].
        air_dew_warn_k, air_dew_stop_k: air above the dew point [K], fast solvents.
        film_forming_c: the film's own temperature must stay above this [degC], waterborne.
        cold_check_k_h: a hardened film may crack when it cools faster over two hours [K/h];
            None for films that bear it.
    """

    temp_low_c: Figure
    temp_high_c: Figure
    rh_low_pct: Figure
    rh_high_pct: Figure
    rh_warn_pct: Figure
    rh_stop_pct: Figure
    surface_dew_stop_k: Figure
    surface_dew_warn_k: Figure
    air_dew_warn_k: Figure | None = None
    air_dew_stop_k: Figure | None = None
    film_forming_c: Figure | None = None
    cold_check_k_h: Figure | None = None


@dataclass(frozen=True, slots=True)
class FilmFigures:
    """What a film still holds once its coats have dried, and how it leaves: for sink-back.

    Attributes
    ----------
        dry_um: dry thickness of the usual coat [um].
        volatile_frac: volatile volume fraction a coat is laid with once it has flashed.
        diffusivity_um2_h, transfer_um_h: how fast that moves through the film [um2/h] and leaves
            its surface [um/h] at the reference climate.
        sink_tolerance_um: shrinkage still to come that a polished surface bears [um].
    """

    dry_um: Figure
    volatile_frac: Figure
    diffusivity_um2_h: Figure
    transfer_um_h: Figure
    sink_tolerance_um: Figure


class PacePriorName(StrEnum):
    """What a profile's waiting hours are: a cautious rule, or a remembered middle."""

    RULE = "rule"
    MEMORY = "memory"


@dataclass(frozen=True, slots=True)
class StorageLimits:
    """Between which temperatures the unmixed finish is stored [degC]; None: no limit is told."""

    low_c: Figure | None = None
    high_c: Figure | None = None


USUAL_CONFIDENCE = 0.9


@dataclass(frozen=True, slots=True)
class Finish:
    """One product profile, at one revision.

    Attributes
    ----------
        name: machine word, such as 'waterborne'.
        title: what people read.
        revision: counted by storage; a piece keeps the one it was sprayed under.
        tried: False where the figures are generic and nobody has tried the profile whole.
        summary: a paragraph for the person at the shelf.
        drying, cure: the rate laws' figures.
        requirements: hours per milestone; a milestone may be missing (never closes, no answer).
        middle: the forbidden middle, where the finish has one.
        pot_life_h: life of a mixed pot at the reference climate [h].
        young_h: hours on the wall clock during which cold can harm the film for good [h].
        limits: the spraying and drying climate.
        missed_window: what the trade does when the window was missed.
        safety: the usual cautions, as sentences.
        film: what sink-back is worked out from; None: no film model.
        confidence: how sure a piece must be ready before it is called so; None for 0.9.
        storage: between which temperatures it is stored; None: its profile does not say.
        pace_prior: what its waiting hours are; None: as the standing of its buffing hours says.
    """

    name: str
    title: str
    revision: int
    tried: bool
    summary: str
    drying: DryingFigures
    cure: CureFigures | None
    requirements: dict[MilestoneName, Requirement]
    limits: Limits
    missed_window: str
    safety: tuple[str, ...]
    middle: ForbiddenMiddle | None = None
    pot_life_h: Figure | None = None
    young_h: Figure | None = None
    film: FilmFigures | None = None
    confidence: Figure | None = None
    pace_prior: PacePriorName | None = None
    storage: StorageLimits | None = None

    @property
    def sure_enough(self) -> float:
        """The confidence asked for [fraction]."""
        return USUAL_CONFIDENCE if self.confidence is None else self.confidence.value
