"""What the commands that plan coats are asked: their options, and what these say of the plan."""

from __future__ import annotations

import re
from contextlib import contextmanager
from typing import TYPE_CHECKING

from curewatch.cli.bench import bench
from curewatch.cli.plan_known import Known, known_in_shop, known_without_shop, typed_climate
from curewatch.errors import BadInput
from curewatch.science.evaporation import AIR_SPEED_M_S
from curewatch.shop.clocks_ahead import LEVELS
from curewatch.shop.day_plan import Ask
from curewatch.shop.evening import evening_of
from curewatch.shop.piece import Coat
from curewatch.shop.shop_hours import ShopHours
from curewatch.times import CLOCK, instant_ms

if TYPE_CHECKING:
    import argparse
    from collections.abc import Callable, Iterator

    from curewatch.shop.words import Words

MINUTE_MS = 60_000
SLACK_MS = 5 * MINUTE_MS
NIGHT_MIN = (6 * 60, 22 * 60)  # where nobody said when the shop is open (our own figure)
MOST_COATS = 60
HOURS = re.compile(r"(\d{1,2}):(\d{2})\s*-\s*(\d{1,2}):(\d{2})")
MINUTES = {"coat_min": (0.5, 600.0), "clean_min": (0.0, 600.0)}


def plan_arguments(parser: argparse.ArgumentParser) -> None:
    """Add what both forms of planning take."""
    parser.add_argument("--finish", required=True, metavar="NAME", help="what is to be sprayed")
    parser.add_argument(
        "--coats", required=True, type=int, metavar="N", help="how many more on every piece"
    )
    parser.add_argument(
        "--pieces", metavar="TAG,...", help="pieces, in the order they are sprayed; one gun"
    )
    parser.add_argument("--room", metavar="ROOM", help="where they will hang (default: as now)")
    parser.add_argument("--temp-c", type=float, metavar="T", help="a room kept so [degC]")
    parser.add_argument("--rh-pct", type=float, metavar="R", help="with this humidity [%%]")
    parser.add_argument("--air", choices=list(AIR_SPEED_M_S), help="how its air moves")
    parser.add_argument("--start", metavar="TIME", help="not before: 8:00, 'tomorrow 8:00', ISO")
    parser.add_argument("--day", metavar="8:00-18:00", help="coats are laid in these hours alone")
    parser.add_argument(
        "--coat-min", type=float, default=10.0, metavar="MIN", help="a coat on one piece (10)"
    )
    parser.add_argument(
        "--clean-min", type=float, default=0.0, metavar="MIN", help="cleaning after each round (0)"
    )
    parser.add_argument("--wet-um", type=float, metavar="UM", help="wet film (default: the usual)")
    parser.add_argument("--per-day", type=int, metavar="N", help="most coats on a piece in a day")
    parser.add_argument(
        "--scuff", action="store_true", help="scuff and coat on where a window has closed"
    )
    parser.add_argument(
        "--fit-only",
        action="store_true",
        help="no coat while the room is likely not fit to spray (else that is pointed out)",
    )
    parser.add_argument(
        "--sure",
        type=int,
        choices=LEVELS,
        default=LEVELS[-1],
        help="how sure, in a hundred, what opens must be open (90); what closes is always taken at "
        "its early end",
    )


@contextmanager
def asked(args: argparse.Namespace) -> Iterator[tuple[Known, Ask]]:
    """Gather what a plan needs; storage is only opened where a room or a piece has a say."""
    if not 1 <= args.coats <= MOST_COATS:
        raise BadInput(f"--coats {args.coats}: give 1 to {MOST_COATS}")
    climate = typed_climate(args)
    if climate is not None and args.pieces is None:
        found = known_without_shop(args, climate)
        yield found, _ask(args, found)
        return
    with bench(args) as opened:
        found = known_in_shop(args, opened, climate)
        yield found, _ask(args, found)


def _ask(args: argparse.Namespace, found: Known) -> Ask:
    """Read what is asked of the plan."""
    for name, (low, high) in MINUTES.items():
        if not low <= getattr(args, name) <= high:
            raise BadInput(f"--{name.replace('_', '-')}: give {low:g} to {high:g} minutes")
    if args.per_day is not None and args.per_day < 1:
        raise BadInput(f"--per-day {args.per_day}: give at least one coat a day")
    if args.wet_um is not None:
        Coat(0, args.wet_um)  # refuses a film no gun can lay
    hours = _hours(args.day, found.words)
    start_ms = _start(args, found)
    mixed_ms = None
    if getattr(args, "mixed_at", None) is not None:
        if found.finish.pot_life_h is None:
            raise BadInput(f"{found.finish.name} has no pot life: leave --mixed-at out")
        mixed_ms = instant_ms(args.mixed_at, zone=found.words.zone, now_ms=found.now_ms)
        if mixed_ms > start_ms:
            raise BadInput("--mixed-at lies after the start: leave it out, and the pot is new")
    return Ask(
        coats=args.coats,
        start_ms=start_ms,
        night=hours or ShopHours(*NIGHT_MIN, found.words.zone),
        words=found.words,
        keep_hours=hours is not None,
        coat_min=args.coat_min,
        clean_min=args.clean_min,
        level=args.sure,
        scuff=args.scuff,
        per_day=args.per_day,
        wet_um=args.wet_um,
        mixed_ms=mixed_ms,
        fit_until=_fit_until(args, found),
        keep_fit=args.fit_only,
        now_ms=found.now_ms,
    )


def _fit_until(args: argparse.Namespace, found: Known) -> Callable[[int], int | None] | None:
    """Return the room's evening ahead; None for a climate that was typed."""
    if found.shop is None or args.temp_c is not None:
        return None
    evening = evening_of(found.shop, found.room.name, found.finish, found.now_ms)
    return None if evening is None else evening.fit_until


def _hours(text: str | None, words: Words) -> ShopHours | None:
    if text is None:
        return None
    found = HOURS.fullmatch(text.strip())
    if found is None:
        raise BadInput(f"--day {text!r}: give the hours somebody is there, such as 8:00-18:00")
    opens, opens_min, closes, closes_min = (int(part) for part in found.groups())
    return ShopHours(opens * 60 + opens_min, closes * 60 + closes_min, words.zone)


def _start(args: argparse.Namespace, found: Known) -> int:
    """Return the start; a time of day that has passed is tomorrow's."""
    if args.start is None:
        return -(-found.now_ms // MINUTE_MS) * MINUTE_MS
    zone, now_ms = found.words.zone, found.now_ms
    start_ms = instant_ms(args.start, zone=zone, now_ms=now_ms)
    if start_ms >= now_ms - SLACK_MS or found.shop is None:
        return start_ms
    clock = CLOCK.fullmatch(args.start.strip().lower())
    if clock is None or clock[1] is not None:
        raise BadInput(
            f"--start {args.start}: {found.words.at(start_ms, now_ms)} is past; a plan begins now "
            "or later"
        )
    return instant_ms(f"tomorrow {clock[0]}", zone=zone, now_ms=now_ms)
