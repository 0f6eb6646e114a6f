"""From what was typed to what a plan is asked, with every fault said as the option it is of."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

from curewatch.errors import BadInput
from curewatch.planning.known import Known, known_in_shop, known_without_shop, typed_climate
from curewatch.shop.batch import Batch, pot_life
from curewatch.shop.day_plan import Ask
from curewatch.shop.evening import evening_of
from curewatch.shop.finish_by import GOALS, Deadline, RoomAir, finish_by
from curewatch.shop.piece import Coat
from curewatch.shop.plan_cautions import Caution
from curewatch.shop.shop_hours import ShopHours
from curewatch.times import CLOCK, ahead_ms, instant_ms

if TYPE_CHECKING:
    from collections.abc import Callable

    from curewatch.opened import Opened
    from curewatch.planning.wish import PlanWish
    from curewatch.settings import Settings
    from curewatch.shop.finish_by import FinishBy
    from curewatch.shop.words import Words

MINUTE_MS = 60_000
SLACK_MS = 5 * MINUTE_MS
NIGHT_MIN = (6 * 60, 22 * 60)  # round the clock the rest is called night (our own figure)
DAY_MIN = (8 * 60, 18 * 60)  # where nobody said when the shop is open (our own figure)
ALWAYS = "always"
MOST_COATS = 60
DAY_MS = 24 * 60 * MINUTE_MS
MOST_SPARE_DAYS = 365.0
HOURS = re.compile(r"(\d{1,2}):(\d{2})\s*-\s*(\d{1,2}):(\d{2})")
MINUTES = {"coat_min": (0.5, 600.0), "clean_min": (0.0, 600.0)}


def planned(wish: PlanWish, settings: Settings, opened: Opened | None) -> tuple[Known, Ask]:
    """Return what a plan is made from and what is asked of it.

    Parameters
    ----------
    wish : PlanWish
        What was typed.
    settings : Settings
        The shop's.
    opened : Opened or None
        The open shop; None will do for a climate that was typed, without pieces.

    Raises
    ------
    BadInput
        When it cannot be meant; the message names the option.
    """
    check_coats(wish)
    climate = typed_climate(wish)
    if climate is not None and wish.pieces is None:
        found = known_without_shop(wish, settings, climate)
    else:
        assert opened is not None  # noqa: S101 - the caller opened it
        found = known_in_shop(wish, opened, climate)
    if wish.day is None:
        words = "no hours were given, so coats are laid from 8:00 to 18:00; --day gives others"
        taken = Caution("hours-taken", None, None, words)
        found = replace(found, cautions=(*found.cautions, taken))
    return found, _ask(wish, found)


def check_coats(wish: PlanWish) -> None:
    """Refuse a number of coats that nobody lays."""
    if not 1 <= wish.coats <= MOST_COATS:
        raise BadInput(f"--coats {wish.coats}: give 1 to {MOST_COATS}")


def _ask(wish: PlanWish, found: Known) -> Ask:
    """Read what is asked of the plan."""
    for name, (low, high) in MINUTES.items():
        if not low <= getattr(wish, name) <= high:
            raise BadInput(f"--{name.replace('_', '-')}: give {low:g} to {high:g} minutes")
    if wish.per_day is not None and wish.per_day < 1:
        raise BadInput(f"--per-day {wish.per_day}: give at least one coat a day")
    if wish.wet_um is not None:
        Coat(0, wish.wet_um)  # refuses a film no gun can lay
    always = wish.day is not None and wish.day.strip().lower() == ALWAYS
    start_ms = _start(wish, found)
    mixed_ms = None
    if wish.mixed_at is not None:
        if found.finish.pot_life_h is None:
            raise BadInput(f"{found.finish.name} has no pot life: leave --mixed-at out")
        mixed_ms = instant_ms(wish.mixed_at, zone=found.words.zone, now_ms=found.now_ms)
        if mixed_ms > start_ms:
            raise BadInput("--mixed-at lies after the start: leave it out, and the pot is new")
    return Ask(
        coats=wish.coats,
        start_ms=start_ms,
        night=ShopHours(*NIGHT_MIN, found.words.zone) if always else _hours(wish.day, found.words),
        words=found.words,
        keep_hours=not always,
        coat_min=wish.coat_min,
        clean_min=wish.clean_min,
        level=wish.sure,
        scuff=wish.scuff,
        per_day=wish.per_day,
        wet_um=wish.wet_um,
        mixed_ms=mixed_ms,
        pot_over=_pot_over(wish, found),
        fit_until=_fit_until(wish, found),
        keep_fit=not wish.unfit_too,
        now_ms=found.now_ms,
    )


def _pot_over(wish: PlanWish, found: Known) -> Callable[[int], int | None] | None:
    """Return when a pot that stands in the room is over; None for a climate that was typed."""
    shop = found.shop
    if shop is None or wish.temp_c is not None:
        return None
    finish, room = found.finish, found.room.name

    def over(mixed_ms: int) -> int | None:
        pot = Batch("", finish.name, finish.revision, "", mixed_ms, room)
        ends = pot_life(shop, finish, pot, found.now_ms).ends
        return None if ends is None else ends.early

    return over


def _fit_until(wish: PlanWish, found: Known) -> Callable[[int], int | None] | None:
    """Return the room's evening ahead; None for a climate that was typed."""
    if found.shop is None or wish.temp_c is not None:
        return None
    evening = evening_of(found.shop, found.room.name, found.finish, found.now_ms)
    return None if evening is None else evening.fit_until


def _hours(text: str | None, words: Words) -> ShopHours:
    if text is None:
        return ShopHours(*DAY_MIN, words.zone)
    found = HOURS.fullmatch(text.strip())
    if found is None:
        raise BadInput(
            f"--day {text!r}: give the hours somebody is there, such as 8:00-18:00, or always"
        )
    opens, opens_min, closes, closes_min = (int(part) for part in found.groups())
    return ShopHours(opens * 60 + opens_min, closes * 60 + closes_min, words.zone)


def _start(wish: PlanWish, found: Known) -> int:
    """Return the start; a time of day that has passed is tomorrow's."""
    if wish.start is None:
        return -(-found.now_ms // MINUTE_MS) * MINUTE_MS
    zone, now_ms = found.words.zone, found.now_ms
    start_ms = ahead_ms(wish.start, zone=zone, now_ms=now_ms)
    if start_ms >= now_ms - SLACK_MS or found.shop is None:
        return start_ms
    clock = CLOCK.fullmatch(wish.start.strip().lower())
    if clock is None or clock[1] is not None:
        raise BadInput(
            f"--start {wish.start}: {found.words.at(start_ms, now_ms)} is past; a plan begins now "
            "or later"
        )
    return instant_ms(f"tomorrow {clock[0]}", zone=zone, now_ms=now_ms)


def check_spare(spare_days: float) -> None:
    """Refuse days that nobody keeps free."""
    if not 0.0 <= spare_days <= MOST_SPARE_DAYS:
        raise BadInput(f"--spare-days {spare_days:g}: give 0 to {MOST_SPARE_DAYS:.0f}")


def deadline_of(date: str, goal: str, spare_days: float, *, known: Known, ask: Ask) -> Deadline:
    """Return what has to be reached by a date that was typed.

    Raises
    ------
    BadInput
        When it is no date, or comes before the start.
    """
    check_spare(spare_days)
    at_ms = ahead_ms(date, zone=known.words.zone, now_ms=known.now_ms)
    at_ms -= round(spare_days * DAY_MS)
    if at_ms <= ask.start_ms:
        raise BadInput(f"{date}: {ask.at(at_ms)} is not after the start; give a later date")
    learnt = None if known.shop is None else known.shop.learnt_of(known.finish)
    return Deadline(at_ms, GOALS[goal], learnt)


def worked_back(known: Known, ask: Ask, deadline: Deadline) -> FinishBy:
    """Work back from a deadline, and look for a climate that would do it where it cannot be met."""
    climate = known.climate
    air = None if climate is None else RoomAir(climate.temp_c, climate.rh_frac)
    return finish_by(known.hooks, ask, deadline, air=air, rehang=known.rehang)
