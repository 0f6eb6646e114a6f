"""The cure clock: how fast a finish hardens, and the hours it has earned."""

import math
from dataclasses import dataclass

import numpy as np

from curewatch.errors import BadInput
from curewatch.science.arrays import (
    RH_RANGE_FRAC,
    TEMP_RANGE_C,
    ZERO_C_K,
    FloatArray,
    Numbers,
    as_numbers,
    checked,
    checked_air,
    checked_positive,
    checked_shapes,
    checked_temp,
    refuse_where,
)
from curewatch.science.spread import RateSpread, half_difference

GAS_CONSTANT_J_MOLK = 8.314462618
"""Molar gas constant [J/(mol K)] (CODATA 2018, exact since the SI of 2019)."""
FLOOR_WIDTH_K = 1.0
"""Below a finish's lower limit credit falls to nothing over this many kelvin (our own rule)."""
HIGHEST_RH_FRAC = 0.99
"""Humidity [fraction] is held here, so that a negative exponent stays finite (our own rule)."""


@dataclass(frozen=True, slots=True)
class CureLaw:
    """
    One finish's law of cure.

    Attributes
    ----------
    ea_kj_mol : float
        Activation energy [kJ/mol], 0 to 500.
    humidity_exponent : float
        Power of the dryness of the air, -5 to 5; negative for moisture-cured finishes.
    reference_temp_c, reference_rh_frac : float
        Climate at which the rate is 1 [degC, fraction].
    lower_limit_c, upper_limit_c : float or None
        Where credit ends and where the rate stops rising [degC]; None where there is no limit.

    Raises
    ------
    BadInput
        A value is out of range, or the limits are crossed.
    """

    ea_kj_mol: float
    humidity_exponent: float = 0.0
    reference_temp_c: float = 21.0
    reference_rh_frac: float = 0.5
    lower_limit_c: float | None = None
    upper_limit_c: float | None = None

    def __post_init__(self) -> None:
        """Refuse a law that cannot be meant."""
        checked(self.ea_kj_mol, "ea_kj_mol", allowed=(0.0, 500.0), unit="kJ/mol")
        checked(self.humidity_exponent, "humidity_exponent", allowed=(-5.0, 5.0), unit="(no unit)")
        checked_temp(self.reference_temp_c, "reference_temp_c")
        highest = (RH_RANGE_FRAC[0], HIGHEST_RH_FRAC)
        checked(self.reference_rh_frac, "reference_rh_frac", allowed=highest, unit="as a fraction")
        low, high = TEMP_RANGE_C
        if self.lower_limit_c is not None:
            low = float(checked_temp(self.lower_limit_c, "lower_limit_c"))
        if self.upper_limit_c is not None:
            high = float(checked_temp(self.upper_limit_c, "upper_limit_c"))
        if not low < high:
            raise BadInput(
                f"lower_limit_c {low:g} is not below upper_limit_c {high:g}. Correct one of them."
            )


def rate(temp_c: Numbers, rh_frac: Numbers, law: CureLaw) -> FloatArray:
    """
    How many reference hours of cure an hour in this climate is worth.

    Parameters
    ----------
    temp_c : float or array
        Temperature of the piece [degC], -40 to 80.
    rh_frac : float or array
        Relative humidity of the air [fraction], 0 to 1.
    law : CureLaw
        The finish's law.

    Returns
    -------
    ndarray
        Rate [reference hours per hour], broadcast shape; 1 at the reference climate.

    Raises
    ------
    BadInput
        An input is out of range.

    Notes
    -----
    exp(-Ea/R (1/T - 1/T_ref)) ((1 - RH)/(1 - RH_ref))^m. At the lower limit the rate is whole; it
    falls linearly to nothing over the kelvin below. Above the upper limit it is held. Humidity is
    held at 99 %. One activation energy is a fair description of cure well above the glass
    transition only; it is a setting of each finish.

    References
    ----------
    ASTM C1074-19, equation 2 (the same rate with Q = Ea/R). The humidity factor is ours.
    """
    temp, rh = checked_air(temp_c, rh_frac)
    return rate_unchecked(temp, rh, law)


def rate_unchecked(temp_c: FloatArray, rh_frac: FloatArray, law: CureLaw) -> FloatArray:
    """
    `rate` for arrays that have been checked before.

    Parameters
    ----------
    temp_c, rh_frac : ndarray
        Temperature [degC] and relative humidity [fraction] in shapes that fit; NaN is unknown.
    law : CureLaw
        The finish's law.

    Returns
    -------
    ndarray
        Rate [reference hours per hour]; NaN where the temperature, or a humidity that the law asks
        for, is unknown.
    """
    return _rate(temp_c, rh_frac, law, law.ea_kj_mol)


def spread(
    temp_c: Numbers,
    rh_frac: Numbers,
    law: CureLaw,
    *,
    temp_bias_k: float,
    rh_bias_frac: float,
    ea_se_kj_mol: float,
) -> RateSpread:
    """
    Half-differences of the rate over what is not known exactly.

    Parameters
    ----------
    temp_c, rh_frac : float or array
        As for `rate`.
    law : CureLaw
        The finish's law.
    temp_bias_k, rh_bias_frac, ea_se_kj_mol : float
        Possible bias of the thermometer [K] and of the hygrometer [fraction], standard error of the
        activation energy [kJ/mol]; none negative.

    Returns
    -------
    RateSpread
        Signed arrays in the broadcast shape; `air` is zero.

    Raises
    ------
    BadInput
        An input is out of range.

    Notes
    -----
    The whole rate law is run at both ends, floor and limits included: near the floor a derivative
    would claim hours of certainty that are not there. Humidity ends are held inside 0 to 0.99, the
    lower activation energy at 0.
    """
    temp, rh = checked_air(temp_c, rh_frac)
    checked(temp_bias_k, "temp_bias_k", allowed=(0.0, 40.0), unit="K")
    checked(rh_bias_frac, "rh_bias_frac", allowed=(0.0, 1.0), unit="as a fraction")
    checked(ea_se_kj_mol, "ea_se_kj_mol", allowed=(0.0, 500.0), unit="kJ/mol")
    return spread_unchecked(
        temp,
        rh,
        law,
        temp_bias_k=temp_bias_k,
        rh_bias_frac=rh_bias_frac,
        ea_se_kj_mol=ea_se_kj_mol,
    )


def spread_unchecked(
    temp_c: FloatArray,
    rh_frac: FloatArray,
    law: CureLaw,
    *,
    temp_bias_k: FloatArray | float,
    rh_bias_frac: FloatArray | float,
    ea_se_kj_mol: float,
) -> RateSpread:
    """`spread` for arrays that have been checked before; NaN where the climate is unknown."""
    rh_high = np.minimum(rh_frac + rh_bias_frac, HIGHEST_RH_FRAC)
    rh_low = np.maximum(rh_frac - rh_bias_frac, 0.0)
    ea_high, ea_low = law.ea_kj_mol + ea_se_kj_mol, max(0.0, law.ea_kj_mol - ea_se_kj_mol)
    temp = half_difference(
        rate_unchecked(temp_c + temp_bias_k, rh_frac, law),
        rate_unchecked(temp_c - temp_bias_k, rh_frac, law),
    )
    return RateSpread(
        temp=temp,
        rh=half_difference(
            rate_unchecked(temp_c, rh_high, law), rate_unchecked(temp_c, rh_low, law)
        ),
        ea=half_difference(
            _rate(temp_c, rh_frac, law, ea_high), _rate(temp_c, rh_frac, law, ea_low)
        ),
        air=np.zeros_like(temp),
    )


def running_hours(
    rate_per_grid_point: FloatArray, cover_frac_per_cell: FloatArray, step_s: float = 60.0
) -> FloatArray:
    """
    Effective hours earned up to each grid instant.

    Parameters
    ----------
    rate_per_grid_point : ndarray
        Rates [reference hours per hour] at n instants `step_s` apart, shape (n,), n at least 1.
    cover_frac_per_cell : ndarray
        Share of each of the n - 1 cells that is covered by readings [fraction], shape (n - 1,).
    step_s : float
        Length of a cell [s].

    Returns
    -------
    ndarray
        Running sum [h], shape (n,), first 0. The hours between two instants are the difference of
        their sums.

    Raises
    ------
    BadInput
        Shapes do not belong together, a cover is outside 0 to 1, or a covered cell has an end whose
        rate is unknown or negative.

    Notes
    -----
    Trapezoid on the rate. On a one-minute grid its error on a linear climate is far below 0.1 %.
    An uncovered cell earns nothing, whatever its ends say.
    """
    rates = as_numbers(rate_per_grid_point, "rate_per_grid_point")
    cover = checked(
        cover_frac_per_cell, "cover_frac_per_cell", allowed=(0.0, 1.0), unit="as a fraction"
    )
    step = float(checked_positive(step_s, "step_s", unit="s"))
    if rates.ndim != 1 or rates.size == 0 or cover.shape != (rates.size - 1,):
        raise BadInput(
            f"rate_per_grid_point has shape {rates.shape} and cover_frac_per_cell {cover.shape};"
            " n instants have n - 1 cells between them."
        )
    ends = rates[:-1] + rates[1:]
    covered = cover > 0.0
    unknown = ~(np.isfinite(ends) & (rates[:-1] >= 0.0) & (rates[1:] >= 0.0))
    refuse_where(
        covered & unknown,
        "cover_frac_per_cell",
        "says covered, but a rate at its ends is unknown or negative. Give it no cover.",
    )
    earned = np.where(covered, cover * ends, 0.0)
    hours = np.zeros(rates.size)
    np.cumsum(earned, out=hours[1:])
    hours *= 0.5 * step / 3600.0
    return hours


def equivalent_age_h(
    temp_c: Numbers, hours: Numbers, *, q_k: float, reference_temp_c: float = 20.0
) -> float:
    """
    Equivalent age of a history of constant temperatures.

    Parameters
    ----------
    temp_c : array
        Temperature of each interval [degC], -40 to 80.
    hours : float or array
        Length of each interval [h].
    q_k : float
        Activation energy over the gas constant [K].
    reference_temp_c : float
        Reference temperature [degC].

    Returns
    -------
    float
        Hours at the reference temperature that do the same work [h].

    Raises
    ------
    BadInput
        An input is out of range.

    Notes
    -----
    Give temperatures of short intervals: the rate at an interval's mean temperature is too low.

    References
    ----------
    ASTM C1074-19, Standard Practice for Estimating Concrete Strength by the Maturity Method,
    equation 2.
    """
    temp, length = _intervals(temp_c, hours)
    slope = float(checked_positive(q_k, "q_k", unit="K"))
    reference_k = float(checked_temp(reference_temp_c, "reference_temp_c")) + ZERO_C_K
    return float(np.sum(np.exp(slope * (1.0 / reference_k - 1.0 / (temp + ZERO_C_K))) * length))


def mean_kinetic_temp_c(temp_c: Numbers, hours: Numbers = 1.0, *, q_k: float = 10000.0) -> float:
    """
    Constant temperature that does the work of a history.

    Parameters
    ----------
    temp_c : array
        Temperature of each interval [degC], -40 to 80.
    hours : float or array
        Length of each interval [h]; a single number means intervals of one length.
    q_k : float
        Activation energy over the gas constant [K]; the pharmacopoeia's 83.144 kJ/mol is 10000 K.

    Returns
    -------
    float
        Mean kinetic temperature [degC], never below the plain mean.

    Raises
    ------
    BadInput
        An input is out of range.

    References
    ----------
    United States Pharmacopeia, general chapters 1079.2 and 1160; J. D. Haynes, J. Pharm. Sci. 60,
    927-929 (1971).
    """
    temp, length = _intervals(temp_c, hours)
    slope = float(checked_positive(q_k, "q_k", unit="K"))
    # Relative to the warmest interval, so that no exponential underflows.
    warmest_k = float(np.max(temp)) + ZERO_C_K
    work = np.exp(slope * (1.0 / warmest_k - 1.0 / (temp + ZERO_C_K)))
    mean_work = float(np.sum(work * length) / np.sum(length))
    return 1.0 / (1.0 / warmest_k - math.log(mean_work) / slope) - ZERO_C_K


def _intervals(temp_c: Numbers, hours: Numbers) -> tuple[FloatArray, FloatArray]:
    temp = np.atleast_1d(checked_temp(temp_c))
    length = checked_positive(hours, "hours", unit="h")
    shape = checked_shapes(temp_c=temp, hours=length)
    if 0 in shape:
        raise BadInput("temp_c is empty; a history has at least one interval.")
    return np.broadcast_to(temp, shape), np.broadcast_to(length, shape)


def _rate(temp_c: FloatArray, rh_frac: FloatArray, law: CureLaw, ea_kj_mol: float) -> FloatArray:
    """Run the law in one exponential and in place: this is run for every minute of every room."""
    ea_k = ea_kj_mol * 1000.0 / GAS_CONSTANT_J_MOLK
    work = np.empty(np.broadcast_shapes(np.shape(temp_c), np.shape(rh_frac)))
    np.clip(temp_c, law.lower_limit_c, law.upper_limit_c, out=work)
    work += ZERO_C_K
    np.divide(-ea_k, work, out=work)
    work += ea_k / (law.reference_temp_c + ZERO_C_K)
    if law.humidity_exponent != 0.0:
        work += _log_humidity_factor(rh_frac, law)
    np.exp(work, out=work)
    if law.lower_limit_c is not None:
        work *= _credit_frac(temp_c, law.lower_limit_c)
    return work


def _log_humidity_factor(rh_frac: FloatArray, law: CureLaw) -> FloatArray:
    """Return m ln((1 - RH)/(1 - RH_ref))."""
    dryness = np.asarray(np.subtract(1.0, rh_frac))
    np.maximum(dryness, 1.0 - HIGHEST_RH_FRAC, out=dryness)
    dryness *= 1.0 / (1.0 - law.reference_rh_frac)
    np.log(dryness, out=dryness)
    dryness *= law.humidity_exponent
    return dryness


def _credit_frac(temp_c: FloatArray, lower_limit_c: float) -> FloatArray:
    """Share of the rate that counts near the lower limit: 1 at it, 0 a kelvin below."""
    credit = np.asarray(np.subtract(temp_c, lower_limit_c - FLOOR_WIDTH_K))
    credit *= 1.0 / FLOOR_WIDTH_K
    np.clip(credit, 0.0, 1.0, out=credit)
    return credit
