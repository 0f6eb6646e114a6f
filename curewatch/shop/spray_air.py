"""Limits of the spray check on temperatures and on relative humidity."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.shop.spray_terms import TIGHT_TEMP_K, Limit, Verdict, graded, warmer
from curewatch.shop.words import percent

if TYPE_CHECKING:
    from curewatch.shop.finish import Finish
    from curewatch.shop.spray_terms import Conditions
    from curewatch.shop.words import Words

DRY_SPRAY = "the spray dries in flight and flows badly"
WANTS_DAMP = "the film takes the water it hardens with from the air, and hardens slowly"


def temperature_limits(finish: Finish, here: Conditions, words: Words) -> list[Limit]:
    """Judge air, liquid and piece against the finish's temperatures, each that was measured."""
    limits, spare = finish.limits, max(TIGHT_TEMP_K, here.bias.temp_k)
    found = []
    for name, value in (
        ("air", here.temp_c),
        ("liquid", here.liquid_c),
        ("surface", here.surface_c),
    ):
        if value is None and name != "air":
            continue
        for edge, sign, figure in (
            ("low", 1.0, limits.temp_low_c),
            ("high", -1.0, limits.temp_high_c),
        ):
            margin = None if value is None else sign * (value - figure.value) + 0.0  # never -0
            found.append(
                Limit(
                    name=f"{name}-{edge}",
                    unit="degC",
                    value=value,
                    allowed=figure.value,
                    margin=margin,
                    error=here.bias.temp_k,
                    verdict=graded(margin, spare),
                    reason=f"{name} not measured"
                    if value is None
                    else f"{name} at {words.temp(value)}, "
                    f"{'at least' if sign > 0 else 'at most'} {words.temp(figure.value)} asked",
                    clears=warmer(name, margin, sign, spare=spare, words=words),
                    standing=figure.standing,
                    source=figure.source,
                )
            )
    return found


def humidity_limits(finish: Finish, here: Conditions) -> list[Limit]:
    """Judge the relative humidity: comfortable, little to spare, stop; and too dry."""
    return [_damp(finish, here), _dry(finish, here)]


def _damp(finish: Finish, here: Conditions) -> Limit:
    limits, error = finish.limits, here.bias.rh_frac * 100.0
    rh = None if here.rh_frac is None else here.rh_frac * 100.0
    shown = "not measured" if here.rh_frac is None else percent(here.rh_frac)
    margin = None if rh is None else limits.rh_stop_pct.value - rh
    comfortable = max(limits.rh_stop_pct.value - limits.rh_high_pct.value, error)
    drier = 0.0 if margin is None else max(comfortable - margin, 0.0)
    return Limit(
        "humidity-high",
        "%",
        rh,
        limits.rh_stop_pct.value,
        margin,
        error,
        graded(margin, comfortable),
        f"relative humidity {shown}: comfortable to {limits.rh_high_pct.value:.0f} %, "
        f"stop at {limits.rh_stop_pct.value:.0f} %",
        f"drier by {drier:.0f} points" if drier else "",
        limits.rh_stop_pct.standing,
        limits.rh_stop_pct.source,
    )


def _dry(finish: Finish, here: Conditions) -> Limit:
    """Judge dry air, which only warns; what it does hangs on the sign of the profile's humidity."""
    figure = finish.limits.rh_low_pct
    rh = None if here.rh_frac is None else here.rh_frac * 100.0
    shown = "not measured" if here.rh_frac is None else percent(here.rh_frac)
    low = None if rh is None else rh - figure.value
    helps = finish.cure is not None and finish.cure.humidity_exponent.value < 0.0
    return Limit(
        "humidity-low",
        "%",
        rh,
        figure.value,
        low,
        here.bias.rh_frac * 100.0,
        Verdict.UNKNOWN if low is None else Verdict.TIGHT if low < 0.0 else Verdict.FIT,
        f"relative humidity {shown}, below {figure.value:.0f} % "
        f"{WANTS_DAMP if helps else DRY_SPRAY}",
        "moister air" if helps else "moister air or a slower thinner",
        figure.standing,
        figure.source,
    )
