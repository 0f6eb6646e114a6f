"""What would clear a spray check that is not fit: what is needed to try it, and the trying.

Trying takes longer than all the rest of an answer. Nothing here hangs on the shop or its record, so
it may be done later and in another thread.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from curewatch.shop.clocks import MS_PER_H
from curewatch.shop.spray import dew_point_c
from curewatch.shop.spray_ahead import leads, spray_ahead
from curewatch.shop.spray_clear import Case, Clear, clears
from curewatch.shop.spray_dew import least_surface_c
from curewatch.shop.spray_outlook import MOST_H, PER_HOUR
from curewatch.shop.spray_recoat import recoat
from curewatch.shop.spray_terms import Verdict, worst

if TYPE_CHECKING:
    from collections.abc import Sequence

    from curewatch.shop.spray_ahead import Ahead, SprayAhead
    from curewatch.shop.spray_recoat import Recoat
    from curewatch.shop.spray_terms import Conditions, SprayCheck

WAIT_AT_MOST_H = 48


@dataclass(frozen=True, slots=True)
class ToClear:
    """What is needed to try changes.

    Attributes
    ----------
    case: the place as it is now.
    now: the check of this moment.
    hours: what the hours ahead were judged with, and what was said; None where nobody can look
        ahead.
    until_h: by when the last coat has flashed [h]; None: later than can be told.
    found: when the next coat may follow.
    coats: how many are planned.
    now_ms: the moment [ms].
    """

    case: Case
    now: SprayCheck
    hours: tuple[Ahead, SprayAhead] | None = None
    until_h: float | None = None
    found: Recoat | None = None
    coats: int = 1
    now_ms: int = 0


def tried(wanted: ToClear) -> tuple[Clear, ...]:
    """Return what has to be measured first, then every change that was tried and serves."""
    case, now, hours = wanted.case, wanted.now, wanted.hours
    if hours is None:
        return _cleared(case, now)
    look, ahead = hours
    if ahead.verdict is not Verdict.FIT:
        places = [
            look.air.conditions(look.here, at)
            for at in leads(MOST_H if wanted.until_h is None else wanted.until_h)
        ]
        hard, others = _hardest(ahead, places)
        ends = _ends(look, ahead, wanted.until_h)
        case = replace(case, places=(case.here, *hard), others=others, ends=ends)
    made = _cleared(case, now)
    if now.verdict.is_go and ahead.verdict.is_go:
        return made
    found = wanted.found
    lasts_h = 1.0 if found is None or found.last.likely is None else found.last.likely
    fewer = _fewer(look, wanted.coats) if now.verdict.is_go else ()
    return (*fewer, *_waits(look, lasts_h, wanted.now_ms), *made)


def _hardest(
    ahead: SprayAhead, places: Sequence[Conditions]
) -> tuple[tuple[Conditions, ...], tuple[Conditions, ...]]:
    """Return the likely hours that have least to spare in some limit, and all the others."""
    least: dict[str, tuple[float, int]] = {}
    tight = ahead.verdict is Verdict.TIGHT  # then what has little to spare is what is to be cleared
    for index, hour in enumerate(ahead.hours):
        for limit in hour.likely.limits:
            margin = -math.inf if limit.margin is None else limit.margin
            bad = limit.verdict is not Verdict.FIT if tight else not limit.verdict.is_go
            if bad and margin < least.get(limit.name, (math.inf, 0))[0]:
                least[limit.name] = margin, index
    hard = {index for _, index in least.values()}
    return (
        tuple(places[index] for index in sorted(hard)),
        tuple(place for index, place in enumerate(places) if index not in hard),
    )


def _ends(look: Ahead, ahead: SprayAhead, until_h: float | None) -> tuple[Conditions, ...]:
    """Return the ends of the band that break a limit by most, where the likely air keeps all."""
    if ahead.verdict is not Verdict.TIGHT:
        return ()
    least: dict[str, tuple[float, Conditions]] = {}
    for lead, hour in zip(leads(MOST_H if until_h is None else until_h), ahead.hours, strict=True):
        for path, check in enumerate(hour.checks):
            for limit in check.limits:
                margin = -math.inf if limit.margin is None else limit.margin
                if not limit.verdict.is_go and (
                    limit.name not in least or margin < least[limit.name][0]
                ):
                    least[limit.name] = margin, look.air.conditions(look.here, lead, path)
    return tuple(place for _, place in least.values())


def _fewer(look: Ahead, coats: int) -> tuple[Clear, ...]:
    """Return how many of the planned coats will have flashed before it turns, if any."""
    for count in range(coats - 1, 0, -1):
        found = recoat(look.finish, look.here, look.air, coats=count)
        if found is None or found.last.latest is None:
            continue
        gives = spray_ahead(look, found.last.latest).verdict
        if gives.is_go:
            words = f"only {count} coat{'s' if count > 1 else ''} now"
            doubt = "" if gives is Verdict.FIT else f": then {gives.words}"
            return (Clear("fewer-coats", coats - count, "coats", gives, f"{words}{doubt}"),)
    return ()


def _cleared(case: Case, now: SprayCheck) -> tuple[Clear, ...]:
    """Return what has to be measured first, then the changes that were tried."""
    here, missing = case.here, []
    if here.temp_c is None or here.rh_frac is None:
        what = [
            name
            for name, value in (("temperature", here.temp_c), ("humidity", here.rh_frac))
            if value is None
        ]
        return (Clear("measure", None, "", None, f"measure {' and '.join(what)}"),)
    near = next(limit for limit in now.limits if limit.name == "surface-over-dew-point")
    dew = dew_point_c(here)
    if here.surface_c is None and near.verdict is Verdict.UNKNOWN and dew is not None:
        least = case.words.temp(least_surface_c(case.finish, dew))
        words = f"measure the piece itself: it must be at least {least} and its thermometer's error"
        missing = [Clear("measure-surface", None, "", None, words)]
    return (*missing, *clears(case))


def _waits(look: Ahead, lasts_h: float, now_ms: int) -> tuple[Clear, ...]:
    """Return the first hour from which the likely air keeps every limit until the coat is flashed.

    It gives 'fit' only where the ends of the band keep them too.
    """
    lasts = max(round(lasts_h), 1)
    hours = range(1, min(WAIT_AT_MOST_H + lasts, int(MOST_H)) + 1)
    likely = {hour: look.likely(hour * PER_HOUR).verdict for hour in hours}
    for hour in range(1, WAIT_AT_MOST_H + 1):
        span = [likely[at] for at in range(hour, hour + lasts + 1) if at in likely]
        if not all(verdict.is_go for verdict in span):
            continue
        ends = look.hours([hour * PER_HOUR])[0]
        gives = worst(span)
        if not ends.worst.verdict.is_go:
            gives = Verdict.TIGHT
        when = look.words.ahead(ends.at_ms, now_ms)
        doubt = "" if gives is Verdict.FIT else f", then {gives.words}"
        by = (ends.at_ms - now_ms) / MS_PER_H
        return (
            Clear("wait", by, "h", gives, f"wait: likely from {when}{doubt}", at_ms=ends.at_ms),
        )
    return ()
