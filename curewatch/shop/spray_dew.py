"""Limits of the spray check against the dew point: of the piece, and of the air.

Where the piece was measured its thermometer and the dew point's sensors decide how well the
distance is known; where it was not, the air stands for it and the doubt is larger. Inside that
doubt the answer is 'cannot tell'.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from curewatch.science import humid_air
from curewatch.shop.blush_check import piece_doubt_k
from curewatch.shop.memo import Together
from curewatch.shop.spray_terms import LEAST_RH_FRAC, Limit, Verdict, graded

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from curewatch.shop.clocks import Bias
    from curewatch.shop.finish import Finish
    from curewatch.shop.spray_terms import Conditions
    from curewatch.shop.words import Words

DEW_POINTS_KEPT = 8192


def dew_point_c(here: Conditions) -> float | None:
    """Return the dew point [degC], None where temperature or humidity is not known."""
    return _KEPT.of(_air_of(here))[0] if _can_tell(here) else None


def dew_error_k(here: Conditions) -> float:
    """Return the standard error of the dew point from the sensors' biases [K]."""
    return _KEPT.of(_air_of(here))[1] if _can_tell(here) else 0.0


def prepare_dew_points(places: Iterable[Conditions]) -> None:
    """Work out the dew points of many places at once."""
    _KEPT.prepare(_air_of(here) for here in places if _can_tell(here))


def _can_tell(here: Conditions) -> bool:
    return here.temp_c is not None and here.rh_frac is not None and here.rh_frac >= LEAST_RH_FRAC


def _air_of(here: Conditions) -> tuple[float, float, Bias]:
    assert here.temp_c is not None  # noqa: S101 - the caller has looked
    assert here.rh_frac is not None  # noqa: S101 - the caller has looked
    return here.temp_c, here.rh_frac, here.bias


def _dew_points(airs: Sequence[tuple[float, float, Bias]]) -> Iterator[tuple[float, float]]:
    """Yield dew points [degC] and their standard errors [K]."""
    temp = np.array([[temp_c] for temp_c, _, _ in airs])
    humid = np.array([rh + bias.rh_frac * np.array([0.0, -1.0, 1.0]) for _, rh, bias in airs])
    found = humid_air.dew_point_c(temp, np.clip(humid, LEAST_RH_FRAC, 1.0))
    for (dew, low, high), (_, _, bias) in zip(found.tolist(), airs, strict=True):
        yield dew, math.hypot(0.5 * (high - low), bias.temp_k)


_KEPT = Together(_dew_points, most=DEW_POINTS_KEPT)


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
    error = math.hypot(dew_error_k(here), piece_doubt_k(here))
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
