"""Figures that a person types: whether they can be at all, and whether their unit was meant.

A value that is possible but hardly meant is asked back, never changed: who means it says so with
`--really`. The limits are our own figures, wide of anything a shop is kept at.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from curewatch.errors import BadInput

MOST_PASSES = 20  # of one coat; more was mistyped [common practice, no source]
MOST_COATS = 60  # planned on one piece, oil polish by the month included [likewise]
FRACTION_PCT = 1.0  # no shop is this dry, no part this small: a fraction was typed for percent


class HardlyMeant(BadInput):
    """A figure that can be and was hardly meant: who means it says so."""


@dataclass(frozen=True, slots=True)
class Sort:
    """A sort of figure that is typed.

    Attributes
    ----------
    low, high: what can be; beyond them a number was mistyped.
    unit: as it is typed.
    hottest_c: above this degF were typed for degC [degC]; None of what is no temperature.
    driest: said of a figure up to 1 %, where a fraction was typed for percent; '' asks nothing.
    """

    low: float
    high: float
    unit: str
    hottest_c: float | None = None
    driest: str = ""


AIR = Sort(-40.0, 80.0, "degC", hottest_c=45.0)
LIQUID = Sort(-40.0, 80.0, "degC", hottest_c=45.0)
SURFACE = Sort(-40.0, 120.0, "degC", hottest_c=60.0)
CABINET = Sort(-40.0, 80.0, "degC", hottest_c=60.0)
HUMIDITY = Sort(0.0, 100.0, "%", driest="drier than any shop")
PART = Sort(0.0, 500.0, "%", driest="less than any data sheet asks for")


def asked_back(
    value: float | None, sort: Sort, *, option: str, really: bool | None = None, in_f: str = ""
) -> float | None:
    """Return what was typed, None where nothing was.

    Parameters
    ----------
    value : float or None
        What was typed, in the unit of its sort.
    sort : Sort
        What it is.
    option : str
        Where it was typed, such as '--temp-c'.
    really : bool, optional
        Whether the person insisted on it; None where there is no way to.
    in_f : str
        The option that takes the same in degF, '' where there is none.

    Raises
    ------
    BadInput
        When it cannot be, is no number, or was likely meant in another unit.
    """
    if value is None:
        return None
    told = f"{option} {value:g} {sort.unit}"
    possible(value, sort, told=told)
    if really:
        return value
    insist = "" if really is None else "; if it is meant so, add --really"
    if sort.driest and 0.0 < value <= FRACTION_PCT:
        raise HardlyMeant(
            f"{told} is {sort.driest}: did you mean {value * 100.0:g} %? Give percent, "
            f"{option} {value * 100.0:g}{insist}"
        )
    if sort.hottest_c is not None and value > sort.hottest_c:
        meant_c = (value - 32.0) / 1.8
        give = f"{in_f} {value:g}" if in_f else f"{option} {meant_c:.1f}"
        raise HardlyMeant(
            f"{told} is hotter than any place to spray in: did you mean {value:g} degF "
            f"({meant_c:.1f} degC)? Give {give}{insist}"
        )
    return value


def possible(value: float, sort: Sort, *, told: str) -> None:
    """Refuse what cannot be; `told` says what was typed."""
    if not math.isfinite(value) or not sort.low <= value <= sort.high:
        raise BadInput(f"{told} cannot be: give {sort.low:g} to {sort.high:g} {sort.unit}")
