"""Activation energy from the times that a data sheet prints at several temperatures."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from curewatch.errors import BadInput
from curewatch.science.arrays import ZERO_C_K, checked_positive, checked_temp
from curewatch.science.kinetics import GAS_CONSTANT_J_MOLK


@dataclass(frozen=True, slots=True)
class ActivationEnergy:
    """
    Activation energy from times at temperatures.

    Attributes
    ----------
    ea_kj_mol : float
        [kJ/mol].
    se_kj_mol : float or None
        Its standard error [kJ/mol]; None from two points, which leave nothing to judge it by.
    points : int
        How many points there were.
    """

    ea_kj_mol: float
    se_kj_mol: float | None
    points: int


def activation_energy(temp_c: Sequence[float], hours: Sequence[float]) -> ActivationEnergy:
    """
    Activation energy that a data sheet's times at several temperatures speak for.

    Parameters
    ----------
    temp_c : sequence of float
        Temperatures [degC], -40 to 80; two different ones at least.
    hours : sequence of float
        Time to the same state at each [h], above 0.

    Returns
    -------
    ActivationEnergy
        From two points in closed form, R ln(t1/t2)/(1/T1 - 1/T2); from more by least squares of
        ln t on 1/T, with the standard error of the slope (points - 2 degrees of freedom).

    Raises
    ------
    BadInput
        Numbers of points differ, fewer than two, one temperature only, or times that do not grow
        shorter with warmth.

    References
    ----------
    S. Arrhenius, Z. Phys. Chem. 4 (1889) 226 (from memory), for the law. N. R. Draper, H. Smith,
    Applied Regression Analysis, 3rd ed. (1998), section 1.4 (from memory), for the standard error.
    """
    temp = checked_temp(temp_c)
    time = checked_positive(hours, "hours", unit="h")
    if temp.ndim != 1 or temp.shape != time.shape or temp.size < 2:  # noqa: PLR2004 - a line's two
        raise BadInput(
            f"temp_c has shape {temp.shape} and hours {time.shape}; give two points or more, each"
            " a temperature and a time."
        )
    inverse = 1.0 / (temp + ZERO_C_K)
    x, y = inverse - inverse.mean(), np.log(time) - np.log(time).mean()
    spread = float(x @ x)
    if np.ptp(temp) < 1.0:
        raise BadInput("temp_c are within 1 K of each other. Give times at temperatures apart.")
    slope = float(x @ y) / spread
    if slope <= 0.0:
        raise BadInput(
            "hours do not grow shorter as temp_c rises, so no activation energy comes of them."
            " Check which time belongs to which temperature."
        )
    unit = GAS_CONSTANT_J_MOLK / 1000.0
    free = temp.size - 2
    if not free:
        return ActivationEnergy(unit * slope, None, temp.size)
    misfit = y - slope * x
    return ActivationEnergy(
        unit * slope, unit * math.sqrt(float(misfit @ misfit) / free / spread), temp.size
    )


def rounding_band(
    temp_c: Sequence[float], hours: Sequence[float], half_step_h: Sequence[float]
) -> tuple[float, float]:
    """
    Span of the activation energy where times are only known to the digits they are printed with.

    Parameters
    ----------
    temp_c : sequence of float
        Temperatures [degC], as `activation_energy` takes them.
    hours : sequence of float
        Time to the same state at each [h].
    half_step_h : sequence of float
        Half of the last printed digit of each [h], from 0 to below the time itself.

    Returns
    -------
    tuple of float
        Lowest and highest least-squares energy over all times within half a step [kJ/mol]; the
        lowest may be below 0. Exact: the slope of ln t on 1/T is a sum of ln t with fixed weights,
        so each time stands at one of its ends.

    Raises
    ------
    BadInput
        As `activation_energy`, or a half step that reaches its time.
    """
    middle = activation_energy(temp_c, hours)
    time, half = np.asarray(hours, dtype=np.float64), np.asarray(half_step_h, dtype=np.float64)
    if half.shape != time.shape or not np.all((half >= 0.0) & (half < time)):
        raise BadInput("half_step_h must be one a time, from 0 to below it [h].")
    inverse = 1.0 / (np.asarray(temp_c, dtype=np.float64) + ZERO_C_K)
    x = inverse - inverse.mean()
    unit = GAS_CONSTANT_J_MOLK / 1000.0 / float(x @ x)
    up, down = np.log1p(half / time), np.log1p(-half / time)
    most = float(np.where(x > 0.0, x * up, x * down).sum())
    least = float(np.where(x > 0.0, x * down, x * up).sum())
    return middle.ea_kj_mol + unit * least, middle.ea_kj_mol + unit * most
