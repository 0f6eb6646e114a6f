"""Is the hygrometer right: two sensors side by side, and one over a salt.

Two sensors that agree may be wrong together, and one point says nothing of another, so neither
answer ever reads 'right'; what it can say is 'apart' or 'off'.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from curewatch.shop.climate import Floats

SALTS: Final = {"table": (0.755, 0.753, 0.751), "magnesium": (0.331, 0.328, 0.324)}
"""Humidity over saturated sodium and magnesium chloride at 20, 25 and 30 degC [fraction]: L.
Greenspan 1977, Journal of Research NBS 81A, 89-96, table 2, rounded; here from memory."""
AT_C: Final = (20.0, 25.0, 30.0)
LEAST: Final = 24  # readings (or shared hours) below which nothing is said (our own rule)
DRIFT: Final = 2.0  # halves of the record differ by more than so many spreads within a half
SALT_STEPS: Final = (
    "Stir the salt with a little water to wet sand, most of it undissolved; never a solution.",
    (
        "Close it with the sensor in a jar, the sensor dry and above the salt, in a room that "
        "keeps its temperature."
    ),
    "Leave it for a day; take the readings of the last hours.",
    "Do a second salt: one point says nothing of the rest of the range.",
)


@dataclass(frozen=True, slots=True)
class Difference:
    """How two series differ: middle, spread, first and second half, and what is said of it."""

    count: int
    middle: float | None
    spread: float | None
    drift: float | None
    allowed: float
    says: str


def between(ours: Floats, theirs: Floats, allowed: float) -> Difference:
    """
    Return how two sensors differ over the hours that both have.

    Parameters
    ----------
    ours, theirs : ndarray
        Hourly means, NaN where not known, shape (n,).
    allowed : float
        What both may be off by together.

    Returns
    -------
    Difference
        `says` is 'apart', 'within' or 'unknown', and 'drifting' where the halves differ by more
        than what is allowed.
    """
    known = np.isfinite(ours) & np.isfinite(theirs)
    found = (ours - theirs)[known]
    if found.size < LEAST:
        return Difference(int(found.size), None, None, None, allowed, "unknown")
    middle = float(np.median(found))
    spread = float(np.median(np.abs(found - middle)))
    half = found.size // 2
    ends = [float(np.median(part)) for part in (found[:half], found[half:])]
    drift = ends[1] - ends[0]
    restless = float(
        np.median(np.abs(np.concatenate((found[:half] - ends[0], found[half:] - ends[1]))))
    )
    says = "within" if abs(middle) <= allowed else "apart"
    if abs(drift) > max(allowed, DRIFT * restless):
        says = "drifting"
    return Difference(int(found.size), middle, spread, drift, allowed, says)


def over_salt(salt: str, rh_frac: Floats, temp_c: float, allowed: float) -> Difference:
    """Return how readings over a salt differ from what the salt keeps: 'off' or 'within'.

    `temp_c` [degC] must lie between 20 and 30: the salt's table is read there only.
    """
    if rh_frac.size < LEAST or not AT_C[0] <= temp_c <= AT_C[-1]:
        return Difference(int(rh_frac.size), None, None, None, allowed, "unknown")
    keeps = float(np.interp(temp_c, AT_C, SALTS[salt]))
    found = rh_frac - keeps
    middle = float(np.median(found))
    spread = float(np.median(np.abs(found - middle)))
    says = "within" if abs(middle) <= allowed else "off"
    return Difference(int(found.size), middle, spread, None, allowed, says)
