"""The whole answer to 'may I spray': now, over the hours the coat needs, and what would clear it.

The verdict is the worse of the two. Values typed in have no hours to come: they stay as they are,
and it is said that nobody looked ahead.

A room's hours ahead are judged at every fifth minute of the clock and stand until the next, so that
a command, the page and every message give one answer at one moment, whenever each began to look;
this moment itself is always judged anew. An answer is kept until the air it was judged on becomes
another.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from curewatch.shop.climate import MINUTE_MS
from curewatch.shop.clocks import MS_PER_H
from curewatch.shop.memo import NEVER_MS
from curewatch.shop.spray import spray_check
from curewatch.shop.spray_ahead import Ahead, spray_ahead
from curewatch.shop.spray_clear import Case
from curewatch.shop.spray_here import here_at
from curewatch.shop.spray_outlook import air_ahead, steady_air
from curewatch.shop.spray_recoat import recoat
from curewatch.shop.spray_terms import SEVERITY, Verdict, worst
from curewatch.shop.spray_to_clear import ToClear, tried

if TYPE_CHECKING:
    from curewatch.shop.finish import Finish
    from curewatch.shop.shop import Shop
    from curewatch.shop.spray_ahead import SprayAhead
    from curewatch.shop.spray_clear import Clear
    from curewatch.shop.spray_outlook import AirAhead
    from curewatch.shop.spray_recoat import Recoat
    from curewatch.shop.spray_terms import Conditions, Limit, SprayCheck
    from curewatch.shop.thinners import Thinner
    from curewatch.shop.words import Words

JUDGED_EVERY_MS = 5 * MINUTE_MS
"""Hours ahead are judged so often: a room's outlook changes no faster (our own choice)."""


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
    def sentence(self) -> str:
        """The verdict with its reason, whether now decides or the hours ahead."""
        if not self.ahead_decides or self.binding is None:
            return self.now.sentence
        coats = "the coat needs" if self.job.coats == 1 else f"{self.job.coats} coats need"
        return (
            f"{self.verdict.words}: {self.now.verdict.words} at this moment, but in the hours "
            f"{coats} it may come to this: {self.binding.reason}"
        )

    @property
    def binding(self) -> Limit | None:
        """The limit that decides; None where every one keeps its distance."""
        return self.decisive.binding


@dataclass(frozen=True, slots=True)
class RoomLook:
    """A room's answer without what would clear it, and what is needed to try that."""

    answer: SprayAnswer
    to_clear: ToClear

    def tried(self) -> SprayAnswer:
        """Return the answer with what would clear it; this may be done in any thread."""
        return replace(self.answer, clears=tried(self.to_clear))


def typed_answer(job: Job, here: Conditions, words: Words) -> SprayAnswer:
    """Answer for values that stay as they are."""
    now = spray_check(job.finish, here, words, thinner=job.thinner, exact=True)
    air = steady_air(here)
    found = None if air is None else recoat(job.finish, here, air, coats=job.coats)
    case = Case(job.finish, (here,), words, job.thinner)
    return SprayAnswer(job, now, None, found, tried(ToClear(case, now)))


def room_answer(
    shop: Shop, room: str, job: Job, *, now_ms: int, here: Conditions | None = None
) -> SprayAnswer:
    """Answer for a room, with what would clear it; the parameters are those of `room_look`."""
    return room_look(shop, room, job, now_ms=now_ms, here=here).tried()


def room_look(
    shop: Shop, room: str, job: Job, *, now_ms: int, here: Conditions | None = None
) -> RoomLook:
    """Look at a room, now and over the hours that the coats need.

    Parameters
    ----------
    shop : Shop
        With the room's record in its clock book.
    room : str
        Which.
    job : Job
        What is to be sprayed.
    now_ms : int
        The moment [ms].
    here : Conditions, optional
        What is known there, where a person measured something besides: then the hours ahead are
        judged at this moment, and a fresh coat is followed in just this climate.
    """
    words, besides = shop.words, here is not None
    if here is None:
        here = here_at(shop, room, now_ms)
    now = spray_check(job.finish, here, words, thinner=job.thinner, exact=besides)
    case = Case(job.finish, (here,), words, job.thinner, exact=besides)
    at_ms = now_ms if besides else judged_ms(shop, room, now_ms)
    air = None if here.temp_c is None else _air(shop, room, at_ms)
    if air is None:
        return RoomLook(SprayAnswer(job, now, None, None, (), now_ms), ToClear(case, now))
    there = here if besides else here_at(shop, room, at_ms)
    look = Ahead(job.finish, there, air, words, job.thinner)
    later_h = 0.0 if besides else JUDGED_EVERY_MS / MS_PER_H
    found, until_h, ahead = _hours(shop, room, look, job.coats, later_h)
    return RoomLook(
        SprayAnswer(job, now, ahead, found, (), now_ms),
        ToClear(
            case, now, (look, ahead), until_h=until_h, found=found, coats=job.coats, now_ms=now_ms
        ),
    )


def judged_ms(shop: Shop, room: str, now_ms: int) -> int:
    """Return when a room's hours ahead are judged that hold now [ms]: at the last fifth minute.

    A room that was not heard then is judged at this moment.
    """
    at_ms = now_ms // JUDGED_EVERY_MS * JUDGED_EVERY_MS
    return now_ms if here_at(shop, room, at_ms).temp_c is None else at_ms


def _air(shop: Shop, room: str, at_ms: int) -> AirAhead | None:
    """Return a room's air from a moment on, kept while its record up to then stays as it is."""
    frontier = shop.book.frontier_ms(room)
    return shop.book.airs.get(
        room,
        "air",
        facts=(at_ms, shop.plans.get(room, ())),
        until_ms=at_ms if frontier is None else min(frontier, at_ms),
        work_out=lambda: air_ahead(shop, room, at_ms),
    )


def _hours(
    shop: Shop, room: str, look: Ahead, coats: int, later_h: float
) -> tuple[Recoat | None, float | None, SprayAhead]:
    """Return when the next coat may follow, by when all have flashed, and the hours until then.

    They are kept while the air ahead stays as it is: a reading that only confirms it costs nothing.
    The coat may be sprayed `later_h` [h] after the air was judged.
    """

    def judged() -> tuple[Recoat | None, float | None, SprayAhead]:
        found = recoat(look.finish, look.here, look.air, coats=coats)
        latest_h = None if found is None else found.last.latest
        until_h = None if latest_h is None else latest_h + later_h
        return found, until_h, spray_ahead(look, until_h)

    name = None if look.thinner is None else look.thinner.blend.name
    return shop.book.sprays.get(
        room,
        (look.finish.name, look.finish.revision, name, coats),
        facts=(look.finish, look.here, look.air.mark, later_h),
        until_ms=NEVER_MS,  # the air itself is among the facts
        work_out=judged,
    )
