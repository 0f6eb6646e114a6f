"""Working back from the day the customer comes: the last coat, the first coat, or why not.

The coats are planned as on any day; what follows them is the wait for the milestone, with the
cautious hours that a piece on the hook is held to. Where it cannot be done, the constant
temperature that would do it is looked for, at the moisture the room's air has now.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np

from curewatch.science import humid_air, wood
from curewatch.shop.ahead import Eta
from curewatch.shop.clocks_ahead import at_level
from curewatch.shop.coat_window import NOT_KNOWN
from curewatch.shop.day_plan import MINUTE_MS, Ask, DayPlan, Hook, plan
from curewatch.shop.finish import MilestoneName
from curewatch.shop.laws import required_h
from curewatch.shop.milestones import FILM_MILESTONES
from curewatch.shop.piece import Coat
from curewatch.shop.sink import decides, settling
from curewatch.shop.waits import need, slowness

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from curewatch.science.learning import Learnt
    from curewatch.shop.finish import Finish
    from curewatch.shop.words import Words

    Rehang = Callable[[float, float], Sequence[Hook]]

GOALS = {"buff": MilestoneName.BUFF, "ship": MilestoneName.FULL_CURE}
HOTTEST_C = 38.0  # a cautious ceiling for glued instruments (from memory)
DAY_MS = 24 * 60 * MINUTE_MS
LOOK_BACK_DAYS = 7
STEP_K = 0.5  # a room is not held closer
DRIEST_EMC_PCT = 6.0  # sheets ask for wood at 6 to 8 % (common practice, no source)


@dataclass(frozen=True, slots=True)
class Deadline:
    """What has to be reached, and when.

    Attributes
    ----------
    at_ms: by when [ms].
    milestone: buffing, or full cure.
    learnt: what outcomes say of the finish's pace, None where there are none.
    """

    at_ms: int
    milestone: MilestoneName
    learnt: Learnt | None = None


@dataclass(frozen=True, slots=True)
class RoomAir:
    """The air that a room has: temperature [degC] and relative humidity [fraction]."""

    temp_c: float
    rh_frac: float

    @property
    def emc_pct(self) -> float:
        """Moisture content that wood comes to in it [%]."""
        return float(wood.emc_pct(self.temp_c, self.rh_frac))

    def heated_to(self, temp_c: float) -> RoomAir:
        """Return the same air, warmer: the water in it stays."""
        share = humid_air.saturation_pressure_pa(self.temp_c) / humid_air.saturation_pressure_pa(
            temp_c
        )
        return RoomAir(temp_c, float(self.rh_frac * share))


@dataclass(frozen=True, slots=True)
class FinishBy:
    """What working back found.

    Attributes
    ----------
    possible: whether it can be done; None where no clock answers.
    if_now: when everything is ready if the first coat is laid at once.
    sure_ms: the same at the confidence asked for [ms].
    last_coat_ms, first_coat_ms: when the last coat must be on and the first begun at the latest
        [ms]; None where it cannot be done.
    plan: the coats if begun at once.
    would_do: the coolest air that would make it possible; None where it is possible, where nothing
        would do, or where the room's air is not known.
    searched_to_c: how warm an air was looked for [degC]; None: none was.
    cautions: what is to be said of that air, as sentences.
    horizon: whether the outlook's end and not the deadline bounds the last coat.
    latest: the coats as they lie if begun at the latest; None where it cannot be done.
    bound: why the first may not be begun later although the date would allow it, as a sentence
        without capital and full stop; '' where the date is the reason.
    scuffed_ms: when all is ready with a scuff where a window closes [ms]; None where that is of no
        use, was asked for, or does not help.
    """

    possible: bool | None
    if_now: Eta
    sure_ms: int | None
    last_coat_ms: int | None
    first_coat_ms: int | None
    plan: DayPlan
    would_do: RoomAir | None = None
    searched_to_c: float | None = None
    cautions: tuple[str, ...] = ()
    horizon: bool = False
    latest: DayPlan | None = None
    bound: str = ""
    scuffed_ms: int | None = None


def finish_by(
    hooks: Sequence[Hook],
    ask: Ask,
    deadline: Deadline,
    *,
    air: RoomAir | None = None,
    rehang: Rehang | None = None,
) -> FinishBy:
    """Work back from a deadline.

    Parameters
    ----------
    hooks, ask
        As for a plan; `ask.level` is the confidence the date is to be met with.
    deadline
        What, and by when.
    air : RoomAir or None
        The room's air as it is.
    rehang : callable or None
        The pieces in a room kept at [degC] and [fraction], for the search of a climate.
    """
    now = plan(hooks, ask)
    if_now = _ready(now, hooks, ask, deadline)
    sure_ms = _sure(now, hooks, ask, deadline)
    if not now.unplanned and sure_ms is not None and sure_ms <= deadline.at_ms:
        spare_ms = _spare(now, hooks, ask, deadline)
        last_ms = now.coats[-1].done_ms + spare_ms
        beyond = _sure(now, hooks, ask, deadline, later_ms=spare_ms + MINUTE_MS) is None
        latest, bound = _latest(hooks, ask, last_ms)
        if bound:
            last_ms, beyond = latest.coats[-1].done_ms, False
        first_ms = latest.coats[0].at_ms
        told_of = (True, if_now, sure_ms, last_ms, first_ms, now)
        return FinishBy(*told_of, horizon=beyond, latest=latest, bound=bound)
    told = now.unplanned > 0 or sure_ms is not None or _within_reach(hooks, deadline)
    clocked = all(hook.clocks.cure is not None for hook in hooks)
    found = FinishBy(False if told and clocked else None, if_now, sure_ms, None, None, now)
    if now.unplanned and not ask.scuff:
        scuffing = replace(ask, scuff=True)
        scuffed = plan(hooks, scuffing)
        if not scuffed.unplanned:
            sure_ms = _sure(scuffed, hooks, scuffing, deadline)
            return replace(found, scuffed_ms=sure_ms)
    return _search(found, (hooks, ask, deadline), air=air, rehang=rehang)


def ready_after(hook: Hook, coats: tuple[Coat, ...], deadline: Deadline) -> Eta:
    """Return when a stack of coats will have reached the milestone."""
    cure, finish, name = hook.clocks.cure, hook.finish, deadline.milestone
    asked = required_h(finish, name, coats)
    if asked is None or cure is None:
        return NOT_KNOWN
    film_h = _film_h(hook, coats, deadline.learnt) if name in FILM_MILESTONES else 0.0
    sure = need(finish, name, coats, rule_h=asked, film_h=film_h, learnt=deadline.learnt)
    likely_h = asked
    if finish.film is not None and decides(finish.film):
        likely_h = max(asked, film_h)
    late_h = max(float(sure.at(cure.doubt_rel)), likely_h)
    ends = cure.ahead.when(coats[-1].at_ms, likely_h, late_h)
    early = cure.by(coats[-1].at_ms, likely_h).early
    return Eta(early, ends.likely, ends.late)


def _film_h(hook: Hook, coats: tuple[Coat, ...], learnt: Learnt | None) -> float:
    """Return the cure hours that the film of a stack asks for [h]."""
    assert hook.clocks.cure is not None  # noqa: S101 - the caller has looked
    along = [hook.clocks.cure.likely_h(coats[0].at_ms, coat.at_ms) for coat in coats]
    stack = settling(hook.finish, coats, np.array(along), slowness(learnt))
    return 0.0 if stack is None else stack.under_h


def _sure(
    found: DayPlan, hooks: Sequence[Hook], ask: Ask, deadline: Deadline, *, later_ms: int = 0
) -> int | None:
    """Return when all is ready at the confidence asked for, all laid so much later [ms]."""
    if not found.coats:
        return None
    ready = _ready(found, hooks, ask, deadline, later_ms=later_ms)
    return at_level(ready, found.coats[-1].done_ms + later_ms, ask.level)


def _ready(
    found: DayPlan, hooks: Sequence[Hook], ask: Ask, deadline: Deadline, *, later_ms: int = 0
) -> Eta:
    """Return when the last of the pieces is ready, all laid so much later."""
    whens = []
    for hook in hooks:
        here = [coat for coat in found.coats if coat.piece == hook.tag]
        laid = tuple(Coat(coat.done_ms + later_ms, ask.wet_um) for coat in here)
        whens.append(ready_after(hook, (*hook.laid, *laid), deadline) if laid else NOT_KNOWN)
    return Eta(
        _last([when.early for when in whens]),
        _last([when.likely for when in whens]),
        _last([when.late for when in whens]),
    )


def _within_reach(hooks: Sequence[Hook], deadline: Deadline) -> bool:
    """Whether the time ahead is known up to the deadline: what is not ready then is too late."""
    ends = [hook.clocks.cure.ends_ms for hook in hooks if hook.clocks.cure is not None]
    return all(end is None or deadline.at_ms <= end for end in ends)


def _last(instants: Sequence[int | None]) -> int | None:
    told = [one for one in instants if one is not None]
    return max(told) if len(told) == len(instants) else None


def _spare(found: DayPlan, hooks: Sequence[Hook], ask: Ask, deadline: Deadline) -> int:
    """Return how much later the whole plan may be laid and still be in time [ms]."""

    def in_time(later_ms: int) -> bool:
        sure_ms = _sure(found, hooks, ask, deadline, later_ms=later_ms)
        return sure_ms is not None and sure_ms <= deadline.at_ms

    return _furthest(in_time, 0, deadline.at_ms - found.coats[-1].done_ms)


def _latest(hooks: Sequence[Hook], ask: Ask, last_ms: int) -> tuple[DayPlan, str]:
    """Return the coats begun at the latest and on by `last_ms` [ms], and what else bounds them."""

    def begun(later_ms: int) -> DayPlan:
        return plan(hooks, replace(ask, start_ms=ask.start_ms + later_ms))

    def in_time(later_ms: int) -> bool:
        found = begun(later_ms)
        return not found.unplanned and found.coats[-1].done_ms <= last_ms

    low, high = 0, max(last_ms - ask.start_ms, 0)
    for day in range(LOOK_BACK_DAYS):  # a start that fails today may serve on a later morning
        morning_ms = ask.night.opening(ask.night.day_of(last_ms) - timedelta(days=day))
        if 0 < morning_ms - ask.start_ms < high and in_time(morning_ms - ask.start_ms):
            low, high = morning_ms - ask.start_ms, min(high, morning_ms - ask.start_ms + DAY_MS)
            break
    low = _furthest(in_time, low, high)
    over = begun(low + MINUTE_MS)
    bars = [caution.words for caution in over.cautions if caution.kind == "not-planned"]
    return begun(low), bars[0] if bars else ""


def _furthest(in_time: Callable[[int], bool], low: int, high: int) -> int:
    """Return the furthest of a stretch that is in time, to the minute; its beginning is [ms]."""
    while high - low > MINUTE_MS:
        middle = (low + high) // 2
        low, high = (middle, high) if in_time(middle) else (low, middle)
    return low


def _search(
    found: FinishBy,
    asked: tuple[Sequence[Hook], Ask, Deadline],
    *,
    air: RoomAir | None,
    rehang: Rehang | None,
) -> FinishBy:
    """Look for the coolest constant climate that would make it possible."""
    hooks, ask, deadline = asked
    top_c = warmest_c(hooks)
    if air is None or rehang is None or top_c is None:
        return found
    found = replace(found, searched_to_c=top_c)
    steps = np.arange(air.temp_c + STEP_K, top_c, STEP_K).tolist()
    for temp_c in [*steps, top_c] if air.temp_c < top_c else []:
        heated = air.heated_to(temp_c)
        warm = rehang(heated.temp_c, heated.rh_frac)
        tried = plan(warm, ask)
        sure_ms = _sure(tried, warm, ask, deadline)
        if not tried.unplanned and sure_ms is not None and sure_ms <= deadline.at_ms:
            cautions = climate_cautions(air, heated, hooks[0].finish, ask.words)
            return replace(found, would_do=heated, cautions=cautions)
    return found


def warmest_c(hooks: Sequence[Hook]) -> float | None:
    """Return the warmth above which nothing is gained or more is risked [degC].

    None where a finish has no cure clock.
    """
    cures = [hook.finish.cure for hook in hooks]
    caps = [cure.upper_limit_c.value for cure in cures if cure is not None]
    return min(max(caps), HOTTEST_C) if len(caps) == len(hooks) else None


def climate_cautions(
    air: RoomAir, heated: RoomAir, finish: Finish, words: Words
) -> tuple[str, ...]:
    """Return what is to be said before a room is heated so."""
    wood_now, wood_then = air.emc_pct, heated.emc_pct
    told = (
        f"Wood comes to {wood_then:.1f} % moisture there, from {wood_now:.1f} % in the air as it "
        "is, over days to weeks: glue lines and grain may show, and thin plates may crack."
    )
    found = [told]
    if wood_then < DRIEST_EMC_PCT:
        found.append(
            f"That is below the {DRIEST_EMC_PCT:.0f} to 8 % that data sheets ask of wood: add "
            "moisture, or keep the warm time short."
        )
    high_c = finish.limits.temp_high_c.value
    if heated.temp_c > high_c:
        found.append(
            f"It is warmer than the {words.temp(high_c)} this finish may be sprayed in: lay the "
            "coats cooler and heat once they have flashed; it takes a little longer then."
        )
    found.append(
        "Let coats flash before they meet warmth; no open element, no heater left alone with wet "
        "solvent work, and ventilation stays on."
    )
    return tuple(found)
