"""The single things a person can change about a place, a finish or a gun before spraying.

A warmer room keeps its water vapour, so its relative humidity falls; piece and liquid lie in the
room and warm with it. A dryer takes points of relative humidity at the same temperature.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from curewatch.science.saturation import water_pressure_pa
from curewatch.shop.blush_check import COLDEST_C, HOTTEST_C
from curewatch.shop.words import percent

if TYPE_CHECKING:
    from collections.abc import Callable

    from curewatch.shop.spray_terms import Conditions
    from curewatch.shop.words import Words

STEP_K, STEP_RH_PCT = 0.5, 1.0
MOST_K, MOST_RH_PCT = 15.0, 60.0


@dataclass(frozen=True, slots=True)
class Change:
    """One thing to change, by how much, and what it makes of a place.

    Attributes
    ----------
    name: machine word.
    unit: of the amounts, 'K' or '%'.
    amounts: what is tried, least first.
    made: the place after a change by an amount; None where that is no change of this place.
    """

    name: str
    unit: str
    amounts: tuple[float, ...]
    made: Callable[[Conditions, float], Conditions | None]

    def said(self, here: Conditions, by: float, words: Words) -> str:
        """Say the change by an amount, and what else it moves."""
        if self.unit == "%":
            return f"air {self.name} by {by:.0f} points of relative humidity"
        what, _, way = self.name.rpartition("-")
        told = f"{what or 'room'} {way} by {words.kelvin(by)}"
        after = self.made(here, by)
        if what or after is None or after.rh_frac is None:
            return told
        lying = ", piece and liquid with it" if _lies_there(here) else ""
        return f"{told}{lying} (its humidity then {percent(after.rh_frac)})"


def _lies_there(here: Conditions) -> bool:
    return here.surface_c is not None or here.liquid_c is not None


def _room(here: Conditions, by: float) -> Conditions | None:
    if here.temp_c is None or not COLDEST_C <= here.temp_c + by <= HOTTEST_C:
        return None
    rh = here.rh_frac
    if rh is not None:
        before, after = water_pressure_pa(np.array([here.temp_c, here.temp_c + by]))
        rh = min(rh * float(before / after), 1.0)
    return replace(
        here,
        temp_c=here.temp_c + by,
        rh_frac=rh,
        surface_c=_lying(here.surface_c, here.temp_c, by),
        liquid_c=_lying(here.liquid_c, here.temp_c, by),
    )


def _lying(temp_c: float | None, room_c: float, by: float) -> float | None:
    """Return what a thing in the room comes to: along with it, from the side it is on."""
    if temp_c is None:
        return None
    if (temp_c - room_c) * by <= 0.0:
        return temp_c + by
    return max(temp_c, room_c + by) if by > 0.0 else min(temp_c, room_c + by)


def _humidity(here: Conditions, by_pct: float) -> Conditions | None:
    if here.rh_frac is None:
        return None
    rh = here.rh_frac + by_pct / 100.0
    return replace(here, rh_frac=rh) if 0.0 < rh <= 1.0 else None


def _surface(here: Conditions, by: float) -> Conditions | None:
    return None if here.surface_c is None else replace(here, surface_c=here.surface_c + by)


def _liquid(here: Conditions, by: float) -> Conditions | None:
    return None if here.liquid_c is None else replace(here, liquid_c=here.liquid_c + by)


def _steps(step: float, most: float) -> tuple[float, ...]:
    return tuple(step * count for count in range(1, round(most / step) + 1))


_BY_K, _BY_RH = _steps(STEP_K, MOST_K), _steps(STEP_RH_PCT, MOST_RH_PCT)

CHANGES = (
    Change("warmer", "K", _BY_K, _room),
    Change("cooler", "K", _BY_K, lambda here, by: _room(here, -by)),
    Change("drier", "%", _BY_RH, lambda here, by: _humidity(here, -by)),
    Change("moister", "%", _BY_RH, _humidity),
    Change("surface-warmer", "K", _BY_K, _surface),
    Change("surface-cooler", "K", _BY_K, lambda here, by: _surface(here, -by)),
    Change("liquid-warmer", "K", _BY_K, _liquid),
    Change("liquid-cooler", "K", _BY_K, lambda here, by: _liquid(here, -by)),
)
"""What is tried, in the order a person would."""
