"""What a day in a room was worth, month by month: `room seasons`."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from curewatch.assembly import finish_now
from curewatch.cli.bench import bench
from curewatch.cli.entry import known_room
from curewatch.cli.figures import whole
from curewatch.cli.show import print_json, say, table
from curewatch.errors import BadInput
from curewatch.shop.plain import FORMAT
from curewatch.shop.plain_what_if import range_plain
from curewatch.shop.seasons import NOT_SEEN, Month, Seasons, seasons
from curewatch.shop.standings import AIR, COUNTED, COVERED, MEASURED, entry
from curewatch.shop.standings_told import law_standing
from curewatch.shop.words import percent

if TYPE_CHECKING:
    import argparse

    from curewatch.shop.finish import Finish
    from curewatch.shop.plain import Plain
    from curewatch.shop.words import Words

USUAL_MONTHS: Final = 13  # so that last year's same month is there
MOST_MONTHS: Final = 60
DAYS_IN_MONTH: Final = 31


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add the finish and how far to look back."""
    parser.add_argument("--finish", required=True, metavar="NAME", help="whose cure clock")
    parser.add_argument(
        "--months", type=whole, default=USUAL_MONTHS, metavar="N", help="how far back (default: 13)"
    )


def run(args: argparse.Namespace) -> int:
    """Say what a day was worth month by month."""
    if not 1 <= args.months <= MOST_MONTHS:
        raise BadInput(f"--months {args.months}: give 1 to {MOST_MONTHS}")
    with bench(args) as at:
        room = known_room(at.settings, args.room)
        finish = finish_now(at.settings, at.store, args.finish)
        shop = at.shop(tags=(), rooms=[room])
        hours = args.months * DAYS_IN_MONTH * 24
        record = shop.book.hourly(room, at.now_ms, hours=hours)
        found = seasons(record, finish, shop.room(room), at.words)
    if args.json:
        print_json(_plain(found, finish))
    else:
        _tell(found, finish, at.words)
    return 0


def _plain(found: Seasons, finish: Finish) -> Plain:
    return {
        "format": FORMAT,
        "room": found.room,
        "finish": finish.name,
        "sentence": found.sentence,
        "times_as_long": range_plain(found.slower),
        "against_month": None if found.best is None else found.best.name,
        "months": [_month(month) for month in found.months if month.temp_c is not None],
        "not_seen": [*NOT_SEEN],
        "standing": {
            "times_as_long": law_standing(finish),
            "months": entry(MEASURED, AIR),
            **{
                f"months.{number}.day_worth_h": law_standing(finish)
                for number in range(len(found.months))
            },
            **{
                f"months.{number}.hours": entry(MEASURED, COUNTED)
                for number in range(len(found.months))
            },
            **{
                f"months.{number}.coverage_pct": entry(MEASURED, COVERED)
                for number in range(len(found.months))
            },
        },
    }


def _month(month: Month) -> Plain:
    return {
        "month": month.name,
        "hours": month.hours,
        "coverage_pct": month.coverage_pct,
        "temp_c": month.temp_c,
        "rh_pct": None if month.rh_frac is None else month.rh_frac * 100.0,
        "day_worth_h": range_plain(month.day_h),
    }


def _tell(found: Seasons, finish: Finish, words: Words) -> None:
    say(f"{found.room}, {finish.title}: {found.sentence}")
    rows = [_row(month, words) for month in found.months if month.temp_c is not None]
    if rows:
        table(["month", "measured", "air", "a day is worth"], rows)
    say("It may as well be: " + "; ".join(NOT_SEEN) + ".")


def _row(month: Month, words: Words) -> tuple[str, ...]:
    air = "-" if month.temp_c is None else words.temp(month.temp_c)
    rh = "" if month.rh_frac is None else f", {percent(month.rh_frac)}"
    day = month.day_h
    worth = "cannot be told" if day is None else f"{day.low:.0f} to {day.high:.0f} h"
    return (month.name, f"{month.coverage_pct:.0f} %", f"{air}{rh}", worth)
