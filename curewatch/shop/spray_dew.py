"""Limits of the spray check against the dew point: of the piece, and of the air.

Where the piece was measured its thermometer and the dew point's sensors decide how well the
distance is known; where it was not, the air stands for it and the doubt is larger. Inside that
doubt the answer is 'cannot tell'.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from curewatch.science import humid_air
from curewatch.shop.blush_check import PIECE_DOUBT_K, SURFACE_BIAS_K
from curewatch.shop.spray_terms import LEAST_RH_FRAC, Limit, Verdict, graded

if TYPE_CHECKING:
    from curewatch.shop.clocks import Bias
    from curewatch.shop.finish import Finish
    from curewatch.shop.spray_terms import Conditions
    from curewatch.shop.words import Words

DEW_POINTS_KEPT = 8192


def dew_point_c(here: Conditions) -> float | None:
    """Return the dew point [degC], None where temperature or humidity is not known."""
    if here.temp_c is None or here.rh_frac is None or here.rh_frac < LEAST_RH_FRAC:
        return None
    return _dew(here.temp_c, here.rh_frac, here.bias)[0]


def dew_error_k(here: Conditions) -> float:
    """Return the standard error of the dew point from the sensors' biases [K]."""
    if here.temp_c is None or here.rh_frac is None or here.rh_frac < LEAST_RH_FRAC:
        return 0.0
    return _dew(here.temp_c, here.rh_frac, here.bias)[1]


@lru_cache(maxsize=DEW_POINTS_KEPT)
def _dew(temp_c: float, rh_frac: float, bias: Bias) -> tuple[float, float]:
    """Return a dew point [degC] and its standard error [K]."""
    humid = np.clip(rh_frac + bias.rh_frac * np.array([0.0, -1.0, 1.0]), LEAST_RH_FRAC, 1.0)
    dew, low, high = (float(one) for one in humid_air.dew_point_c(temp_c, humid))
    return dew, float(((0.5 * (high - low)) ** 2 + bias.temp_k**2) ** 0.5)


def least_surface_c(finish: Finish, dew: float) -> float:
    """Return how warm a piece must be, by the dew point and the finish's low limit [degC]."""
    limits = finish.limits
    return max(dew + limits.surface_dew_stop_k.value, limits.temp_low_c.value)


def dew_limits(finish: Finish, here: Conditions, dew: float | None, *, words: Words) -> list[Limit]:
    """Judge the piece and, for fast solvents, the air against the dew point [degC]."""
    found = [_surface(finish, here, dew, words=words)]
    if finish.limits.air_dew_stop_k is not None or finish.limits.air_dew_warn_k is not None:
        found.append(_air(finish, here, dew, words=words))
    return found


def _surface(finish: Finish, here: Conditions, dew: float | None, *, words: Words) -> Limit:
    limits, asked = finish.limits, finish.limits.surface_dew_stop_k
    known = here.surface_c is not None
    error = (dew_error_k(here) ** 2 + (SURFACE_BIAS_K if known else PIECE_DOUBT_K) ** 2) ** 0.5
    value = here.surface_c if known else here.temp_c
    margin = None if dew is None or value is None else value - dew - asked.value
    verdict = graded(margin, limits.surface_dew_warn_k.value - asked.value)
    if margin is not None and 0.0 <= margin < error:
        verdict = Verdict.UNKNOWN  # inside the sensors' own error
    what = "surface" if known else "surface not measured; the air"
    return Limit(
        "surface-over-dew-point",
        "K",
        None if margin is None else margin + asked.value,
        asked.value,
        margin,
        error,
        verdict,
        f"{what} is {_spread(margin, asked.value, words)} above the dew point, "
        f"{words.kelvin(asked.value)} asked",
        "a warmer piece or drier air" if known else "measure the piece, or drier air",
        asked.standing,
        asked.source,
    )


def _air(finish: Finish, here: Conditions, dew: float | None, *, words: Words) -> Limit:
    """Judge the air against the dew point: fast solvents chill a film by several kelvin."""
    stop, warn = finish.limits.air_dew_stop_k, finish.limits.air_dew_warn_k
    lead = stop or warn
    assert lead is not None  # noqa: S101 - the caller has looked
    margin = None if dew is None or here.temp_c is None else here.temp_c - dew - lead.value
    error = dew_error_k(here)
    if stop is None:  # a warning only
        verdict = graded(margin, 0.0)
        verdict = Verdict.TIGHT if verdict is Verdict.WAIT else verdict
    else:
        verdict = graded(margin, max(warn.value - lead.value if warn else 0.0, error))
    limit = "" if stop is None else f"stop under {words.kelvin(stop.value)}, "
    return Limit(
        "air-over-dew-point",
        "K",
        None if margin is None else margin + lead.value,
        lead.value,
        margin,
        error,
        verdict,
        f"air is {_spread(margin, lead.value, words)} above the dew point; evaporation chills "
        f"the film: {limit}{words.kelvin((warn or lead).value)} wanted",
        "drier air, or a slower thinner",
        lead.standing,
        lead.source,
    )


def _spread(margin: float | None, asked: float, words: Words) -> str:
    return "an unknown distance" if margin is None else words.kelvin(margin + asked)
