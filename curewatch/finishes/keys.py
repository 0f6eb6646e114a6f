"""What a finish profile may say: every key, its unit, its plausible ends, and what must agree."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from curewatch.science.solvents import SOLVENTS
from curewatch.shop.finish import DryingLaw, PacePriorName


@dataclass(frozen=True, slots=True)
class Key:
    """One figure's place in a profile.

    Attributes
    ----------
        unit: of the figure, as people read it.
        least, most: outside these no sheet can be meant [unit].
        meaning: what the figure says, in a few words.
        always: True where every profile must give it.
        per_coat: True where the hours may count for each coat.
    """

    unit: str
    least: float
    most: float
    meaning: str
    always: bool = False
    per_coat: bool = False


@dataclass(frozen=True, slots=True)
class Order:
    """Two figures that must stand in order.

    Attributes
    ----------
        lower, upper: paths of the two figures.
        strict: True where they may not be equal.
        because: why, in words.
    """

    lower: str
    upper: str
    because: str
    strict: bool = False


_LONGEST_H: Final = 20_000.0  # over two years: longer than any film is waited for
_SOONEST_H: Final = 0.01

FIGURES: Final[dict[str, Key]] = {
    "drying.wet_film_um": Key("um", 1, 2000, "usual wet film of one coat", always=True),
    "drying.thickness_exponent": Key(
        "", 0, 3, "how drying hours grow with the wet film", always=True
    ),
    "drying.water_load_g_m2": Key("g/m2", 1, 1000, "water in the usual coat"),
    "drying.water_fraction_to_leave": Key(
        "", 0.05, 0.99, "share of the water that leaves before the next coat"
    ),
    "cure.ea_kj_mol": Key("kJ/mol", 1, 250, "how strongly warmth speeds the cure"),
    "cure.humidity_exponent": Key(
        "", -5, 5, "how humidity slows the cure (negative: damp air speeds it)"
    ),
    "cure.lower_limit_c": Key("degC", -20, 60, "no hours are credited below"),
    "cure.upper_limit_c": Key("degC", 0, 80, "more warmth earns no more hours above"),
    "cure.reference_temp_c": Key("degC", 0, 80, "temperature the hours are counted in"),
    "cure.reference_rh_pct": Key("%", 0, 95, "humidity the hours are counted in"),
    "hours.recoat-opens": Key("h", _SOONEST_H, _LONGEST_H, "next coat, not before"),
    "hours.recoat-closes": Key("h", _SOONEST_H, _LONGEST_H, "next coat without scuffing, until"),
    "hours.dry-sand": Key("h", _SOONEST_H, _LONGEST_H, "sands to powder", per_coat=True),
    "hours.wet-sand": Key("h", _SOONEST_H, _LONGEST_H, "wet sanding and levelling", per_coat=True),
    "hours.buff": Key("h", _SOONEST_H, _LONGEST_H, "buffing", per_coat=True),
    "hours.full-cure": Key("h", _SOONEST_H, _LONGEST_H, "full cure", per_coat=True),
    "middle.start_h": Key("h", _SOONEST_H, _LONGEST_H, "no next coat from here"),
    "middle.stop_h": Key("h", _SOONEST_H, _LONGEST_H, "next coat again from here"),
    "pot_life_h": Key("h", _SOONEST_H, _LONGEST_H, "life of a mixed pot"),
    "storage.low_c": Key("degC", -30, 40, "store the unmixed finish no colder"),
    "storage.high_c": Key("degC", 0, 80, "store the unmixed finish no warmer"),
    "young_h": Key("h", _SOONEST_H, _LONGEST_H, "wall hours in which cold can spoil the film"),
    "film.dry_um": Key("um", 1, 500, "dry film of the usual coat"),
    "film.volatile_frac": Key(
        "", 0.001, 0.5, "share of a dried coat's volume that still has to leave"
    ),
    "film.diffusivity_um2_h": Key("um2/h", 0.01, 1e6, "how fast that moves through the film"),
    "film.transfer_um_h": Key("um/h", 0.001, 1e5, "how fast that leaves the surface"),
    "film.sink_tolerance_um": Key("um", 0.01, 50, "shrinkage to come that a polish bears"),
    "confidence": Key("", 0.5, 0.999, "how sure a piece must be ready to be called so"),
    "limits.temp_low_c": Key("degC", -10, 80, "spray no colder (air, liquid, wood)", always=True),
    "limits.temp_high_c": Key("degC", -10, 80, "spray no hotter", always=True),
    "limits.rh_low_pct": Key("%", 0, 100, "comfortable humidity, from", always=True),
    "limits.rh_high_pct": Key("%", 0, 100, "comfortable humidity, to", always=True),
    "limits.rh_warn_pct": Key("%", 0, 100, "little to spare above", always=True),
    "limits.rh_stop_pct": Key("%", 0, 100, "do not spray above", always=True),
    "limits.surface_dew_stop_k": Key(
        "K", 0, 30, "surface above dew point, do not spray under", always=True
    ),
    "limits.surface_dew_warn_k": Key(
        "K", 0, 30, "surface above dew point, little to spare under", always=True
    ),
    "limits.air_dew_warn_k": Key("K", 0, 30, "air above dew point, little to spare under"),
    "limits.air_dew_stop_k": Key("K", 0, 30, "air above dew point, do not spray under"),
    "limits.film_forming_c": Key("degC", 0, 60, "the wet film itself stays above"),
    "limits.cold_check_k_h": Key("K/h", 0.2, 50, "a hard film may crack, cooling faster for 2 h"),
}

ORDERS: Final[tuple[Order, ...]] = (
    Order(
        "hours.recoat-opens",
        "hours.recoat-closes",
        "the window must open before it closes",
        strict=True,
    ),
    Order(
        "hours.recoat-closes",
        "middle.start_h",
        "the window without scuffing ends where the forbidden middle begins, or before",
    ),
    Order("middle.start_h", "middle.stop_h", "the middle must have a far side", strict=True),
    Order("storage.low_c", "storage.high_c", "a can needs some room between cold and warm"),
    Order("hours.dry-sand", "hours.wet-sand", "a film sands dry before it can be levelled wet"),
    Order("hours.wet-sand", "hours.buff", "nothing is buffed before it is levelled"),
    Order("hours.buff", "hours.full-cure", "a fully cured film can be buffed"),
    Order(
        "cure.lower_limit_c",
        "cure.upper_limit_c",
        "credit begins below where it stops growing",
        strict=True,
    ),
    Order("cure.lower_limit_c", "cure.reference_temp_c", "hours are earned at the reference"),
    Order("cure.reference_temp_c", "cure.upper_limit_c", "the reference lies within the limits"),
    Order("limits.temp_low_c", "limits.temp_high_c", "the range must hold something", strict=True),
    Order("limits.rh_low_pct", "limits.rh_high_pct", "the range must hold something", strict=True),
    Order("limits.rh_high_pct", "limits.rh_warn_pct", "the warning lies beyond comfort"),
    Order("limits.rh_warn_pct", "limits.rh_stop_pct", "the warning comes before the stop"),
    Order(
        "limits.surface_dew_stop_k",
        "limits.surface_dew_warn_k",
        "the warning comes before the stop",
    ),
    Order("limits.air_dew_stop_k", "limits.air_dew_warn_k", "the warning comes before the stop"),
)

TEXTS: Final[dict[str, str]] = {  # texts every profile gives
    "name": "machine word, such as 'maple-top-clear'",
    "title": "what people read",
    "summary": "a paragraph for the person at the shelf",
    "missed_window": "what to do when the recoat window was missed",
    "drying.law": "which law the drying clock follows",
}

GROUPS: Final = ("drying", "cure", "hours", "middle", "film", "limits", "storage")

CHOICES: Final[dict[str, tuple[str, ...]]] = {
    "drying.law": tuple(DryingLaw),
    "drying.solvent": tuple(SOLVENTS),
    "pace_prior": tuple(PacePriorName),
}

WATER_LOAD: Final = ("drying.water_load_g_m2", "drying.water_fraction_to_leave")

CURE: Final = tuple(path for path in FIGURES if path.startswith("cure."))

FILM: Final = tuple(path for path in FIGURES if path.startswith("film."))

LEARNT: Final = ("confidence", "pace_prior")

HOURS: Final = tuple(path for path in FIGURES if path.startswith(("hours.", "middle.")))

NEEDED: Final[dict[DryingLaw, tuple[str, ...]]] = {
    DryingLaw.WATER: ("limits.film_forming_c", *CURE),
    DryingLaw.SOLVENT: ("drying.solvent", "hours.recoat-opens", *CURE),
    DryingLaw.CURE: ("hours.recoat-opens", *CURE),
    DryingLaw.NONE: (),
}

IDLE: Final[dict[DryingLaw, tuple[str, ...]]] = {
    DryingLaw.WATER: ("drying.solvent",),
    DryingLaw.SOLVENT: WATER_LOAD,
    DryingLaw.CURE: ("drying.solvent", *WATER_LOAD),
    DryingLaw.NONE: ("drying.solvent", *WATER_LOAD, *CURE, *HOURS, *FILM, *LEARNT),
}

DEW_RULE_K: Final = 3.0  # surface above dew point, ISO 8502-4 guidance
