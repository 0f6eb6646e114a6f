"""A day at the gun: when each coat of several pieces may be laid, one gun between them.

The pieces are sprayed in the order they are named, round after round. A coat starts when its
window is surely open and the gun is free, while the room is likely fit until the coat is surely
dry, and ends before the early end of what closes; where that cannot be, it is not planned, and the
reason stands among the cautions.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from curewatch.shop.coat_window import CoatWindow, Stretch, stretches, window_after
from curewatch.shop.piece import Coat
from curewatch.shop.plan_cautions import (
    Caution,
    about_coat,
    about_days,
    about_evening,
    about_far,
    about_refusal,
    about_window,
)
from curewatch.shop.pots import Pot, pots_for

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from curewatch.shop.clocks_ahead import RoomClocks
    from curewatch.shop.finish import Finish
    from curewatch.shop.shop_hours import ShopHours
    from curewatch.shop.words import Words

MINUTE_MS = 60_000
HOUR_MS = 60 * MINUTE_MS
ROUND_MS = 5 * MINUTE_MS  # starts that follow from an estimate are told no finer
LONGEST_LOOK_MS = 60 * 24 * 60 * MINUTE_MS  # as far as an outlook reaches

BARE = Stretch(0, None, scuff=False, past_middle=False)  # a piece without a coat waits for none


@dataclass(frozen=True, slots=True)
class Hook:
    """A piece as the plan finds it.

    Attributes
    ----------
    tag: its tag.
    finish: the profile it is sprayed under.
    clocks: what its room will earn.
    laid: coats that are on.
    window: the window of the last of them; None for a bare piece.
    """

    tag: str
    finish: Finish
    clocks: RoomClocks
    laid: tuple[Coat, ...] = ()
    window: CoatWindow | None = None


@dataclass(frozen=True, slots=True)
class Ask:
    """What is asked of a plan.

    Attributes
    ----------
    coats: how many more on every piece.
    start_ms: not before this instant [ms].
    night: the hours outside of which nobody is there; they only bind with `keep_hours`.
    words: how things are said.
    keep_hours: whether coats must be laid within those hours.
    coat_min, clean_min: minutes a coat takes on one piece, and cleaning after each round [min].
    level: how sure a window must be open, in a hundred: 50, 80, 90.
    scuff: whether a film whose window closed is scuffed and coated on.
    per_day: most coats on a piece in a day; None: no limit.
    wet_um: wet film to be laid [um]; None: the finish's usual coat.
    mixed_ms: when the first pot was mixed [ms]; None: for the first coat.
    pot_over: when the pot that stands already is over at its early end, from when it was mixed on
        [ms], by its room's record; None where nothing is known of that.
    fit_until: until when it is fit to spray, from an instant on [ms]; None where nobody can tell.
    keep_fit: whether it must be, from a coat's start until the coat is surely dry; else a coat of
        which that is not likely is marked.
    now_ms: the moment that instants are said from [ms]; None: the start.
    """

    coats: int
    start_ms: int
    night: ShopHours
    words: Words
    keep_hours: bool = False
    coat_min: float = 10.0
    clean_min: float = 0.0
    level: int = 90
    scuff: bool = False
    per_day: int | None = None
    wet_um: float | None = None
    mixed_ms: int | None = None
    pot_over: Callable[[int], int | None] | None = None
    fit_until: Callable[[int], int | None] | None = None
    keep_fit: bool = True
    now_ms: int | None = None

    def at(self, at_ms: int) -> str:
        """Say an instant [ms]."""
        return self.words.at(at_ms, self.start_ms if self.now_ms is None else self.now_ms)

    @property
    def coat_ms(self) -> int:
        """What a coat on one piece takes [ms]."""
        return round(self.coat_min * MINUTE_MS)

    @property
    def closed(self) -> str:
        """How the hours outside of `night` are called."""
        return "when nobody is there" if self.keep_hours else "at night"


@dataclass(frozen=True, slots=True)
class PlannedCoat:
    """A coat of the plan.

    Attributes
    ----------
    piece: the piece's tag.
    number: which coat of its stack, counted from 1.
    at_ms, done_ms: when spraying begins, and when the gun is laid down [ms].
    laid_in: the window it is laid in; None for a first coat.
    window: the recoat window it opens.
    scuff: whether the film must be scuffed first.
    past_middle: whether it had to wait for the far side of a forbidden middle.
    unfit_ms: when the room is likely not fit while it is laid and dries [ms]; None where it is fit.
    """

    piece: str
    number: int
    at_ms: int
    done_ms: int
    laid_in: CoatWindow | None
    window: CoatWindow
    scuff: bool = False
    past_middle: bool = False
    unfit_ms: int | None = None


@dataclass(frozen=True, slots=True)
class DayPlan:
    """A plan.

    Attributes
    ----------
    coats: in order of time.
    pots: mixed pots, in order; none for a finish without pot life.
    cautions: what is to be known before one begins.
    unplanned: coats that could not be planned.
    turns_ms: when it stops being fit to spray on the first coat's day, or the shop closes [ms].
    last_start_ms: last start of a coat that is surely dry to recoat before that [ms].
    """

    coats: tuple[PlannedCoat, ...]
    pots: tuple[Pot, ...]
    cautions: tuple[Caution, ...]
    unplanned: int
    turns_ms: int | None
    last_start_ms: int | None

    @property
    def unfit(self) -> int:
        """How many of the coats would be laid, or dry, in a room that is likely not fit."""
        return sum(coat.unfit_ms is not None for coat in self.coats)


def plan(hooks: Sequence[Hook], ask: Ask) -> DayPlan:
    """Return the plan of `ask.coats` more coats on each of these pieces, in their order."""
    day = _Day(ask, {hook.tag: hook for hook in hooks}, ask.start_ms)
    for _ in range(ask.coats):
        for hook in hooks:
            day.spray(hook.tag)
        day.gun_free_ms += round(ask.clean_min * MINUTE_MS)
    first = hooks[0]
    turns_ms = _turns(ask, day.coats[0].at_ms if day.coats else ask.start_ms)
    last_ms = None if turns_ms is None else last_start(first, ask, turns_ms)
    pots, pot_cautions = pots_for(day.coats, first, ask)
    last = {coat.piece: coat for coat in day.coats}  # what follows the others is planned
    seen = [caution for coat in last.values() for caution in about_window(coat, ask)]
    days = (*about_days(day.coats, ask), *about_far(day.coats, ask))
    evening = about_evening(day.coats, ask, turns_ms=turns_ms, last_ms=last_ms)
    return DayPlan(
        tuple(day.coats),
        pots,
        (*day.cautions, *days, *seen, *pot_cautions, *evening),
        ask.coats * len(hooks) - len(day.coats),
        turns_ms,
        last_ms,
    )


@dataclass(slots=True)
class _Day:
    """The day as it fills: where the gun is, and what each piece has on."""

    ask: Ask
    hooks: dict[str, Hook]
    gun_free_ms: int
    coats: list[PlannedCoat] = field(default_factory=list)
    cautions: list[Caution] = field(default_factory=list)
    given_up: set[str] = field(default_factory=set)

    def spray(self, tag: str) -> None:
        """Plan the next coat of a piece, or say why it cannot be laid."""
        hook, ask = self.hooks[tag], self.ask
        if tag in self.given_up:
            return
        found = self._place(hook)
        number = len(hook.laid) + 1
        if found is None:
            self.given_up.add(tag)
            from_ms = self.gun_free_ms
            self.cautions.append(
                about_refusal(tag, number, hook.window, ask=ask, gun_free_ms=from_ms)
            )
            return
        at_ms, stretch = found
        done_ms = at_ms + ask.coat_ms
        laid = (*hook.laid, Coat(done_ms, ask.wet_um))
        window = window_after(hook.finish, hook.clocks, laid)
        coat = PlannedCoat(
            *(tag, number, at_ms, done_ms, hook.window, window),
            scuff=stretch.scuff,
            past_middle=stretch.past_middle,
            unfit_ms=unfit_at(ask, hook, at_ms),
        )
        self.gun_free_ms = done_ms
        self.coats.append(coat)
        self.cautions += about_coat(coat, ask)
        self.hooks[tag] = replace(hook, laid=laid, window=window)

    def _place(self, hook: Hook) -> tuple[int, Stretch] | None:
        """Return the first start that the film, the gun, the hours and the room allow."""
        ask, from_ms = self.ask, self.gun_free_ms
        if ask.per_day is not None:
            from_ms = max(from_ms, self._another_day(hook.tag, ask.per_day))
        if hook.window is None:
            start = self._fitting(hook, from_ms, None)
            return None if start is None else (start, BARE)
        for stretch in stretches(hook.window, ask.level):
            if stretch.scuff and not ask.scuff:
                continue
            begin_ms = max(from_ms, _rounded(stretch, ask))
            start = self._fitting(hook, begin_ms, stretch.stop_ms)
            if start is not None:
                return start, stretch
        return None

    def _another_day(self, tag: str, per_day: int) -> int:
        """Return when a piece that has had its coats of the day may have the next [ms]."""
        ask, here = self.ask, [coat for coat in self.coats if coat.piece == tag]
        if not here:
            return ask.start_ms
        last = ask.night.day_of(here[-1].at_ms)
        if sum(ask.night.day_of(coat.at_ms) == last for coat in here) < per_day:
            return ask.start_ms
        return ask.night.next_morning(here[-1].at_ms)

    def _fitting(self, hook: Hook, start_ms: int, stop_ms: int | None) -> int | None:
        """Return the first start from then on within the hours and while it is fit to spray.

        None where a coat begun then is not on by `stop_ms`, or none is found within the look.
        """
        ask, start = self.ask, start_ms
        while start - ask.start_ms <= LONGEST_LOOK_MS:
            if ask.keep_hours:
                start = ask.night.first_fit(start, ask.coat_ms)
            if stop_ms is not None and start + ask.coat_ms > stop_ms:
                return None
            if not ask.keep_fit or unfit_at(ask, hook, start) is None:
                return start
            start = (start // HOUR_MS + 1) * HOUR_MS
        return None


def unfit_at(ask: Ask, hook: Hook, start_ms: int) -> int | None:
    """Return when the room turns while a coat begun then is laid and dries [ms].

    None where it stays fit until the coat is surely dry, or where nobody can tell. A coat of which
    no clock tells when it dries is followed for as long as anybody looks; one that is cured by
    dose, until the gun is laid down.
    """
    until = None if ask.fit_until is None else ask.fit_until(start_ms)
    if until is None or until <= start_ms:
        return until
    done_ms = start_ms + ask.coat_ms
    if hook.clocks.drying is None:
        return None if done_ms <= until else until
    laid = (*hook.laid, Coat(done_ms, ask.wet_um))
    dry_ms = window_after(hook.finish, hook.clocks, laid).sure_open(ask.level)
    return None if dry_ms is not None and dry_ms <= until else until


def last_start(hook: Hook, ask: Ask, turns_ms: int) -> int | None:
    """Return the last start of a coat that is surely dry to recoat by `turns_ms` [ms].

    None where a coat begun at once is not.
    """

    def in_time(start_ms: int) -> bool:
        laid = (*hook.laid, Coat(start_ms + ask.coat_ms, ask.wet_um))
        sure = window_after(hook.finish, hook.clocks, laid).sure_open(ask.level)
        return sure is not None and sure <= turns_ms

    low, high = ask.start_ms, turns_ms
    if high <= low or not in_time(low):
        return None
    while high - low > MINUTE_MS:
        middle = (low + high) // 2
        low, high = (middle, high) if in_time(middle) else (low, middle)
    return low


def _turns(ask: Ask, start_ms: int) -> int | None:
    """Return when the day of a start stops being fit to spray, or the shop closes [ms]."""
    fit = None if ask.fit_until is None else ask.fit_until(start_ms)
    if not ask.keep_hours:
        return fit
    start = ask.night.first_fit(start_ms, ask.coat_ms)
    closing = ask.night.closing(ask.night.day_of(start))
    return closing if fit is None else min(fit, closing)


def _rounded(stretch: Stretch, ask: Ask) -> int:
    """Return a stretch's beginning, rounded up to five minutes where that still fits [ms]."""
    coarse = -(-stretch.start_ms // ROUND_MS) * ROUND_MS
    if _ends_in_time(stretch, coarse + ask.coat_ms):
        return coarse
    return -(-stretch.start_ms // MINUTE_MS) * MINUTE_MS


def _ends_in_time(stretch: Stretch, done_ms: int) -> bool:
    return stretch.stop_ms is None or done_ms <= stretch.stop_ms
