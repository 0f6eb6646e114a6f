"""The spray check over the hours ahead: until the last planned coat has flashed.

Each hour is judged on the likely air and on both ends of its band. The span is no better than its
worst likely hour, and has little to spare where an end of the band breaks a limit. No hour of
failure is told exactly: early, likely and late stand for it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from curewatch.shop.blush_check import prepare
from curewatch.shop.spray import spray_check
from curewatch.shop.spray_dew import prepare_dew_points
from curewatch.shop.spray_film import prepare_wet_films
from curewatch.shop.spray_outlook import LIKELY, MOST_H, PATHS, PER_HOUR, STEP_H
from curewatch.shop.spray_terms import SEVERITY, Verdict, worst

if TYPE_CHECKING:
    from collections.abc import Sequence

    from curewatch.shop.finish import Finish
    from curewatch.shop.spray_outlook import AirAhead
    from curewatch.shop.spray_terms import Conditions, SprayCheck
    from curewatch.shop.thinners import Thinner
    from curewatch.shop.words import Words

FINE_H = 2.0  # so long every quarter of an hour is judged, then every hour


@dataclass(frozen=True, slots=True)
class HourAhead:
    """The check at an instant ahead.

    Attributes
    ----------
    at_ms: when [ms].
    checks: on the likely air, and on the ends of its band in the order of `PATHS`.
    """

    at_ms: int
    checks: tuple[SprayCheck, ...]

    @property
    def likely(self) -> SprayCheck:
        """The check on the likely air."""
        return self.checks[LIKELY]

    @property
    def worst(self) -> SprayCheck:
        """The check that says the worst."""
        return max(self.checks, key=lambda check: SEVERITY[check.verdict])

    @property
    def best(self) -> SprayCheck:
        """The check that says the best."""
        return min(self.checks, key=lambda check: SEVERITY[check.verdict])


@dataclass(frozen=True, slots=True)
class Turns:
    """When it may stop being fit to spray [ms]; None where that is not within the span.

    Attributes
    ----------
    early: an end of the band breaks a limit.
    likely: the likely air does.
    late: there is no air in the band that does not.
    """

    early: int | None
    likely: int | None
    late: int | None


@dataclass(frozen=True, slots=True)
class SprayAhead:
    """The span from now until the last planned coat has flashed.

    Attributes
    ----------
    until_ms: its end [ms].
    cut: whether the coat takes longer than anybody can look ahead.
    verdict: of the span.
    turns: when it may turn.
    limit: which limit turns or has least to spare; None where every hour is fit.
    hours: every instant judged.
    planned: whether someone has said what the room will be like.
    judged_ms: the moment it was looked ahead from [ms].
    """

    until_ms: int
    cut: bool
    verdict: Verdict
    turns: Turns
    limit: str | None
    hours: tuple[HourAhead, ...]
    planned: bool
    judged_ms: int


@dataclass(frozen=True, slots=True)
class Ahead:
    """What to look ahead with: the finish, the place now, its air to come."""

    finish: Finish
    here: Conditions
    air: AirAhead
    words: Words
    thinner: Thinner | None = None

    def likely(self, index: int) -> SprayCheck:
        """Return the check on the likely air at a lead."""
        return self._check(self.air.conditions(self.here, index))

    def hour(self, index: int) -> HourAhead:
        """Return the check at a lead, on the likely air and on the ends of its band."""
        checks = [
            self._check(self.air.conditions(self.here, index, path)) for path in range(len(PATHS))
        ]
        return HourAhead(self.air.at_ms(index), tuple(checks))

    def hours(self, indices: Sequence[int]) -> tuple[HourAhead, ...]:
        """Return the check at several leads; what takes long is worked out all at once."""
        every = [
            self.air.conditions(self.here, index, path)
            for index in indices
            for path in range(len(PATHS))
        ]
        prepare(self.finish, every, thinner=self.thinner)
        prepare_wet_films(self.finish, every)
        prepare_dew_points(every)
        return tuple(self.hour(index) for index in indices)

    def _check(self, there: Conditions) -> SprayCheck:
        return spray_check(self.finish, there, self.words, thinner=self.thinner)


def leads(until_h: float) -> list[int]:
    """Return which leads are judged: quarter hours at first, then hours, up to `until_h`'s."""
    last = min(max(-(-until_h // STEP_H), 1.0), MOST_H * PER_HOUR)
    fine = range(1, min(int(last), round(FINE_H * PER_HOUR)) + 1)
    coarse = range(round((FINE_H + 1.0) * PER_HOUR), int(last) + 1, PER_HOUR)
    return list(dict.fromkeys([*fine, *coarse, int(last)]))


def spray_ahead(ahead: Ahead, until_h: float | None) -> SprayAhead:
    """Judge the hours from now until `until_h` [h]; None: the coat flashes later than can be told.

    The verdict says nothing of now itself: a room that is not fit now may be in an hour.
    """
    hours = ahead.hours(leads(MOST_H if until_h is None else until_h))
    verdict = worst(hour.likely.verdict for hour in hours)
    if verdict is Verdict.FIT and not all(hour.worst.verdict.is_go for hour in hours):
        verdict = Verdict.TIGHT
    until_ms = hours[-1].at_ms
    return SprayAhead(
        until_ms=until_ms,
        cut=until_h is None or until_h > MOST_H,
        verdict=verdict,
        turns=_turns(hours),
        limit=_limit(hours),
        hours=hours,
        planned=ahead.air.planned,
        judged_ms=ahead.air.now_ms,
    )


def _turns(hours: Sequence[HourAhead]) -> Turns:
    def first(checks: Sequence[SprayCheck]) -> int | None:
        return next(
            (
                hour.at_ms
                for hour, check in zip(hours, checks, strict=True)
                if not check.verdict.is_go
            ),
            None,
        )

    return Turns(
        early=first([hour.worst for hour in hours]),
        likely=first([hour.likely for hour in hours]),
        late=first([hour.best for hour in hours]),
    )


def _limit(hours: Sequence[HourAhead]) -> str | None:
    """Return the limit that decides: of the worst likely hour, else of the band's worst end."""
    for checks in ([hour.likely for hour in hours], [hour.worst for hour in hours]):
        check = max(checks, key=lambda one: SEVERITY[one.verdict])
        if not check.verdict.is_go and check.binding is not None:
            return check.binding.name
    check = max((hour.likely for hour in hours), key=lambda one: SEVERITY[one.verdict])
    return None if check.binding is None else check.binding.name
