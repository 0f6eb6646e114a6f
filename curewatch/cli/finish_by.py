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
from curewatch.cli.figures import number
from curewatch.cli.plan import basis_plain
from curewatch.cli.plan_asks import asked, plan_arguments
from curewatch.cli.show import print_json, say
from curewatch.planning.asks import check_spare, deadline_of, worked_back
from curewatch.planning.said import ON_TOP, finish_by_said, finish_by_warnings
from curewatch.shop.finish_by import GOALS
from curewatch.shop.plain import FORMAT, instant
from curewatch.shop.plain_plan import caution_plain, finish_by_plain

if TYPE_CHECKING:
    import argparse

    from curewatch.planning import Known
    from curewatch.shop.day_plan import Ask
    from curewatch.shop.finish_by import Deadline, FinishBy


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add the date, what it asks for, and what a plan takes."""
    parser.add_argument("date", metavar="DATE", help="24.12.2026 or 2026-12-24, or a time")
    parser.add_argument("--for", choices=list(GOALS), default="buff", dest="goal", help="(buff)")
    parser.add_argument(
        "--spare-days", type=number, default=0.0, metavar="D", help="days kept free before DATE (0)"
    )
    plan_arguments(parser)


def run(args: argparse.Namespace) -> int:
    """Work back and say so."""
    check_spare(args.spare_days)
    with asked(args) as (known, ask):
        deadline = deadline_of(args.date, args.goal, args.spare_days, known=known, ask=ask)
        found = worked_back(known, ask, deadline)
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


def _tell(found: FinishBy, deadline: Deadline, goal: str, *, known: Known, ask: Ask) -> None:
    for line in finish_by_said(found, deadline, goal, known=known, ask=ask):
        say(line)
    for line in finish_by_warnings(found, known):
        say(f"- {line}")
    say()
    say(f"{known.basis} {known.doubt}")
    say(ON_TOP)
    say(SAFETY)
