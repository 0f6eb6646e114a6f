"""The drying clock: what an hour in a climate is worth to a film still losing its carrier.

Air speed is the strongest influence and no climate sensor sees it, so it is an input and its share
of the uncertainty is computed beside the rate.
"""

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from curewatch.errors import BadInput
from curewatch.science.arrays import (
    FloatArray,
    Numbers,
    checked,
    checked_air,
    checked_positive,
    checked_rh,
    checked_temp,
)
from curewatch.science.heat_transfer import (
    AIR_SPEED_M_S,
    AIR_SPEED_RANGE_M_S,
    checked_speed,
    convection_w_m2k,
    heat_transfer_w_m2k,
)
from curewatch.science.humid_air import STANDARD_PRESSURE_PA
from curewatch.science.solvents import SOLVENTS, solvent_pressure_pa
from curewatch.science.spread import RateSpread, half_difference
from curewatch.science.wet_surface import WetFilm, wet_film, wet_film_unchecked

__all__ = [
    "AIR_SPEED_M_S",
    "SolventDrying",
    "WaterDrying",
    "WetFilm",
    "drying_rate_solvent",
    "drying_rate_solvent_unchecked",
    "drying_rate_water",
    "drying_rate_water_unchecked",
    "heat_transfer_w_m2k",
    "reference_rate_g_m2_h",
    "spread_solvent",
    "spread_solvent_unchecked",
    "spread_water",
    "spread_water_unchecked",
    "wet_film",
    "wet_film_unchecked",
]

AIR_SPEED_FACTOR = 1.5
"""A room's air speed is taken to be known to this factor either way (our own estimate)."""
NOMINAL_CHILL_K = 4.0
"""How far a solvent film is taken to sit below the room [K]: a water film's depression at the
reference climate. It only sets the natural part of the heat transfer."""


@dataclass(frozen=True, slots=True)
class WaterDrying:
    """
    Drying law of a waterborne finish in one room.

    Attributes
    ----------
    air_speed_m_s : float
        Air movement at the piece [m/s], 0 to 20.
    p_pa : float
        Air pressure [Pa].
    reference_temp_c, reference_rh_frac, reference_air_speed_m_s : float
        Climate at which the rate is 1 [degC, fraction, m/s], at the standard atmosphere.

    Raises
    ------
    BadInput
        A value is out of range, or the reference air is saturated.
    """

    air_speed_m_s: float = AIR_SPEED_M_S["still"]
    p_pa: float = STANDARD_PRESSURE_PA
    reference_temp_c: float = 21.0
    reference_rh_frac: float = 0.5
    reference_air_speed_m_s: float = AIR_SPEED_M_S["still"]

    def __post_init__(self) -> None:
        """Refuse a law that cannot be meant."""
        checked_speed(self.air_speed_m_s)
        checked_positive(self.p_pa, "p_pa", unit="Pa")
        checked_temp(self.reference_temp_c, "reference_temp_c")
        if float(checked_rh(self.reference_rh_frac, "reference_rh_frac")) == 1.0:
            raise BadInput("reference_rh_frac is 1; nothing dries in saturated air. Give 0.5.")
        checked_speed(self.reference_air_speed_m_s, "reference_air_speed_m_s")


@dataclass(frozen=True, slots=True)
class SolventDrying:
    """
    Drying law of a solvent finish in one room; humidity has no part in it.

    Attributes
    ----------
    solvent : str
        The solvent that leaves last and sets the pace: a key of `solvents.SOLVENTS`.
    air_speed_m_s : float
        Air movement at the piece [m/s], 0 to 20.
    reference_temp_c, reference_air_speed_m_s : float
        Climate at which the rate is 1 [degC, m/s].

    Raises
    ------
    BadInput
        The solvent is not in the table, or a value is out of range.
    """

    solvent: str
    air_speed_m_s: float = AIR_SPEED_M_S["still"]
    reference_temp_c: float = 21.0
    reference_air_speed_m_s: float = AIR_SPEED_M_S["still"]

    def __post_init__(self) -> None:
        """Refuse a law that cannot be meant."""
        if self.solvent not in SOLVENTS:
            known = ", ".join(sorted(SOLVENTS))
            raise BadInput(f"solvent is {self.solvent!r}; it must be one of: {known}.")
        checked_speed(self.air_speed_m_s)
        checked_temp(self.reference_temp_c, "reference_temp_c")
        checked_speed(self.reference_air_speed_m_s, "reference_air_speed_m_s")


def drying_rate_water(temp_c: Numbers, rh_frac: Numbers, *, law: WaterDrying) -> FloatArray:
    """
    How many reference hours of drying an hour in this climate is worth, for a waterborne film.

    Parameters
    ----------
    temp_c, rh_frac : float or array
        Air temperature [degC] and relative humidity [fraction].
    law : WaterDrying
        Air movement, pressure and reference climate.

    Returns
    -------
    ndarray
        Rate [reference hours per hour], broadcast shape; 0 at saturation.

    Raises
    ------
    BadInput
        An input is out of range.
    """
    temp, rh = checked_air(temp_c, rh_frac)
    return drying_rate_water_unchecked(temp, rh, law=law)


def drying_rate_water_unchecked(
    temp_c: FloatArray, rh_frac: FloatArray, *, law: WaterDrying
) -> FloatArray:
    """`drying_rate_water` for arrays that have been checked before; NaN in gives NaN out."""
    film = wet_film_unchecked(
        temp_c, rh_frac, np.asarray(law.air_speed_m_s), p_pa=np.asarray(law.p_pa)
    )
    return film.rate_g_m2_h / reference_rate_g_m2_h(law)


def drying_rate_solvent(temp_c: Numbers, *, law: SolventDrying) -> FloatArray:
    """
    How many reference hours of drying an hour at this temperature is worth, for a solvent film.

    Parameters
    ----------
    temp_c : float or array
        Air temperature [degC], -40 to 80.
    law : SolventDrying
        Solvent, air movement and reference.

    Returns
    -------
    ndarray
        Rate [reference hours per hour], shape of `temp_c`.

    Raises
    ------
    BadInput
        Temperature out of range.

    Notes
    -----
    p_sat(T)/p_sat(T_ref) times h_c/h_c,ref. The chill of the film is taken alike at both.
    """
    return drying_rate_solvent_unchecked(checked_temp(temp_c), law=law)


def drying_rate_solvent_unchecked(temp_c: FloatArray, *, law: SolventDrying) -> FloatArray:
    """`drying_rate_solvent` for arrays that have been checked before; NaN in gives NaN out."""
    reference = _solvent_pull(
        np.asarray(law.reference_temp_c), law.solvent, law.reference_air_speed_m_s
    )
    return _solvent_pull(temp_c, law.solvent, law.air_speed_m_s) / reference


def spread_water(
    temp_c: Numbers,
    rh_frac: Numbers,
    law: WaterDrying,
    *,
    temp_bias_k: float,
    rh_bias_frac: float,
    air_speed_factor: float = AIR_SPEED_FACTOR,
) -> RateSpread:
    """
    Half-differences of `drying_rate_water` over what is not known exactly.

    Parameters
    ----------
    temp_c, rh_frac : float or array
        Air temperature [degC] and relative humidity [fraction].
    law : WaterDrying
        Air movement, pressure and reference climate.
    temp_bias_k, rh_bias_frac : float
        Possible bias of the sensors [K, fraction], not negative.
    air_speed_factor : float
        The air speed is known to this factor either way, at least 1.

    Returns
    -------
    RateSpread
        Signed arrays in the broadcast shape; `ea` is zero.

    Raises
    ------
    BadInput
        An input is out of range.
    """
    temp, rh = checked_air(temp_c, rh_frac)
    _check_biases(temp_bias_k, rh_bias_frac, air_speed_factor)
    return spread_water_unchecked(
        temp,
        rh,
        law,
        temp_bias_k=temp_bias_k,
        rh_bias_frac=rh_bias_frac,
        air_speed_factor=air_speed_factor,
    )


def spread_water_unchecked(
    temp_c: FloatArray,
    rh_frac: FloatArray,
    law: WaterDrying,
    *,
    temp_bias_k: FloatArray | float,
    rh_bias_frac: FloatArray | float,
    air_speed_factor: float = AIR_SPEED_FACTOR,
) -> RateSpread:
    """`spread_water` for arrays that have been checked before; NaN where the climate is unknown."""
    slow_m_s, fast_m_s = _speed_ends(law.air_speed_m_s, air_speed_factor)
    own_m_s = law.air_speed_m_s
    temp, rh = np.broadcast_arrays(temp_c, rh_frac)
    wetter, drier = np.minimum(rh + rh_bias_frac, 1.0), np.maximum(rh - rh_bias_frac, 0.0)
    speeds_m_s = np.array([own_m_s, own_m_s, own_m_s, own_m_s, fast_m_s, slow_m_s])
    film = wet_film_unchecked(  # all at once: the few values of a minute cost one call, not six
        np.stack((temp + temp_bias_k, temp - temp_bias_k, temp, temp, temp, temp)),
        np.stack((rh, rh, wetter, drier, rh, rh)),
        speeds_m_s.reshape(-1, *[1] * temp.ndim),
        p_pa=np.asarray(law.p_pa),
    )
    rates = film.rate_g_m2_h / reference_rate_g_m2_h(law)
    by_temp = half_difference(rates[0], rates[1])
    return RateSpread(
        temp=by_temp,
        rh=half_difference(rates[2], rates[3]),
        ea=np.zeros_like(by_temp),
        air=half_difference(rates[4], rates[5]),
    )


def spread_solvent(
    temp_c: Numbers,
    law: SolventDrying,
    *,
    temp_bias_k: float,
    air_speed_factor: float = AIR_SPEED_FACTOR,
) -> RateSpread:
    """
    Half-differences of `drying_rate_solvent` over what is not known exactly.

    Parameters
    ----------
    temp_c : float or array
        Air temperature [degC].
    law : SolventDrying
        Solvent, air movement and reference.
    temp_bias_k : float
        Possible bias of the thermometer [K], not negative.
    air_speed_factor : float
        The air speed is known to this factor either way, at least 1.

    Returns
    -------
    RateSpread
        Signed arrays in the shape of `temp_c`; `rh` and `ea` are zero.

    Raises
    ------
    BadInput
        An input is out of range.
    """
    temp = checked_temp(temp_c)
    _check_biases(temp_bias_k, 0.0, air_speed_factor)
    return spread_solvent_unchecked(
        temp, law, temp_bias_k=temp_bias_k, air_speed_factor=air_speed_factor
    )


def spread_solvent_unchecked(
    temp_c: FloatArray,
    law: SolventDrying,
    *,
    temp_bias_k: FloatArray | float,
    air_speed_factor: float = AIR_SPEED_FACTOR,
) -> RateSpread:
    """`spread_solvent` for an array that has been checked before; NaN where it is unknown."""
    slow_m_s, fast_m_s = _speed_ends(law.air_speed_m_s, air_speed_factor)
    slow, fast = replace(law, air_speed_m_s=slow_m_s), replace(law, air_speed_m_s=fast_m_s)
    temp = half_difference(
        drying_rate_solvent_unchecked(temp_c + temp_bias_k, law=law),
        drying_rate_solvent_unchecked(temp_c - temp_bias_k, law=law),
    )
    return RateSpread(
        temp=temp,
        rh=np.zeros_like(temp),
        ea=np.zeros_like(temp),
        air=half_difference(
            drying_rate_solvent_unchecked(temp_c, law=fast),
            drying_rate_solvent_unchecked(temp_c, law=slow),
        ),
    )


@lru_cache(maxsize=256)
def reference_rate_g_m2_h(law: WaterDrying) -> float:
    """Water loss [g/(m2 h)] at the law's reference climate and the standard atmosphere."""
    film = wet_film_unchecked(
        np.asarray(law.reference_temp_c),
        np.asarray(law.reference_rh_frac),
        np.asarray(law.reference_air_speed_m_s),
        p_pa=np.asarray(STANDARD_PRESSURE_PA),
    )
    return float(film.rate_g_m2_h)


def _solvent_pull(temp_c: FloatArray, solvent: str, air_speed_m_s: float) -> FloatArray:
    """Vapour pressure times heat transfer: what a solvent's evaporation is proportional to."""
    heat = convection_w_m2k(
        np.asarray(air_speed_m_s),
        temp_c,
        temp_c - NOMINAL_CHILL_K,
        np.asarray(STANDARD_PRESSURE_PA),
    )
    return solvent_pressure_pa(temp_c, solvent) * heat


def _speed_ends(air_speed_m_s: float, factor: float) -> tuple[float, float]:
    """Slower and faster end of an air speed, the faster held inside the range of the equations."""
    return air_speed_m_s / factor, min(air_speed_m_s * factor, AIR_SPEED_RANGE_M_S[1])


def _check_biases(temp_bias_k: float, rh_bias_frac: float, air_speed_factor: float) -> None:
    checked(temp_bias_k, "temp_bias_k", allowed=(0.0, 40.0), unit="K")
    checked(rh_bias_frac, "rh_bias_frac", allowed=(0.0, 1.0), unit="as a fraction")
    checked(air_speed_factor, "air_speed_factor", allowed=(1.0, 10.0), unit="(a factor)")
