"""The whole answer to 'may I spray': now, over the hours the coat needs, and what would clear it.

The verdict is the worse of the two. Values typed in have no hours to come: they stay as they are,
and it is said that nobody looked ahead.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from curewatch.shop.clocks import MS_PER_H
from curewatch.shop.spray import dew_point_c, spray_check
from curewatch.shop.spray_ahead import Ahead, leads, spray_ahead
from curewatch.shop.spray_clear import Case, Clear, clears
from curewatch.shop.spray_dew import least_surface_c
from curewatch.shop.spray_outlook import MOST_H, PER_HOUR, air_ahead, steady_air
from curewatch.shop.spray_recoat import recoat
from curewatch.shop.spray_terms import SEVERITY, Verdict, worst

if TYPE_CHECKING:
    from collections.abc import Sequence

    from curewatch.shop.finish import Finish
    from curewatch.shop.shop import Shop
    from curewatch.shop.spray_ahead import SprayAhead
    from curewatch.shop.spray_recoat import Recoat
    from curewatch.shop.spray_terms import Conditions, Limit, SprayCheck
    from curewatch.shop.thinners import Thinner
    from curewatch.shop.words import Words

WAIT_AT_MOST_H = 48


@dataclass(frozen=True, slots=True)
class Job:
    """What is to be sprayed, with what, how often."""

    finish: Finish
    thinner: Thinner | None = None
    coats: int = 1


@dataclass(frozen=True, slots=True)
class SprayAnswer:
    """The spray check in full.

    Attributes
    ----------
    job: what was asked.
    now: the check of this moment.
    ahead: the hours until the last coat has flashed; None where nobody can look ahead.
    recoat: when the next coat may follow; None where that cannot be told.
    clears: changes that were tried and better the verdict.
    now_ms: the moment [ms]; None for values typed in.
    """

    job: Job
    now: SprayCheck
    ahead: SprayAhead | None
    recoat: Recoat | None
    clears: tuple[Clear, ...]
    now_ms: int | None = None

    @property
    def verdict(self) -> Verdict:
        """The worse of now and the hours ahead."""
        return worst([self.now.verdict, *([] if self.ahead is None else [self.ahead.verdict])])

    @property
    def ahead_decides(self) -> bool:
        """Whether the hours ahead say worse than this moment."""
        return SEVERITY[self.verdict] > SEVERITY[self.now.verdict]

    @property
    def decisive(self) -> SprayCheck:
        """The check whose limit binds: of now, or of the hour ahead that says the worst."""
        if self.ahead is None or not self.ahead_decides:
            return self.now
        likely = max(
            (hour.likely for hour in self.ahead.hours), key=lambda one: SEVERITY[one.verdict]
        )
        if likely.verdict is self.verdict:
            return likely
        return max((hour.worst for hour in self.ahead.hours), key=lambda one: SEVERITY[one.verdict])

    @property
    def binding(self) -> Limit | None:
        """The limit that decides; None where every one keeps its distance."""
        return self.decisive.binding


def typed_answer(job: Job, here: Conditions, words: Words) -> SprayAnswer:
    """Answer for values that stay as they are."""
    now = spray_check(job.finish, here, words, thinner=job.thinner, exact=True)
    air = steady_air(here)
    found = None if air is None else recoat(job.finish, here, air, coats=job.coats)
    case = Case(job.finish, (here,), words, job.thinner)
    return SprayAnswer(job, now, None, found, _cleared(case, now))


def room_answer(
    shop: Shop, room: str, job: Job, *, here: Conditions, now_ms: int, try_changes: bool = True
) -> SprayAnswer:
    """Answer for a room whose air `here` was measured just now.

    Parameters
    ----------
    shop : Shop
        With the room's record in its clock book.
    room : str
        Which.
    job : Job
        What is to be sprayed.
    here : Conditions
        What is known of the room now.
    now_ms : int
        The moment [ms].
    try_changes : bool
        Whether to try what would clear it, which takes longer than all the rest.
    """
    words = shop.words
    now = spray_check(job.finish, here, words, thinner=job.thinner, exact=True)
    air = None if here.temp_c is None else air_ahead(shop, room, now_ms)
    if air is None:
        case = Case(job.finish, (here,), words, job.thinner)
        made = _cleared(case, now) if try_changes else ()
        return SprayAnswer(job, now, None, None, made, now_ms)
    look = Ahead(job.finish, here, air, words, job.thinner)
    found = recoat(job.finish, here, air, coats=job.coats)
    until_h = None if found is None else found.last.latest
    ahead = spray_ahead(look, until_h)
    if not try_changes:
        return SprayAnswer(job, now, ahead, found, (), now_ms)
    case = Case(job.finish, (here,), words, job.thinner)
    if ahead.verdict is not Verdict.FIT:
        hard, others = _hardest(
            ahead, [air.conditions(here, at) for at in leads(until_h or MOST_H)]
        )
        case = replace(case, places=(here, *hard), others=others, ends=_ends(look, ahead, until_h))
    made = _cleared(case, now)
    if not (now.verdict.is_go and ahead.verdict.is_go):
        lasts_h = 1.0 if found is None or found.last.likely is None else found.last.likely
        fewer = _fewer(look, job.coats) if now.verdict.is_go else ()
        made = (*fewer, *_waits(look, lasts_h), *made)
    return SprayAnswer(job, now, ahead, found, made, now_ms)


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


def _waits(look: Ahead, lasts_h: float) -> tuple[Clear, ...]:
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
        when = look.words.ahead(ends.at_ms, look.air.now_ms)
        doubt = "" if gives is Verdict.FIT else f", then {gives.words}"
        by = (ends.at_ms - look.air.now_ms) / MS_PER_H
        return (
            Clear("wait", by, "h", gives, f"wait: likely from {when}{doubt}", at_ms=ends.at_ms),
        )
    return ()
