"""Is the hygrometer right: two sensors side by side, and one over a salt.

Two sensors that agree may be wrong together, and one point says nothing of another, so neither
answer ever reads 'right'; what it can say is 'apart' or 'off'.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from curewatch.shop.salt_jar import keeps_rh_frac

if TYPE_CHECKING:
    from curewatch.shop.climate import Floats

LEAST: Final = 24  # readings (or shared hours) below which nothing is said (our own rule)
DAMP_FRAC: Final = 0.70  # damp air, where a poisoned sensor reads low (our own rule)
MIDDLING_FRAC: Final = (0.35, 0.60)
DRIFT: Final = 2.0  # halves of the record differ by more than so many spreads within a half


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

    At a temperature [degC] that the salt has no value for nothing is said.
    """
    keeps = keeps_rh_frac(salt, temp_c)
    if rh_frac.size < LEAST or keeps is None:
        return Difference(int(rh_frac.size), None, None, None, allowed, "unknown")
    found = rh_frac - keeps
    middle = float(np.median(found))
    spread = float(np.median(np.abs(found - middle)))
    says = "within" if abs(middle) <= allowed else "off"
    return Difference(int(found.size), middle, spread, None, allowed, says)


@dataclass(frozen=True, slots=True)
class AtTheTop:
    """How a hygrometer stands against its partner at the damp end and in the middle.

    Attributes
    ----------
    count: damp hours that both have.
    middle, top: by how much it reads higher in middling and in damp air [fraction].
    lost: how much more it reads low in damp air [fraction].
    says: 'low at the top', 'even' or 'unknown'.
    """

    count: int
    middle: float | None
    top: float | None
    lost: float | None
    says: str


def at_the_top(ours: Floats, theirs: Floats, allowed: float) -> AtTheTop:
    """
    Return whether a hygrometer loses its damp end, as solvent makes sensors do.

    Solvent in the film takes away sensitivity first: damp air reads too dry while middling air
    reads as before [sensors' handling notes, as common practice quotes them]. Two sensors can
    show it; which of them is the better one, they cannot, so both ways round are to be asked.

    Parameters
    ----------
    ours, theirs : ndarray
        Hourly means of humidity [fraction], NaN where not known.
    allowed : float
        By how much two sound sensors may differ more there [fraction].
    """
    known = np.isfinite(ours) & np.isfinite(theirs)
    damp = known & (theirs >= DAMP_FRAC)
    middling = known & (theirs >= MIDDLING_FRAC[0]) & (theirs < MIDDLING_FRAC[1])
    count = int(np.count_nonzero(damp))
    if count < LEAST or np.count_nonzero(middling) < LEAST:
        return AtTheTop(count, None, None, None, "unknown")
    middle = float(np.median((ours - theirs)[middling]))
    top = float(np.median((ours - theirs)[damp]))
    lost = middle - top
    return AtTheTop(count, middle, top, lost, "low at the top" if lost > allowed else "even")
