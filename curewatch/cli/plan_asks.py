"""The options of the commands that plan coats, and what they ask with them."""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING

from curewatch.cli.bench import bench
from curewatch.cli.figures import add_figure, number, really_argument, whole
from curewatch.planning import DEFAULT_COAT_MIN, PlanWish, planned
from curewatch.planning.asks import check_coats
from curewatch.planning.known import typed_climate
from curewatch.science.evaporation import AIR_SPEED_M_S
from curewatch.settings import load_settings
from curewatch.shop.clocks_ahead import LEVELS
from curewatch.shop.typed import AIR, HUMIDITY
from curewatch.times import AHEAD_FORMS

if TYPE_CHECKING:
    import argparse
    from collections.abc import Iterator

    from curewatch.planning import Known
    from curewatch.shop.day_plan import Ask


def plan_arguments(parser: argparse.ArgumentParser) -> None:
    """Add what both forms of planning take."""
    parser.add_argument("--finish", required=True, metavar="NAME", help="what is to be sprayed")
    parser.add_argument(
        "--coats", required=True, type=whole, metavar="N", help="how many more on every piece"
    )
    parser.add_argument(
        "--pieces", metavar="TAG,...", help="pieces, in the order they are sprayed; one gun"
    )
    parser.add_argument("--room", metavar="ROOM", help="where they will hang (default: as now)")
    add_figure(parser, "--temp-c", AIR, of="a room kept so [degC]", metavar="T")
    add_figure(parser, "--rh-pct", HUMIDITY, of="with this humidity [%%]", metavar="R")
    really_argument(parser)
    parser.add_argument("--air", choices=list(AIR_SPEED_M_S), help="how its air moves")
    parser.add_argument("--start", metavar="TIME", help=f"not before: {AHEAD_FORMS}")
    parser.add_argument(
        "--day",
        metavar="HOURS",
        help="coats are laid in these hours alone (8:00-18:00); always: round the clock",
    )
    _work_arguments(parser)


def _work_arguments(parser: argparse.ArgumentParser) -> None:
    """Add how one works at the gun, and how sure a plan must be."""
    parser.add_argument(
        "--coat-min",
        type=number,
        default=DEFAULT_COAT_MIN,
        metavar="MIN",
        help="a coat on one piece (10)",
    )
    parser.add_argument(
        "--clean-min", type=number, default=0.0, metavar="MIN", help="cleaning after each round (0)"
    )
    parser.add_argument("--wet-um", type=number, metavar="UM", help="wet film (default: the usual)")
    parser.add_argument("--per-day", type=whole, metavar="N", help="most coats on a piece in a day")
    parser.add_argument(
        "--scuff", action="store_true", help="scuff and coat on where a window has closed"
    )
    parser.add_argument(
        "--unfit-too",
        action="store_true",
        help="plan by the clock alone: starts in a room that is likely not fit to spray, or turns "
        "before the coat is dry, are marked",
    )
    parser.add_argument(
        "--sure",
        type=whole,
        choices=LEVELS,
        default=LEVELS[-1],
        help="how sure, in a hundred, what opens must be open (90); what closes is always taken at "
        "its early end",
    )


@contextmanager
def asked(args: argparse.Namespace) -> Iterator[tuple[Known, Ask]]:
    """Gather what a plan needs; storage is only opened where a room or a piece has a say."""
    wish = _wish(args)
    check_coats(wish)
    if typed_climate(wish) is not None and wish.pieces is None:
        yield planned(wish, load_settings(args.config), None)
        return
    with bench(args) as opened:
        yield planned(wish, opened.settings, opened)


def _wish(args: argparse.Namespace) -> PlanWish:
    return PlanWish(
        finish=args.finish,
        coats=args.coats,
        pieces=args.pieces,
        room=args.room,
        temp_c=args.temp_c,
        rh_pct=args.rh_pct,
        air=args.air,
        start=args.start,
        day=args.day,
        coat_min=args.coat_min,
        clean_min=args.clean_min,
        wet_um=args.wet_um,
        per_day=args.per_day,
        scuff=args.scuff,
        unfit_too=args.unfit_too,
        sure=args.sure,
        mixed_at=getattr(args, "mixed_at", None),
        really=args.really,
    )
