"""What another climate, a cabinet, a heater or a fan would do to a finish's clocks.

Every answer is a range: what is not known of the finish (its activation energy), of the air's
movement or of the leading solvent is drawn the same on both sides of a comparison, so that only
what really differs is left. The middle of a range is the profile's own figure, never the answer.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from curewatch.science import evaporation, humid_air, wood
from curewatch.science.kinetics import CureLaw
from curewatch.science.solvents import SOLVENTS
from curewatch.shop.clocks import RateLaw
from curewatch.shop.finish import ClockName
from curewatch.shop.laws import law_for

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from curewatch.shop.climate import Floats
    from curewatch.shop.finish import Finish
    from curewatch.shop.room import Room

WIDE_EA_KJ_MOL = (30.0, 90.0)
"""Where a profile gives no band: what wood finishes are thought to span (from memory)."""
CLOCKS = (ClockName.CURE, ClockName.DRYING)


@dataclass(frozen=True, slots=True)
class Range:
    """Both ends of what is plausible, and the profile's own figure between them."""

    low: float
    likely: float
    high: float

    @classmethod
    def over(cls, draws: Sequence[float]) -> Range:
        """Return the range over draws, the first of which is the profile's own."""
        return cls(min(draws), draws[0], max(draws))


@dataclass(frozen=True, slots=True, eq=False)
class Air:
    """A climate, or a sequence of equally long stretches of it; NaN where nothing measures it.

    Attributes
    ----------
    temp_c, rh_frac: temperature [degC] and relative humidity [fraction], shape (n,).
    """

    temp_c: Floats
    rh_frac: Floats

    @classmethod
    def of(cls, temp_c: float | None, rh_frac: float | None) -> Air:
        """Return one steady climate."""
        values = [np.nan if value is None else value for value in (temp_c, rh_frac)]
        return cls(*(np.array([value], dtype=np.float64) for value in values))

    def mean_temp_c(self) -> float | None:
        """Return the mean temperature of what is known [degC]."""
        return _mean(self.temp_c)

    def mean_rh_frac(self) -> float | None:
        """Return the mean relative humidity of what is known [fraction]."""
        return _mean(self.rh_frac)

    def mean_emc_pct(self) -> float | None:
        """Return the moisture that wood would come to in this air [%]; None where not known."""
        known = np.isfinite(self.temp_c) & np.isfinite(self.rh_frac)
        if not known.any():
            return None
        return float(np.mean(wood.emc_pct(self.temp_c[known], self.rh_frac[known])))


@dataclass(frozen=True, slots=True)
class Speed:
    """How fast a clock would run.

    Attributes
    ----------
    against_reference: hours at the reference climate that an hour would be worth.
    against_room: how many times as fast as in the air as it is; None where that earns nothing or
        is not known.
    as_it_is: hours at the reference climate that an hour is worth now; None where not known.
    """

    against_reference: Range | None
    against_room: Range | None
    as_it_is: Range | None


def heated(air: Air, temp_c: Floats | float) -> Air:
    """Return the same air at another temperature: it keeps its water, up to saturation."""
    now_c = np.broadcast_to(np.asarray(temp_c, dtype=np.float64), air.temp_c.shape)
    rh = np.full(air.temp_c.shape, np.nan)
    known = np.isfinite(air.temp_c) & np.isfinite(air.rh_frac) & np.isfinite(now_c)
    water_pa = humid_air.vapour_pressure_pa(air.temp_c[known], air.rh_frac[known])
    rh[known] = np.minimum(water_pa / humid_air.saturation_pressure_pa(now_c[known]), 1.0)
    temp = np.where(np.isfinite(air.temp_c), now_c, np.nan)
    return Air(np.asarray(temp, dtype=np.float64), rh)


def on_schedule(air: Air, temp_c: float, on: Iterable[bool]) -> Air:
    """Return the air with a heater that keeps `temp_c` [degC] at least, where it is on."""
    runs = np.asarray(list(on)) & (air.temp_c < temp_c)
    return heated(air, np.where(runs, temp_c, air.temp_c))


def plausible(finish: Finish, clock: ClockName, room: Room) -> tuple[RateLaw, ...]:
    """Return the rate laws that one of a finish's clocks may follow in a room, its own first.

    The order is the same in every room, so that a draw can be held fixed across rooms. None where
    the finish is cured by dose.
    """
    own = law_for(finish, clock, room)
    if own is None:
        return ()
    match own.law:
        case CureLaw() as law:
            low, high = ea_band(finish)
            ends = [replace(law, ea_kj_mol=ea) for ea in (low, high)]
            return (own, *(replace(own, law=end) for end in ends))
        case evaporation.WaterDrying() as law:
            return (own, *(RateLaw(replace(law, air_speed_m_s=v)) for v in _speeds(law)))
        case evaporation.SolventDrying() as law:  # pragma: no branch - there is no other
            others = [
                replace(law, solvent=name, air_speed_m_s=v)
                for name in SOLVENTS
                for v in (law.air_speed_m_s, *_speeds(law))
            ]
            return (own, *(RateLaw(other) for other in others if other != law))


def ea_band(finish: Finish) -> tuple[float, float]:
    """Return both ends of the finish's activation energy [kJ/mol]; they hold its own figure."""
    if finish.cure is None:
        return WIDE_EA_KJ_MOL
    figure = finish.cure.ea_kj_mol
    low = WIDE_EA_KJ_MOL[0] if figure.low is None else figure.low
    high = WIDE_EA_KJ_MOL[1] if figure.high is None else figure.high
    return min(low, figure.value), max(high, figure.value)


def speeds(
    finish: Finish, before: Air, after: Air, *, room: Room, room_after: Room
) -> dict[ClockName, Speed]:
    """Return how fast each clock would run; no entry where the finish has no such clock.

    Parameters
    ----------
    finish : Finish
        Whose clocks.
    before, after : Air
        The air as it is, and as it would be; the same stretches of a day in both.
    room, room_after : Room
        How the air moves now, and then.
    """
    found = {}
    for clock in CLOCKS:
        old = [mean_rate(law, before) for law in plausible(finish, clock, room)]
        new = [mean_rate(law, after) for law in plausible(finish, clock, room_after)]
        if new:
            found[clock] = Speed(_range(new), _ratio(new, old), _range(old))
    return found


def mean_rate(law: RateLaw, air: Air) -> float | None:
    """Return effective hours per hour over the stretches that are known [h/h]; None if none is."""
    return _mean(law.rates(air.temp_c, air.rh_frac))


def _speeds(law: evaporation.WaterDrying | evaporation.SolventDrying) -> tuple[float, float]:
    factor = evaporation.AIR_SPEED_FACTOR
    return law.air_speed_m_s / factor, law.air_speed_m_s * factor


def _mean(values: Floats) -> float | None:
    known = values[np.isfinite(values)]
    return float(known.mean()) if known.size else None


def _range(draws: Sequence[float | None]) -> Range | None:
    known = [draw for draw in draws if draw is not None]
    return Range.over(known) if len(known) == len(draws) else None


def _ratio(new: Sequence[float | None], old: Sequence[float | None]) -> Range | None:
    if any(not draw for draw in old):  # not known, or nothing
        return None
    return _range(
        [
            None if now is None or not then else now / then
            for now, then in zip(new, old, strict=True)
        ]
    )
