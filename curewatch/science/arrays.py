"""What every function here takes: numbers or arrays of them, checked before any physics is done."""

from collections.abc import Sequence
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from curewatch.errors import BadInput

FloatArray: TypeAlias = npt.NDArray[np.float64]
Numbers: TypeAlias = float | Sequence[float] | FloatArray

ZERO_C_K = 273.15
"""0 degC in [K] (SI Brochure, 9th edition, section 2.3.1)."""
TEMP_RANGE_C = (-40.0, 80.0)
"""Air temperatures [degC] that are believed; a shop's sensors report no others."""
RH_RANGE_FRAC = (0.0, 1.0)
"""Relative humidities [fraction]."""


def checked_air(temp_c: Numbers, rh_frac: Numbers) -> tuple[FloatArray, FloatArray]:
    """
    Temperature and relative humidity as arrays that fit each other.

    Parameters
    ----------
    temp_c : float or array
        Air temperature [degC], -40 to 80.
    rh_frac : float or array
        Relative humidity over liquid water [fraction], 0 to 1.

    Returns
    -------
    tuple of ndarray
        Both as float64, in their own shapes; they can be broadcast together.

    Raises
    ------
    BadInput
        A value is not a number or out of range, or the two shapes do not fit.
    """
    temp, rh = checked_temp(temp_c), checked_rh(rh_frac)
    checked_shapes(temp_c=temp, rh_frac=rh)
    return temp, rh


def checked_temp(temp_c: Numbers, name: str = "temp_c") -> FloatArray:
    """Temperature [degC] as a float64 array, or BadInput."""
    return checked(temp_c, name, allowed=TEMP_RANGE_C, unit="degC")


def checked_rh(rh_frac: Numbers, name: str = "rh_frac") -> FloatArray:
    """Relative humidity [fraction] as a float64 array, or BadInput."""
    unit = "as a fraction (50 % is written 0.5)"
    return checked(rh_frac, name, allowed=RH_RANGE_FRAC, unit=unit)


def checked_positive(value: Numbers, name: str, *, unit: str) -> FloatArray:
    """Return `value` as a float64 array of finite numbers above zero, or raise BadInput."""
    numbers = as_numbers(value, name)
    _refuse(numbers, ~(np.isfinite(numbers) & (numbers > 0.0)), name, f"above 0 {unit}")
    return numbers


def checked(value: Numbers, name: str, *, allowed: tuple[float, float], unit: str) -> FloatArray:
    """Return `value` as a float64 array inside the closed range `allowed`, or raise BadInput."""
    numbers = as_numbers(value, name)
    low, high = allowed
    outside = ~((numbers >= low) & (numbers <= high))  # NaN compares false and is refused too
    _refuse(numbers, outside, name, f"from {low:g} to {high:g} {unit}")
    return numbers


def checked_shapes(**arrays: FloatArray) -> tuple[int, ...]:
    """Shape that the named arrays broadcast to, or BadInput."""
    try:
        return np.broadcast_shapes(*(array.shape for array in arrays.values()))
    except ValueError as error:
        shapes = ", ".join(f"{name} {array.shape}" for name, array in arrays.items())
        raise BadInput(
            f"These shapes do not fit each other: {shapes}. Give arrays of one length, or a scalar."
        ) from error


def as_numbers(value: Numbers, name: str) -> FloatArray:
    """Return `value` as a float64 array; text, booleans and ragged lists are refused."""
    try:
        array = np.asarray(value)
    except ValueError as error:
        raise BadInput(f"{name} is not an even array of numbers: {error}.") from error
    if array.dtype.kind not in "fiu" and array.size:
        raise BadInput(f"{name} holds {array.dtype}, not numbers. Convert it before the call.")
    return array.astype(np.float64, copy=False)


def refuse_where(bad: npt.NDArray[np.bool_], name: str, explanation: str) -> None:
    """Raise BadInput naming the first place where `bad` is true."""
    if not np.any(bad):
        return
    raise BadInput(f"{name}{_place(bad)} {explanation}")


def _refuse(numbers: FloatArray, bad: npt.NDArray[np.bool_], name: str, allowed: str) -> None:
    if np.any(bad):
        first = float(numbers.flat[int(np.argmax(bad))])
        refuse_where(
            bad, name, f"is {first:g}; it must be {allowed}. Check the reading and its unit."
        )


def _place(bad: npt.NDArray[np.bool_]) -> str:
    if bad.ndim == 0:
        return ""
    first = np.unravel_index(int(np.argmax(bad)), bad.shape)
    return f" at index {', '.join(str(int(index)) for index in first)}"
