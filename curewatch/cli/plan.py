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
from curewatch.shop.day_plan import plan
from curewatch.shop.plain import FORMAT, instant
from curewatch.shop.plain_plan import caution_plain, plan_plain
from curewatch.shop.standings_told import plan_standings

if TYPE_CHECKING:
    import argparse

    from curewatch.planning import Known
    from curewatch.shop.coat_window import CoatWindow
    from curewatch.shop.day_plan import Ask, DayPlan, PlannedCoat
    from curewatch.shop.plain import Plain

STEP_MS = 5 * 60_000  # edges are shown no finer: what opens is rounded up, what closes down


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
    many = "" if len(known.hooks) == 1 else f" on each of {len(known.hooks)} pieces"
    coats = f"{ask.coats} coat{'s' * (ask.coats > 1)}{many}"
    say(f"{known.finish.title}: {coats}, one gun, from {ask.at(ask.start_ms)} on.")
    say(f"{known.basis} {known.doubt}")
    say()
    table(
        ["start", "piece", "coat", "next: early", "likely", "surely", "closes"],
        [_row(coat, ask) for coat in found.coats],
    )
    say(
        "The last four columns are for the coat after it; 'closes' is the early end: end the next "
        "coat before it."
    )
    _tell_pots(found, ask)
    _tell_evening(found, ask)
    for caution in (*known.cautions, *found.cautions):
        if caution.kind == "pot-over":  # the pots have been told
            continue
        about = "" if caution.piece is None else f"{caution.piece}, coat {caution.coat}: "
        text = caution.words if about else caution.words[:1].upper() + caution.words[1:]
        say(f"- {about}{text}.")
    if found.unplanned:
        say(f"{found.unplanned} of the coats could not be planned.")
    if not known.finish.tried:
        say("Nobody has tried this profile whole: put your data sheet's figures in.")
    say()
    say("A start is a time to go and test, not a verdict: run `curewatch check` before you spray.")
    say(SAFETY)


def _row(coat: PlannedCoat, ask: Ask) -> tuple[str, ...]:
    window, opens = coat.window, coat.window.opens
    return (
        moment(coat.at_ms, ask),
        coat.piece,
        str(coat.number),
        moment(opens.early, ask),
        moment(opens.likely, ask),
        moment(window.sure_open(ask.level), ask),
        _closes(window, ask),
    )


def _closes(window: CoatWindow, ask: Ask) -> str:
    limit = window.limit
    if limit is None or limit.early is None:
        return "no limit"
    return moment(limit.early // STEP_MS * STEP_MS, ask)


def moment(at_ms: int | None, ask: Ask) -> str:
    """Say an instant [ms] on the wall clock, with its day where that is not the first one."""
    if at_ms is None:
        return "not known"
    then = ask.words.local(-(-at_ms // STEP_MS) * STEP_MS if at_ms % 60_000 else at_ms)
    clock = f"{then.hour}:{then.minute:02d}"
    days = (then.date() - ask.words.local(ask.start_ms).date()).days
    if days == 0:
        return clock
    return f"{then:%a} {clock}" if days < 7 else f"{then.day} {then:%b} {clock}"  # noqa: PLR2004 - a week


def _tell_pots(found: DayPlan, ask: Ask) -> None:
    for pot in found.pots:
        coats = f"{pot.coats} coat{'s' * (pot.coats != 1)} of this plan"
        over = ask.at(pot.over_ms // 60_000 * 60_000)
        mixed = ask.at(pot.mixed_ms)
        say(f"A pot mixed {mixed} serves {coats}; it is over {over}, at its early end.")


def _tell_evening(found: DayPlan, ask: Ask) -> None:
    if found.turns_ms is None:
        return
    turn = ask.at(found.turns_ms)
    if found.last_start_ms is None:
        say(f"No coat begun now is surely dry to recoat before the day turns {turn}.")
        return
    last = ask.at(found.last_start_ms // STEP_MS * STEP_MS)
    say(f"Last safe start {last}: begun later, a coat is not surely dry when the day turns {turn}.")
