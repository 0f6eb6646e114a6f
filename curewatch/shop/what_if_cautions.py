"""What must be said beside a what-if: caps, floors, wood, vapour, and what a warm box can do."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np

from curewatch.shop.finish import ClockName, DryingLaw, MilestoneName
from curewatch.shop.reading import Standing
from curewatch.shop.what_if import heated
from curewatch.shop.words import Words, percent

if TYPE_CHECKING:
    from collections.abc import Iterator

    from curewatch.shop.finish import Finish
    from curewatch.shop.what_if import Air, Speed

DRY_WOOD_PCT = 6.0
"""Below this wood is drier than shops keep it (common practice, no source)."""
WARM_BODY_C = 38.0
"""Warmest that cautious makers let an instrument become (common practice, no source)."""
SOME_K = 0.05  # less is no heating
SATURATED = 0.999
SAME_WATER = 0.02  # a share of the air's water [fraction of RH] not worth speaking of


class Kind(StrEnum):
    """What is asked about."""

    CLIMATE = "climate"
    CABINET = "cabinet"
    HEATER = "heater"
    FAN = "fan"
    LAMP = "lamp"
    OTHER_FINISH = "other-finish"
    FEWER_COATS = "fewer-coats"


@dataclass(frozen=True, slots=True)
class Caution:
    """A sentence that must be said, what it is about, and where it comes from."""

    about: str
    text: str
    standing: Standing


def cautions(
    finish: Finish,
    kind: Kind,
    *,
    before: Air,
    after: Air,
    speeds: dict[ClockName, Speed],
    words: Words,
) -> tuple[Caution, ...]:
    """Return what must be said beside the figures, what can hurt someone first.

    Parameters
    ----------
    finish : Finish
        The profile the figures are of.
    kind : Kind
        What is asked about.
    before, after : Air
        The air as it is, and as it would be.
    speeds : dict
        What `what_if.speeds` found.
    words : Words
        How temperatures are said.
    """
    warmer = bool(np.nanmax(after.temp_c - before.temp_c, initial=0.0) > SOME_K)
    found: list[Caution] = []
    if kind is Kind.LAMP:
        found.append(_lamp())
    if warmer or kind in (Kind.CABINET, Kind.HEATER, Kind.LAMP):
        found += _heat()
    if kind is Kind.FAN:
        found.append(_fan())
    found += _limits(finish, after, words)
    found += _wood(before, after, words)
    found += _water(before, after)
    found += _family(finish)
    cure = speeds.get(ClockName.CURE)
    closes = MilestoneName.RECOAT_CLOSES in finish.requirements
    ratio = None if cure is None else cure.against_room or cure.against_reference
    if closes and ratio is not None and ratio.high > 1.0 + SAME_WATER:
        found.append(
            Caution(
                "recoat",
                "What cures faster also closes the recoat window sooner.",
                Standing.COMMON_PRACTICE,
            )
        )
    return tuple(found)


def _heat() -> Iterator[Caution]:
    yield Caution(
        "flash",
        "Let the film flash off in the room's air first, with the ventilation running: heat too "
        "soon skins it over, traps what is below, and fills a warm box with vapour that burns.",
        Standing.COMMON_PRACTICE,
    )
    yield Caution(
        "safety",
        "A heater or cabinet needs a thermostat and a separate over-temperature cut-out, no open "
        "element or flame near vapour, air let in and out, and someone near while solvent work is "
        "wet; an unvented burner gives off carbon monoxide and water. The label, the safety data "
        "sheet and the local code decide.",
        Standing.COMMON_PRACTICE,
    )


def _lamp() -> Caution:
    return Caution(
        "surface",
        "Sun, a heat lamp, a hair dryer or an oven warm the face that they reach, unevenly, and no "
        "sensor in the air sees it: without a surface probe on the piece they are credited with "
        "nothing. With one the film is worth what it measures, while it measures it. The face "
        "outruns what is below: film blisters, glue lets go, sap and filler come up.",
        Standing.COMMON_PRACTICE,
    )


def _fan() -> Caution:
    return Caution(
        "fan",
        "No fan while the coat flows and flashes; then across the room, not at the piece, and not "
        "one whose motor sparks near solvent vapour. It stirs dust.",
        Standing.COMMON_PRACTICE,
    )


def _limits(finish: Finish, after: Air, words: Words) -> Iterator[Caution]:
    if finish.cure is None:
        yield Caution(
            "dose",
            "This finish is cured by its dose of light, not by hours: what another climate does to "
            "it cannot be told here.",
            Standing.PHYSICS,
        )
        return
    lower, upper = finish.cure.lower_limit_c, finish.cure.upper_limit_c
    if np.nanmax(after.temp_c, initial=-np.inf) > upper.value:
        yield Caution(
            "cap",
            f"More heat earns nothing above {words.temp(upper.value)}: the hours are counted as "
            "at that temperature.",
            upper.standing,
        )
    if np.nanmin(after.temp_c, initial=np.inf) < lower.value:
        yield Caution(
            "floor",
            f"Below {words.temp(lower.value)} an hour earns nothing, and a film in its first days "
            "may be harmed for good.",
            lower.standing,
        )
    high = finish.limits.temp_high_c
    if np.nanmax(after.temp_c, initial=-np.inf) > high.value:
        yield Caution(
            "spraying",
            f"This is for a film that has flashed: spray at no more than {words.temp(high.value)}.",
            high.standing,
        )


def _wood(before: Air, after: Air, words: Words) -> Iterator[Caution]:
    old, new = before.mean_emc_pct(), after.mean_emc_pct()
    if new is None:
        yield Caution(
            "wood",
            "No humidity is known, so what the wood will do cannot be told.",
            Standing.PHYSICS,
        )
    elif old is None or abs(new - old) >= 0.1:  # noqa: PLR2004 - a tenth of a per cent
        start = "" if old is None else f"from {old:.1f} "
        yield Caution(
            "wood",
            f"Wood left in this air goes {start}to {new:.1f} % moisture, give or take 1 %: a thin "
            "plate within days, a body within weeks. Under the film it moves.",
            Standing.PHYSICS,
        )
    if new is not None and new < DRY_WOOD_PCT:
        yield Caution(
            "dry-wood",
            f"Below about {DRY_WOOD_PCT:.0f} % joints open, plates crack and a brittle film "
            "checks: add moisture, or keep it short.",
            Standing.COMMON_PRACTICE,
        )
    if np.nanmax(after.temp_c, initial=-np.inf) > WARM_BODY_C:
        yield Caution(
            "glue",
            f"Above {words.temp(WARM_BODY_C)} glue creeps under load, first of all under string "
            "tension; take strings and clamps off.",
            Standing.COMMON_PRACTICE,
        )


def _water(before: Air, after: Air) -> Iterator[Caution]:
    if np.nanmax(after.rh_frac, initial=0.0) >= SATURATED:
        yield Caution(
            "saturated",
            "That air would be saturated: water settles on everything colder, and a waterborne "
            "coat does not dry.",
            Standing.PHYSICS,
        )
    if after.temp_c.size > 1 or before.temp_c.size > 1:
        return
    from_before = float(heated(before, after.temp_c).rh_frac[0])
    now = float(after.rh_frac[0])
    if np.isfinite(from_before) and np.isfinite(now) and abs(now - from_before) > SAME_WATER:
        what = "dried" if now < from_before else "given water"
        yield Caution(
            "humidity",
            f"The room's air alone would come to {percent(from_before)} at that temperature: it "
            f"would have to be {what}. A dehumidifier or humidifier is a source of sparks too.",
            Standing.PHYSICS,
        )


def _family(finish: Finish) -> Iterator[Caution]:
    exponent = 0.0 if finish.cure is None else finish.cure.humidity_exponent.value
    if finish.drying.law is DryingLaw.SOLVENT:
        yield Caution(
            "humidity-sign",
            "Humidity is a risk of blush while this finish is sprayed, hardly a rate: drier "
            "air does not dry it sooner.",
            Standing.COMMON_PRACTICE,
        )
    if finish.drying.law is DryingLaw.WATER:
        yield Caution(
            "humidity-sign",
            "Humidity rules the drying of this finish, and little of its later cure. The "
            "drying figures hold while water still leaves freely: take them as the most.",
            Standing.COMMON_PRACTICE,
        )
    if exponent < 0.0:
        yield Caution(
            "humidity-sign",
            "This finish cures by moisture: drier air slows it.",
            Standing.COMMON_PRACTICE,
        )
