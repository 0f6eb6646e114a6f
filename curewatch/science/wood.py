"""Wood in equilibrium with the air around it, and on its way there."""

from typing import Final

import numpy as np

from curewatch.science.arrays import FloatArray, Numbers, checked, checked_air, checked_positive

MOST_PCT: Final = 100.0
"""Beyond this [% moisture content] nothing is believed; wood at fibre saturation holds about 30."""


def emc_pct(temp_c: Numbers, rh_frac: Numbers) -> FloatArray:
    """
    Equilibrium moisture content of wood.

    Parameters
    ----------
    temp_c : float or array
        Air temperature [degC], -40 to 80.
    rh_frac : float or array
        Relative humidity [fraction], 0 to 1.

    Returns
    -------
    ndarray
        Moisture content [% of the oven-dry mass], broadcast shape.

    Raises
    ------
    BadInput
        An input is out of range.

    Notes
    -----
    Reproduces the handbook's table within 0.07 % moisture content from -1 to 54 degC and 5 to
    90 % humidity; outside that it is extrapolated. Species, and whether the wood came from the wet
    or the dry side, are worth about 1 %; thick wood lags the air by days to weeks.

    References
    ----------
    Forest Products Laboratory, Wood Handbook: Wood as an Engineering Material, FPL-GTR-282 (2021),
    chapter 4, equation 4-5 (Hailwood and Horrobin 1946) with its coefficients for degC.
    """
    temp, rh = checked_air(temp_c, rh_frac)
    w = 349.0 + 1.29 * temp + 0.0135 * temp**2
    k = 0.805 + 0.000736 * temp - 0.00000273 * temp**2
    k1 = 6.27 - 0.00938 * temp - 0.000303 * temp**2
    k2 = 1.91 + 0.0407 * temp - 0.000293 * temp**2
    kh = k * rh
    hydrated = k1 * kh + 2.0 * k1 * k2 * kh**2
    total = 1.0 + k1 * kh + k1 * k2 * kh**2
    return 1800.0 / w * (kh / (1.0 - kh) + hydrated / total)


def moisture_after(
    start_pct: Numbers, emc: Numbers, *, step_h: float, lag_h: Numbers
) -> FloatArray:
    """
    Moisture content of wood that follows the air around it with one lag.

    Parameters
    ----------
    start_pct : float or array, shape (...)
        Moisture content at the start [% of the oven-dry mass].
    emc : float or array, shape (n,)
        What the air asks for in each step, constant over the step [%].
    step_h : float
        Length of a step [h].
    lag_h : float or array, shape (...)
        Time constant of the wood [h]: after so long 63 % of a change has come.

    Returns
    -------
    ndarray
        Moisture content at the end of the last step [%], shape of `start_pct` and `lag_h`.

    Raises
    ------
    BadInput
        A value is not a finite number, or a length of time is not above nought.

    Notes
    -----
    Exact for the first-order law dm/dt = (EMC - m) / lag and an EMC constant over each step, so
    that a record cut anywhere gives the same. Moisture moves in wood by diffusion and leaves it
    through its surface; the mean time of that is a^2/D (1/3 + 1/L) with half thickness a and
    L = (surface transfer) a / D. One lag of that length stays within 1 % of a step where the
    surface holds the moisture back (L up to 1, as a finish does), and within 13 % for bare wood,
    being slower at first and faster later. With D about 1e-10 m2/s across the grain [from memory]
    bare wood has mean times of two hours for a 3 mm plate and three weeks for a 45 mm body; a
    finish, and still air, add to both.

    References
    ----------
    J. Crank, The Mathematics of Diffusion, 2nd edition (1975), chapter 4 (plane sheet; surface
    evaporation).
    """
    start, lag = _finite(start_pct, "start_pct"), checked_positive(lag_h, "lag_h", unit="h")
    asked = np.atleast_1d(_finite(emc, "emc"))
    step = float(checked_positive(step_h, "step_h", unit="h"))
    steps_left = np.arange(asked.size, dtype=np.float64)[::-1]
    keeps = np.exp(-step / lag)[..., np.newaxis]
    follows = ((1.0 - keeps) * keeps**steps_left) @ asked
    return np.asarray(start * keeps[..., 0] ** asked.size + follows, dtype=np.float64)


def hours_to_settle(to_come: Numbers, *, within: float, lag_h: Numbers) -> FloatArray:
    """
    Time until wood that follows its air with one lag has less than `within` still to go.

    Parameters
    ----------
    to_come : float or array
        What the air asks for, less what the wood holds [% moisture content].
    within : float
        What may be left of it [% moisture content].
    lag_h : float or array
        Time constant of the wood [h].

    Returns
    -------
    ndarray
        Hours with the air as it is [h], broadcast shape; nought where it is settled.

    Raises
    ------
    BadInput
        A value is not a finite number, or `within` or a lag is not above nought.
    """
    left = np.abs(_finite(to_come, "to_come"))
    limit = float(checked_positive(within, "within", unit="%"))
    lag = checked_positive(lag_h, "lag_h", unit="h")
    return np.asarray(lag * np.log(np.maximum(left / limit, 1.0)), dtype=np.float64)


def _finite(value: Numbers, name: str) -> FloatArray:
    """Return `value` as a float64 array of moisture contents or differences of them."""
    return checked(value, name, allowed=(-MOST_PCT, MOST_PCT), unit="% moisture content")
