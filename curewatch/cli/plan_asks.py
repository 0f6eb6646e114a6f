"""The options of the commands that plan coats, and what they ask with them."""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING

from curewatch.cli.bench import bench
from curewatch.planning import DEFAULT_COAT_MIN, PlanWish, planned
from curewatch.planning.asks import check_coats
from curewatch.planning.known import typed_climate
from curewatch.science.evaporation import AIR_SPEED_M_S
from curewatch.settings import load_settings
from curewatch.shop.clocks_ahead import LEVELS

if TYPE_CHECKING:
    import argparse
    from collections.abc import Iterator

    from curewatch.planning import Known
    from curewatch.shop.day_plan import Ask


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
        "--coat-min",
        type=float,
        default=DEFAULT_COAT_MIN,
        metavar="MIN",
        help="a coat on one piece (10)",
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
        fit_only=args.fit_only,
        sure=args.sure,
        mixed_at=getattr(args, "mixed_at", None),
    )
