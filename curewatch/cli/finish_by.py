"""Working back from the day the customer comes: when the last coat must be on, and the first begun.

DATE is when the film must have reached what --for names: 2026-12-24 (its beginning), or a time. The
coats are planned as `curewatch plan` plans them; the wait after the last is the cautious one that a
piece on the hook is held to. Where it cannot be done, the constant temperature that would do it is
looked for, at the moisture the air has now. Levelling, buffing and packing take their own time:
--spare-days keeps it free.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.cli.entry import SAFETY
from curewatch.cli.plan import basis_plain
from curewatch.cli.plan_asks import asked, plan_arguments
from curewatch.cli.show import print_json, say
from curewatch.errors import BadInput
from curewatch.shop.finish_by import GOALS, Deadline, RoomAir, finish_by
from curewatch.shop.plain import FORMAT, instant
from curewatch.shop.plain_plan import caution_plain, finish_by_plain
from curewatch.shop.words import percent, span
from curewatch.times import instant_ms

if TYPE_CHECKING:
    import argparse

    from curewatch.planning import Known
    from curewatch.shop.day_plan import Ask
    from curewatch.shop.finish_by import FinishBy

DAY_MS, HOUR_MS = 86_400_000, 3_600_000
MOST_SPARE_DAYS = 365.0
DONE = {"buff": "ready to buff", "ship": "fully cured"}


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add the date, what it asks for, and what a plan takes."""
    parser.add_argument("date", metavar="DATE", help="2026-12-24, or a time")
    parser.add_argument("--for", choices=list(GOALS), default="buff", dest="goal", help="(buff)")
    parser.add_argument(
        "--spare-days", type=float, default=0.0, metavar="D", help="days kept free before DATE (0)"
    )
    plan_arguments(parser)


def run(args: argparse.Namespace) -> int:
    """Work back and say so."""
    if not 0.0 <= args.spare_days <= MOST_SPARE_DAYS:
        raise BadInput(f"--spare-days {args.spare_days:g}: give 0 to {MOST_SPARE_DAYS:.0f}")
    with asked(args) as (known, ask):
        deadline = _deadline(args, known, ask)
        climate = known.climate
        found = finish_by(
            known.hooks,
            ask,
            deadline,
            air=None if climate is None else RoomAir(climate.temp_c, climate.rh_frac),
            rehang=known.rehang,
        )
    if args.json:
        answer = finish_by_plain(found, deadline)
        warnings = answer["warnings"]
        assert isinstance(warnings, list)  # noqa: S101 - that is its shape
        print_json(
            {
                "format": FORMAT,
                "at": instant(known.now_ms),
                "finish": known.finish.name,
                "for": args.goal,
                **basis_plain(known, ask),
                **answer,
                "warnings": [*(caution_plain(one) for one in known.cautions), *warnings],
            }
        )
    else:
        _tell(found, deadline, args.goal, known=known, ask=ask)
    return 0


def _deadline(args: argparse.Namespace, known: Known, ask: Ask) -> Deadline:
    at_ms = instant_ms(args.date, zone=known.words.zone, now_ms=known.now_ms)
    at_ms -= round(args.spare_days * DAY_MS)
    if at_ms <= ask.start_ms:
        when = ask.at(at_ms)
        raise BadInput(f"{args.date}: {when} is not after the start; give a later date")
    learnt = None if known.shop is None else known.shop.learnt_of(known.finish)
    return Deadline(at_ms, GOALS[args.goal], learnt)


def _tell(found: FinishBy, deadline: Deadline, goal: str, *, known: Known, ask: Ask) -> None:
    due, done = ask.at(deadline.at_ms), DONE[goal]
    sure = "as likely as not" if ask.level == 50 else f"{ask.level} times in 100"  # noqa: PLR2004 - in a hundred
    if found.possible is None:
        say(f"Cannot tell: no time can be told at which {known.finish.title} is {done} here.")
        say(
            "Its film is cured by dose, or the room earns too little, or it takes longer than an "
            "outlook reaches (60 days): a climate typed with --temp-c and --rh-pct reaches further."
        )
    elif found.possible:
        _tell_latest(found, f"{due}, {sure}", done, ask=ask)
    else:
        say(f"It cannot be done: {done} by {due}, {sure}, is too soon{_short(found, deadline)}.")
    if found.possible is not None and found.sure_ms is not None:
        soonest = ask.words.ahead(found.sure_ms, known.now_ms)
        say(f"Begun {ask.at(ask.start_ms)}, it is {done} {soonest} at that confidence.")
    _tell_climate(found, known)
    for caution in (*known.cautions, *(found.plan.cautions if found.plan.unplanned else ())):
        about = "" if caution.piece is None else f"{caution.piece}, coat {caution.coat}: "
        text = caution.words if about else caution.words[:1].upper() + caution.words[1:]
        say(f"- {about}{text}.")
    say()
    say(f"{known.basis} {known.doubt}")
    say("Levelling, buffing and packing come on top. The test decides that day, not the date.")
    say(SAFETY)


def _tell_latest(found: FinishBy, due: str, done: str, *, ask: Ask) -> None:
    assert found.last_coat_ms is not None  # noqa: S101 - it is possible
    assert found.first_coat_ms is not None  # noqa: S101 - as above
    last, first = (
        ask.at(at_ms // HOUR_MS * HOUR_MS) for at_ms in (found.last_coat_ms, found.first_coat_ms)
    )
    a_day = "" if ask.per_day is None else f", {ask.per_day} a day at most"
    say(f"Last coat on by {last} at the latest: {done} by {due}.")
    say(f"First of {ask.coats} coats begun by {first} at the latest{a_day}.")
    if found.horizon:
        say("Perhaps later: an outlook reaches 60 days and no further.")


def _short(found: FinishBy, deadline: Deadline) -> str:
    if found.sure_ms is None or found.plan.unplanned:
        return ""
    return f" by {span((found.sure_ms - deadline.at_ms) / HOUR_MS)}"


def _tell_climate(found: FinishBy, known: Known) -> None:
    if found.possible or known.climate is None or found.searched_to_c is None:
        return
    words, air = known.words, found.would_do
    now = f"{words.temp(known.climate.temp_c)} and {percent(known.climate.rh_frac)}"
    if air is None:
        top = words.temp(found.searched_to_c)
        say(f"No climate would do it: not even {top} from now on, where more warmth earns no more.")
        return
    say(
        f"A room kept at {words.temp(air.temp_c)} from now on would do it: its air, now {now}, is "
        f"then at {percent(air.rh_frac)}."
    )
    for caution in found.cautions:
        say(f"- {caution}")
