"""A day at the gun: when each coat may be laid, and when the window after it opens and closes.

Pieces share one gun and are sprayed in the order they are named, round after round. A coat is
planned when its window is surely open and before the early end of what closes; a forbidden middle,
a window that closes at night and a pot that is over are pointed out. What is on the pieces already
counts, by the record of their rooms. The time ahead is the outlook of the room, or a climate that
you type with --temp-c and --rh-pct.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from curewatch.cli.entry import SAFETY
from curewatch.cli.plan_asks import asked, plan_arguments
from curewatch.cli.plan_calendar import write_calendar
from curewatch.cli.show import print_json, say, table
from curewatch.planning.said import (
    ABOUT_COLUMNS,
    COLUMNS,
    NO_VERDICT,
    coat_row,
    evening_said,
    plan_led,
    plan_warnings,
    pots_said,
)
from curewatch.shop.day_plan import plan
from curewatch.shop.plain import FORMAT, instant
from curewatch.shop.plain_plan import caution_plain, plan_plain
from curewatch.shop.standings_told import plan_standings

if TYPE_CHECKING:
    import argparse

    from curewatch.planning import Known
    from curewatch.shop.day_plan import Ask, DayPlan
    from curewatch.shop.plain import Plain


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add what is asked of the plan, and where a calendar of it goes."""
    plan_arguments(parser)
    parser.add_argument("--mixed-at", metavar="TIME", help="when the pot was mixed")
    parser.add_argument("--ics", type=Path, metavar="FILE", help="write a calendar (iCalendar)")


def run(args: argparse.Namespace) -> int:
    """Plan, say so, and write the calendar."""
    with asked(args) as (known, ask):
        found = plan(known.hooks, ask)
    written = args.ics is not None and bool(found.coats)  # a calendar holds one event at least
    if written:
        write_calendar(args.ics, found, known)
    if args.json:
        print_json(_plain(found, known, ask))
    else:
        _tell(found, known, ask)
        if args.ics is not None:
            say(
                f"The calendar is in {args.ics}." if written else "No calendar: no coat is planned."
            )
    return 0


def _plain(found: DayPlan, known: Known, ask: Ask) -> Plain:
    answer = plan_plain(found)
    warnings = answer["warnings"]
    assert isinstance(warnings, list)  # noqa: S101 - that is its shape
    return {
        "format": FORMAT,
        "at": instant(known.now_ms),
        "finish": known.finish.name,
        "finish_revision": known.finish.revision,
        "start": instant(ask.start_ms),
        **basis_plain(known, ask),
        **answer,
        "warnings": [*(caution_plain(one) for one in known.cautions), *warnings],
    }


def basis_plain(known: Known, ask: Ask) -> Plain:
    """Return what a plan rests on."""
    climate = known.climate
    return {
        "sure_pct": ask.level,
        "basis": {
            "sentence": known.basis,
            "doubt": known.doubt,
            "room": known.room.name if known.shop is not None else None,
            "record_days": known.record_days,
            "temp_c": None if climate is None else climate.temp_c,
            "rh_pct": None if climate is None else climate.rh_frac * 100.0,
        },
        "standing": plan_standings(known.finish),
    }


def _tell(found: DayPlan, known: Known, ask: Ask) -> None:
    for line in plan_led(found, known, ask):
        say(line)
    say(f"{known.basis} {known.doubt}")
    say()
    if found.coats:
        table(COLUMNS, [coat_row(coat, ask) for coat in found.coats])
        say(ABOUT_COLUMNS)
    for line in (*pots_said(found, ask), *evening_said(found, ask)):
        say(line)
    for line in plan_warnings(found, known):
        say(f"- {line}")
    say()
    say(NO_VERDICT)
    say(SAFETY)
