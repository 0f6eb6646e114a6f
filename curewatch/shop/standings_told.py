"""Where the numbers of the smaller answers come from: air, days ahead, suspects, judging anew."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from curewatch.shop.reading import Standing
from curewatch.shop.standings import (
    AIR,
    COUNTED,
    COVERED,
    LOGGED,
    MEASURED,
    WATER,
    by_warmth,
    entry,
    piece_standings,
)

if TYPE_CHECKING:
    from curewatch.shop.assessment import PieceNow
    from curewatch.shop.finish import Finish
    from curewatch.shop.plain import Plain

TYPED: Final = "typed"
PSYCHROMETRY: Final = "Hyland and Wexler 1983, as in ASHRAE Handbook - Fundamentals"
WOOD: Final = "Wood Handbook 2021, chapter 4, equation 4-5"
HEIGHT: Final = "what was typed, else the standard atmosphere"
OUTLOOK: Final = "this room's outlook: its last day and week, its daily shape, its past errors"


def air_standings() -> Plain:
    """Return where the numbers of a typed air's state come from."""
    worked_out = (
        "dew_point_c",
        "frost_point_c",
        "wet_bulb_c",
        "vapour_pressure_pa",
        "vapour_pressure_deficit_pa",
        "humidity_ratio_kg_kg",
    )
    typed, wet = entry(TYPED, "as typed"), entry(Standing.PHYSICS, WATER)
    return {
        "temp_c": typed,
        "rh_pct": typed,
        "pressure_pa": entry(Standing.PHYSICS, HEIGHT),
        **dict.fromkeys(worked_out, entry(Standing.PHYSICS, PSYCHROMETRY)),
        "wood_emc_pct": entry(Standing.PHYSICS, WOOD),
        "wet_film_c": wet,
        "evaporation_g_m2_h": wet,
    }


def ahead_standings() -> Plain:
    """Return where the numbers of a room's days ahead come from."""
    typed = entry(TYPED, "a plan as people entered it, or the configuration")
    planned = dict.fromkeys(("plans", "entered", "voided"), typed)
    return {**planned, "ahead": entry(Standing.LEARNT_HERE, OUTLOOK)}


def suspects_standings() -> Plain:
    """Return where the numbers of the suspects of a white coat come from."""
    found = entry(MEASURED, f"{AIR}, and the limits of the coat's profile")
    rows = dict.fromkeys(("suspects", "unknown", "clean"), found)
    return {
        "coat": entry(MEASURED, LOGGED),
        "coverage_pct": entry(MEASURED, COVERED),
        **rows,
    }


def rejudged_standings(before: PieceNow, after: PieceNow) -> Plain:
    """Return where the milestones of a piece come from, by its old profile and by its new one."""
    logged = entry(MEASURED, LOGGED)
    told: Plain = {"from_revision": logged, "to_revision": logged}
    for head, now in (("before", before), ("after", after)):
        for place, source in piece_standings(now).items():
            if place.startswith("milestones."):
                told[f"{head}.{place.removeprefix('milestones.')}"] = source
    return told


def law_standing(profile: Finish) -> Plain:
    """Return where hours worked out by a finish's cure law come from."""
    if profile.cure is None:
        return entry(Standing.PHYSICS, "no clock answers for this finish")
    return by_warmth(profile.cure.ea_kj_mol)


def what_if_standings(profile: Finish, source: str) -> Plain:
    """Return where the numbers of a what-if come from; `source` says where its air does."""
    law = law_standing(profile)
    found = MEASURED if source in ("measured", "usual days") else TYPED
    rates = ("rate", "milestones", "from_last_coat")
    return {
        "from": entry(found, f"the air as it is: {source}"),
        "from.known_pct": entry(MEASURED, COVERED),
        "to": entry(TYPED, "what was asked"),
        "wood_emc_pct": entry(Standing.PHYSICS, WOOD),
        "activation_energy_kj_mol": law,
        **dict.fromkeys(rates, law),
        "drying_rate": entry(Standing.PHYSICS, "the finish's drying law at either air"),
    }


def night_standings(profile: Finish) -> Plain:
    """Return where the numbers of what a night cost come from."""
    law, covered = law_standing(profile), entry(MEASURED, COVERED)
    spans = ("hours", "covered_h", "coverage_pct")
    against = ("lost_against_reference_h", "lost_against_expected_h", "lost_bounds_h")
    hours = ("earned_h", "expected_h", *against)
    return {
        **dict.fromkeys(spans, covered),
        "coldest_c": entry(MEASURED, AIR),
        **dict.fromkeys(hours, law),
        "pieces": law,
    }


def plan_standings(profile: Finish) -> Plain:
    """Return where the numbers of a plan come from."""
    logged = entry(MEASURED, "counted in the plan")
    told = ("finish_revision", "coats", "unplanned", "in_unfit_room", "pots", "warnings")
    counted = dict.fromkeys(told, logged)
    return {
        **counted,
        "sure_pct": entry(TYPED, "as it was asked for, else as usual"),
        "basis": entry(MEASURED, f"{AIR}, or what was typed"),
        "would_do": law_standing(profile),
        "searched_to_c": entry(Standing.FROM_MEMORY, "the warmest that is asked of a room here"),
    }


def counts_standings(*places: str) -> Plain:
    """Return that what stands at these places was counted."""
    return dict.fromkeys(places, entry(MEASURED, COUNTED))
