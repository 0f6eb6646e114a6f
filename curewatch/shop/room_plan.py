"""What a person says a room will be like: a set-point, the heater off over the week-end.

The outlook obeys it; nothing that has happened is changed by it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from curewatch.errors import BadInput
from curewatch.science.outlook_paths import PlannedClimate
from curewatch.shop.clocks import MS_PER_H

if TYPE_CHECKING:
    from collections.abc import Iterable

SETTLING_H = (
    3.0  # a room comes near a new temperature within about this (our own figure, no source)
)
LEAST_TEMP_C, MOST_TEMP_C = -40.0, 60.0


@dataclass(frozen=True, slots=True)
class RoomPlan:
    """A stretch in which a person has said what a room will be like.

    Attributes
    ----------
        room: which room.
        start_ms, stop_ms: from when to when [ms]; no end: until further notice.
        temp_c: temperature that is kept, or that the room drifts towards [degC].
        rh_frac: relative humidity that is kept [fraction].
        left_alone: whether the heating is off and the room drifts.
        why: the person's own words.
        id: storage's number for it, 0 for a set-point from the configuration.
        temp_at_least: whether the room is only kept from falling below `temp_c`: a heater cannot
            cool, and a room that is warmer by itself stays so.
        rh_at_most: whether the air is only kept from rising above `rh_frac`: a dehumidifier cannot
            wet it.
        entered_ms: when it was said [ms]; 0 for what was always known.
    """

    room: str
    start_ms: int
    stop_ms: int | None = None
    temp_c: float | None = None
    rh_frac: float | None = None
    left_alone: bool = False
    why: str = ""
    id: int = 0
    temp_at_least: bool = False
    rh_at_most: bool = False
    entered_ms: int = 0

    def __post_init__(self) -> None:
        """Refuse what cannot be meant."""
        if self.stop_ms is not None and self.stop_ms <= self.start_ms:
            raise BadInput("the change would stop before it starts: check both times")
        if self.temp_c is None and self.rh_frac is None:
            raise BadInput("say what the room will be like: a temperature, a humidity, or both")
        if self.left_alone and self.temp_at_least:
            raise BadInput("with the heating off nothing keeps the room from falling: say one")
        if self.temp_c is not None and not LEAST_TEMP_C <= self.temp_c <= MOST_TEMP_C:
            raise BadInput(f"{self.temp_c:g} degC is no temperature of a room: check the unit")
        if self.rh_frac is not None and not 0.0 <= self.rh_frac <= 1.0:
            raise BadInput(f"{self.rh_frac * 100.0:g} % is no relative humidity: give 0 to 100")


def known_plans(plans: Iterable[RoomPlan], known_ms: int) -> tuple[RoomPlan, ...]:
    """Return what had been said by `known_ms` [ms]; what was taken back since then is gone."""
    return tuple(plan for plan in plans if plan.entered_ms <= known_ms)


def planned_climate(plans: Iterable[RoomPlan], from_ms: int) -> tuple[PlannedClimate, ...]:
    """Return the changes that still matter after `from_ms` [ms], as the outlook takes them."""
    found = []
    for plan in plans:
        stop_h = math.inf if plan.stop_ms is None else (plan.stop_ms - from_ms) / MS_PER_H
        if stop_h <= 0.0:
            continue
        found.append(
            PlannedClimate(
                start_h=(plan.start_ms - from_ms) / MS_PER_H,
                stop_h=stop_h,
                temp_c=plan.temp_c,
                rh_frac=plan.rh_frac,
                settling_h=SETTLING_H,
                free=plan.left_alone,
                temp_at_least=plan.temp_at_least,
                rh_at_most=plan.rh_at_most,
            )
        )
    return tuple(found)
