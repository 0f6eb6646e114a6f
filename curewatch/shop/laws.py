"""From a finish's figures and a room to the rate laws its clocks run by."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from curewatch.errors import BadInput
from curewatch.science import evaporation, kinetics
from curewatch.shop.clocks import RateLaw
from curewatch.shop.finish import ClockName, DryingLaw, MilestoneName
from curewatch.shop.reading import Standing

if TYPE_CHECKING:
    from curewatch.shop.finish import CureFigures, Finish
    from curewatch.shop.piece import Coat
    from curewatch.shop.room import Room

REFERENCE_TEMP_C, REFERENCE_RH_FRAC = 21.0, 0.5
"""Climate that hours are counted at where a profile names none."""
READY_MILESTONES = (
    MilestoneName.RECOAT_OPENS,
    MilestoneName.DRY_SAND,
    MilestoneName.WET_SAND,
    MilestoneName.BUFF,
    MilestoneName.FULL_CURE,
)
CLOCK_OF = {
    MilestoneName.RECOAT_OPENS: ClockName.DRYING,
    MilestoneName.RECOAT_CLOSES: ClockName.WALL,
    MilestoneName.DRY_SAND: ClockName.DRYING,
    MilestoneName.WET_SAND: ClockName.CURE,
    MilestoneName.BUFF: ClockName.CURE,
    MilestoneName.FULL_CURE: ClockName.CURE,
}


def air_speed_m_s(air: str) -> float:
    """Return the air speed [m/s] that a room's word for its air stands for."""
    speed = evaporation.AIR_SPEED_M_S.get(air)
    if speed is None:
        words = ", ".join(evaporation.AIR_SPEED_M_S)
        raise BadInput(f"air {air!r} is not known: say one of {words}")
    return speed


def cure_law(finish: Finish) -> RateLaw | None:
    """Return the finish's cure clock, None where it is cured by dose."""
    return None if finish.cure is None else _cure_law(finish.cure)


@lru_cache(maxsize=1024)
def _cure_law(figures: CureFigures) -> RateLaw:
    law = kinetics.CureLaw(
        ea_kj_mol=figures.ea_kj_mol.value,
        humidity_exponent=figures.humidity_exponent.value,
        reference_temp_c=figures.reference_temp_c.value,
        reference_rh_frac=figures.reference_rh_pct.value / 100.0,
        lower_limit_c=figures.lower_limit_c.value,
        upper_limit_c=figures.upper_limit_c.value,
    )
    return RateLaw(law, figures.ea_kj_mol.standard_error)


def drying_law(finish: Finish, room: Room) -> RateLaw | None:
    """Return the finish's drying clock in a room, None where it is cured by dose.

    Its hours are hours at the profile's own reference climate, as the cure clock's are.
    """
    match finish.drying.law:
        case DryingLaw.WATER:
            return _water_law(room.air, room.pressure_pa, *reference_climate(finish))
        case DryingLaw.SOLVENT:
            return _solvent_law(finish.drying.solvent, room.air, reference_climate(finish)[0])
        case DryingLaw.CURE:
            return cure_law(finish)
        case DryingLaw.NONE:  # pragma: no branch - there is no other
            return None


def reference_climate(finish: Finish) -> tuple[float, float]:
    """Return the climate a finish's hours are counted at: [degC], [fraction]."""
    if finish.cure is None:
        return REFERENCE_TEMP_C, REFERENCE_RH_FRAC
    return finish.cure.reference_temp_c.value, finish.cure.reference_rh_pct.value / 100.0


@lru_cache(maxsize=1024)
def _water_law(air: str, pressure_pa: float, temp_c: float, rh_frac: float) -> RateLaw:
    return RateLaw(
        evaporation.WaterDrying(
            air_speed_m_s=air_speed_m_s(air),
            p_pa=pressure_pa,
            reference_temp_c=temp_c,
            reference_rh_frac=rh_frac,
        )
    )


@lru_cache(maxsize=1024)
def _solvent_law(solvent: str, air: str, temp_c: float) -> RateLaw:
    return RateLaw(
        evaporation.SolventDrying(
            solvent, air_speed_m_s=air_speed_m_s(air), reference_temp_c=temp_c
        )
    )


def law_for(finish: Finish, clock: ClockName, room: Room) -> RateLaw | None:
    """Return the rate law of one of a finish's clocks in a room."""
    return drying_law(finish, room) if clock is ClockName.DRYING else cure_law(finish)


def usual_drying_h(finish: Finish) -> float | None:
    """Return the drying hours [h] at the reference climate before the usual coat takes the next.

    Under the water law: the share of the water load that must leave over the evaporation rate
    of a wet film; else the profile's own hours.
    """
    drying = finish.drying
    if drying.law is DryingLaw.WATER and drying.water_load_g_m2 and drying.water_fraction_to_leave:
        temp_c, rh_frac = reference_climate(finish)
        per_hour = evaporation.reference_rate_g_m2_h(
            evaporation.WaterDrying(reference_temp_c=temp_c, reference_rh_frac=rh_frac)
        )
        return drying.water_load_g_m2.value * drying.water_fraction_to_leave.value / per_hour
    asked = finish.requirements.get(MilestoneName.RECOAT_OPENS)
    return None if asked is None else asked.hours.value


def thickness_factor(finish: Finish, coat: Coat) -> float:
    """Return how much longer than the usual coat this one dries, from its wet film."""
    if coat.wet_um is None:
        return 1.0
    ratio = coat.wet_um / finish.drying.wet_film_um.value
    return float(ratio**finish.drying.thickness_exponent.value)


def required_h(finish: Finish, milestone: MilestoneName, coats: tuple[Coat, ...]) -> float | None:
    """Return the hours a milestone asks of a stack of coats, None where it has no answer [h].

    Drying milestones grow with the last coat's wet film, and shrink with it where their hours are
    no data sheet's; a closing limit does neither. Wet
    sanding, buffing and full cure come in that order whatever the number of coats.
    """
    if not coats or finish.drying.law is DryingLaw.NONE:
        return None
    if milestone is MilestoneName.RECOAT_OPENS:
        usual = usual_drying_h(finish)
        return None if usual is None else usual * _thickness(finish, milestone, coats[-1])
    asked = finish.requirements.get(milestone)
    if asked is None:
        return None
    hours = asked.hours.value * (len(coats) if asked.per_coat else 1)
    if milestone is MilestoneName.DRY_SAND:
        return hours * _thickness(finish, milestone, coats[-1])
    if milestone in (MilestoneName.BUFF, MilestoneName.FULL_CURE):
        before = MilestoneName.WET_SAND if milestone is MilestoneName.BUFF else MilestoneName.BUFF
        return max(hours, required_h(finish, before, coats) or 0.0)
    return hours


def _thickness(finish: Finish, milestone: MilestoneName, coat: Coat) -> float:
    """Return how a coat's film changes hours: thinner than usual never undercuts a data sheet."""
    factor = thickness_factor(finish, coat)
    drying = finish.drying
    by_load = milestone is MilestoneName.RECOAT_OPENS and drying.law is DryingLaw.WATER
    figure = drying.water_load_g_m2 if by_load else None
    if figure is None:
        asked = finish.requirements.get(milestone)
        figure = None if asked is None else asked.hours
    sheet = figure is not None and figure.standing is Standing.DATA_SHEET
    return max(factor, 1.0) if sheet else factor
