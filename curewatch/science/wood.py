"""Wood in equilibrium with the air around it."""

from curewatch.science.arrays import FloatArray, Numbers, checked_air


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
