"""Humidity that saturated salts keep in a closed jar, for checking a hygrometer."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from curewatch.errors import BadInput
from curewatch.science.arrays import FloatArray, Numbers, checked

TEMP_C: Final = (10.0, 35.0)
"""Where the fits are used [degC]; the original tables go further, a workshop does not."""


@dataclass(frozen=True, slots=True)
class Salt:
    """
    A salt's humidity as a polynomial of temperature, with its stated uncertainty.

    Attributes
    ----------
    formula : str
        As a chemist writes it.
    terms : tuple of float
        Coefficients of 1, T, T^2, T^3 with T in degC [% relative humidity].
    error_frac : float
        What the value may be off by [fraction of saturation]: the largest that is stated for
        10 to 35 degC, in either of the places it is quoted.
    highest_c : float
        Above it there is no value [degC].
    """

    formula: str
    terms: tuple[float, ...]
    error_frac: float
    highest_c: float = TEMP_C[1]


SALTS: Final = {
    "LiCl": Salt("LiCl", (11.2323, 0.00824245, -2.1489e-4), 0.006),
    "MgCl2": Salt("MgCl2", (33.6686, -0.00797397, -1.08988e-3), 0.004),
    "K2CO3": Salt("K2CO3", (43.1315, 0.00147523), 0.005, 30.0),
    "Mg(NO3)2": Salt("Mg(NO3)2", (60.3514, -0.298153), 0.007),
    "NaCl": Salt("NaCl", (75.5164, 0.0398321, -2.65459e-3, 2.848e-5), 0.004),
    "KCl": Salt("KCl", (88.619, -0.19334, 8.99706e-4), 0.006),
    "K2SO4": Salt("K2SO4", (98.7792, -0.0590502), 0.011),
}
"""Greenspan 1977, table 1 and 2: `kept_rh_frac` says how they were read."""


def kept_rh_frac(formula: str, temp_c: Numbers) -> FloatArray:
    """
    Relative humidity over a saturated salt with undissolved salt left.

    Parameters
    ----------
    formula : str
        A key of `SALTS`.
    temp_c : float or array
        Temperature of salt, air and sensor alike [degC], 10 to 35 (potassium carbonate: to 30).

    Returns
    -------
    ndarray
        Relative humidity [fraction], shape of `temp_c`.

    Raises
    ------
    BadInput
        There is no such salt, or a temperature is out of its range.

    Notes
    -----
    Stated uncertainty 0.1 to 1.1 points of humidity (`Salt.error_frac`), and only where nothing in
    the jar is warmer than the rest: see `unequal_error_frac`. The coefficients were read in public
    code that quotes the paper; for lithium chloride two such places have the second with the
    opposite sign, which contradicts the paper's table by 0.4 points and is not used.

    References
    ----------
    L. Greenspan, Humidity fixed points of binary saturated aqueous solutions, Journal of Research
    of the National Bureau of Standards 81A (1977) 89-96, tables 1 and 2, doi:10.6028/jres.081A.011.
    """
    if formula not in SALTS:
        raise BadInput(f"'{formula}' is no salt of the table: one of {', '.join(SALTS)}")
    salt = SALTS[formula]
    allowed = (TEMP_C[0], salt.highest_c)
    temp = checked(temp_c, "temp_c", allowed=allowed, unit="degC")
    return np.asarray(np.polynomial.polynomial.polyval(temp, salt.terms) / 100.0, dtype=np.float64)


def unequal_error_frac(rh_frac: float, apart_k: float) -> float:
    """
    Error of humidity where a sensor and its salt are not equally warm.

    Parameters
    ----------
    rh_frac : float
        Humidity over the salt [fraction].
    apart_k : float
        How far apart their temperatures may be [K].

    Returns
    -------
    float
        What that makes of humidity [fraction].

    Notes
    -----
    Vapour pressure is the same in the whole jar; saturation pressure grows by 6.2 % a kelvin at
    20 degC (6.6 at 10, 5.7 at 35), from the same equations as everywhere here.
    """
    return rh_frac * 0.062 * apart_k
