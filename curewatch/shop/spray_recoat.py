"""When a coat sprayed now will have flashed and take the next: here, beside what the sheet says.

The drying clock's hours of the profile are earned at the rate of the air to come. The band holds
what is not known of the finish (activation energy, water load, wet film), of the air's movement
and of the sensors, at eight in ten; a room's outlook adds its own.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from curewatch.science import evaporation
from curewatch.shop.clocks import RateLaw
from curewatch.shop.finish import DryingLaw, MilestoneName
from curewatch.shop.laws import cure_law, usual_drying_h
from curewatch.shop.spray_outlook import LIKELY

if TYPE_CHECKING:
    from curewatch.shop.climate import Floats
    from curewatch.shop.finish import Figure, Finish
    from curewatch.shop.reading import Standing
    from curewatch.shop.spray_outlook import AirAhead
    from curewatch.shop.spray_terms import Conditions

EIGHT_IN_TEN = 1.2816  # standard errors to either side that hold 80 % of a normal spread
REFERENCE_C, REFERENCE_RH_PCT = 21.0, 50.0


@dataclass(frozen=True, slots=True)
class Band:
    """Hours from now, eight in ten between the ends; None beyond what can be told [h]."""

    earliest: float | None
    likely: float | None
    latest: float | None


@dataclass(frozen=True, slots=True)
class Recoat:
    """How long a coat sprayed now keeps the next one waiting.

    Attributes
    ----------
    coats: how many coats are to be sprayed, each as soon as the one before has flashed.
    sheet_h: what the profile asks for one coat in the room its times are for [h].
    sheet_temp_c, sheet_rh_pct: that room [degC], [%].
    one: when the first of them takes the next [h].
    last: when the last of them has flashed [h].
    standing: where the profile's hours come from.
    """

    coats: int
    sheet_h: float
    sheet_temp_c: float
    sheet_rh_pct: float
    one: Band
    last: Band
    standing: Standing


def drying_rate_law(finish: Finish, here: Conditions) -> RateLaw | None:
    """Return the finish's drying clock in the air of a place; None where it is cured by dose."""
    match finish.drying.law:
        case DryingLaw.WATER:
            return RateLaw(
                evaporation.WaterDrying(air_speed_m_s=here.air_speed_m_s, p_pa=here.pressure_pa)
            )
        case DryingLaw.SOLVENT:
            return RateLaw(
                evaporation.SolventDrying(finish.drying.solvent, air_speed_m_s=here.air_speed_m_s)
            )
        case DryingLaw.CURE:
            return cure_law(finish)
        case DryingLaw.NONE:  # pragma: no branch - there is no other
            return None


def recoat(finish: Finish, here: Conditions, air: AirAhead, *, coats: int = 1) -> Recoat | None:
    """Return when the next coat may follow; None where the finish or the air cannot tell.

    Parameters
    ----------
    finish : Finish
        What is sprayed.
    here : Conditions
        What is known of the place now.
    air : AirAhead
        Its air from now on.
    coats : int
        How many are to be sprayed.
    """
    law, asked = drying_rate_law(finish, here), usual_drying_h(finish)
    if law is None or asked is None or (law.needs_humidity and here.rh_frac is None):
        return None
    temps = air.on_piece(here) if law.on_surface else air.temp_c
    rates = np.nan_to_num(law.rates(temps, air.rh_frac), nan=0.0)
    paths = (rates.max(axis=0), rates[LIKELY], rates.min(axis=0))
    spread = math.exp(EIGHT_IN_TEN * _doubt(finish, law, here))
    spreads = (1.0 / spread, 1.0, spread)

    def band(hours: float) -> Band:
        return Band(
            *(_when(air.leads_h, path, hours * by) for path, by in zip(paths, spreads, strict=True))
        )

    temp_c, rh_pct = _reference(finish)
    return Recoat(coats, asked, temp_c, rh_pct, band(asked), band(asked * coats), _standing(finish))


def _when(leads_h: Floats, rates: Floats, asked_h: float) -> float | None:
    """Return after how long the rates have earned what is asked [h], None where they do not."""
    steps = np.diff(leads_h) * 0.5 * (rates[:-1] + rates[1:])
    sums = np.concatenate(([0.0], np.cumsum(steps)))
    if sums[-1] < asked_h:
        return None
    after = max(int(np.searchsorted(sums, asked_h, side="left")), 1)
    share = (asked_h - sums[after - 1]) / (sums[after] - sums[after - 1])
    return float(leads_h[after - 1] + share * (leads_h[after] - leads_h[after - 1]))


def _doubt(finish: Finish, law: RateLaw, here: Conditions) -> float:
    """Return the standard error of the natural logarithm of the hours here."""
    drying = finish.drying
    if drying.water_load_g_m2 is not None and drying.water_fraction_to_leave is not None:
        parts = [_relative(drying.water_load_g_m2), _relative(drying.water_fraction_to_leave)]
    else:
        opens = finish.requirements[MilestoneName.RECOAT_OPENS].hours
        thick = _relative(drying.wet_film_um) * drying.thickness_exponent.value
        parts = [_relative(opens), thick]
    temp_c = here.surface_c if law.on_surface and here.surface_c is not None else here.temp_c
    temp = np.array([np.nan if temp_c is None else temp_c])
    rh = np.array([np.nan if here.rh_frac is None else here.rh_frac])
    rate = float(np.nan_to_num(law.rates(temp, rh))[0])
    if rate > 0.0:
        doubt = law.spread(temp, rh, here.bias)
        parts += [float(one[0]) / rate for one in (doubt.temp, doubt.rh, doubt.ea, doubt.air)]
    return math.sqrt(sum(part**2 for part in parts))


def _relative(figure: Figure) -> float:
    """Return the standard error of a figure's logarithm: even between its ends, by ratio."""
    if figure.low is None or figure.high is None:
        return 0.0
    return math.log(figure.high / figure.low) / math.sqrt(12.0)


def _reference(finish: Finish) -> tuple[float, float]:
    if finish.drying.law is DryingLaw.CURE and finish.cure is not None:
        return finish.cure.reference_temp_c.value, finish.cure.reference_rh_pct.value
    return REFERENCE_C, REFERENCE_RH_PCT


def _standing(finish: Finish) -> Standing:
    drying = finish.drying
    if drying.water_load_g_m2 is not None and drying.water_fraction_to_leave is not None:
        return drying.water_load_g_m2.standing
    return finish.requirements[MilestoneName.RECOAT_OPENS].hours.standing
