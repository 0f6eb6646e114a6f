"""Is the air fit to spray a finish: the verdict, the limit that binds, and what would clear it.

With ROOM its newest climate is judged, with the bias of its own sensors, and the hours until the
last of --coats has flashed, by the room's own outlook; a climate too old decides nothing. What you
type stands in place of what was measured. Without ROOM give a temperature and --rh-pct; typed
values have no hours to come. The verdict is the worse of now and the hours ahead. Exit status: 0
fit, 10 fit with little to spare, 20 do not spray now, 30 cannot tell.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from curewatch.assembly import finish_now
from curewatch.cli.bench import bench
from curewatch.cli.check_input import MOST_COATS, typed_values, value_arguments
from curewatch.cli.check_tell import tell
from curewatch.cli.figures import whole
from curewatch.cli.show import print_json
from curewatch.cli.why import add_why, print_why
from curewatch.errors import BadInput
from curewatch.science.evaporation import AIR_SPEED_M_S
from curewatch.science.humid_air import pressure_at_altitude_pa
from curewatch.settings import load_settings
from curewatch.shop.plain_room_check import Place, place_plain
from curewatch.shop.spray import Conditions, Verdict, aged
from curewatch.shop.spray_answer import Job, room_answer, typed_answer
from curewatch.shop.spray_here import conditions_of, heard_at
from curewatch.shop.spray_sources import with_sources
from curewatch.shop.thinners import THINNERS, thinner_named
from curewatch.shop.unmeasured import not_measured

if TYPE_CHECKING:
    import argparse

    from curewatch.shop.spray_answer import SprayAnswer
    from curewatch.shop.thinners import Thinner

EXIT = {Verdict.FIT: 0, Verdict.TIGHT: 10, Verdict.WAIT: 20, Verdict.UNKNOWN: 30}
FIELD = {"temp_c": "temp_c", "rh_pct": "rh_frac", "surface_c": "surface_c", "liquid_c": "liquid_c"}
AIR_VALUES = ("temp_c", "rh_pct")


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add the room, the finish and what was measured by hand."""
    parser.add_argument("room", nargs="?", metavar="ROOM", help="the room whose air is judged")
    parser.add_argument("--finish", required=True, metavar="NAME", help="what is to be sprayed")
    value_arguments(parser)
    add_why(parser)
    parser.add_argument("--air", choices=list(AIR_SPEED_M_S), help="how the air moves")
    parser.add_argument(
        "--thinner",
        metavar="NAME",
        help=f"what a lacquer is thinned with: {', '.join(THINNERS)} (default: the usual one)",
    )
    parser.add_argument(
        "--coats",
        type=whole,
        default=1,
        metavar="N",
        help="how many coats are planned (default: 1)",
    )


def run(args: argparse.Namespace) -> int:
    """Judge, say so, and return the verdict's exit status."""
    typed = typed_values(args)
    if not 1 <= args.coats <= MOST_COATS:
        raise BadInput(f"--coats {args.coats} cannot be: give 1 to {MOST_COATS} in one go")
    thinner = None if args.thinner is None else thinner_named(args.thinner)
    if args.room is None:
        place, answer = _typed(args, typed, thinner)
    else:
        place, answer = _in_room(args, typed, thinner)
    if args.json:
        print_json(place_plain(answer, place))
    else:
        tell(answer, place)
        if args.why:
            print_why(with_sources(place_plain(answer, place), answer))
    return EXIT[answer.verdict]


def _laid_over(here: Conditions, typed: dict[str, float], air: str | None) -> Conditions:
    values = {FIELD[name]: value for name, value in typed.items()}
    if "rh_frac" in values:
        values["rh_frac"] /= 100.0
    if air is not None:
        values["air_speed_m_s"] = AIR_SPEED_M_S[air]
    return replace(here, **values)  # type: ignore[arg-type]  # every one of them is a float


def _typed(
    args: argparse.Namespace, typed: dict[str, float], thinner: Thinner | None
) -> tuple[Place, SprayAnswer]:
    """Judge typed values alone; no database is needed."""
    if not set(AIR_VALUES) <= set(typed):
        raise BadInput("name a ROOM, or give both --temp-c and --rh-pct")
    settings = load_settings(args.config)
    pressure_pa = float(pressure_at_altitude_pa(settings.site.altitude_m))
    here = _laid_over(Conditions(None, None, pressure_pa=pressure_pa), typed, args.air)
    job = Job(finish_now(settings, None, args.finish), thinner, args.coats)
    words = settings.words()
    return Place(here, words, tuple(typed)), typed_answer(job, here, words)


def _in_room(
    args: argparse.Namespace, typed: dict[str, float], thinner: Thinner | None
) -> tuple[Place, SprayAnswer]:
    """Judge a room's newest climate and, unless its air was typed over, the hours ahead."""
    with bench(args) as opened:
        known = opened.settings.rooms()
        if args.room not in known:
            named = ", ".join(known) or "none is configured"
            raise BadInput(f"there is no room '{args.room}' in the configuration: {named}")
        job = Job(finish_now(opened.settings, opened.store, args.finish), thinner, args.coats)
        shop = opened.shop(tags=(), rooms=[args.room])
        climate, fresh = heard_at(shop, args.room, opened.now_ms)
        measured = conditions_of(shop, args.room, climate if fresh else None)
        if climate is not None and fresh and not set(AIR_VALUES) <= set(typed):
            measured = aged(measured, (opened.now_ms - climate.at_ms) / 1000.0)
        here = _laid_over(measured, typed, args.air)
        place = Place(
            here=here,
            words=opened.words,
            typed=tuple(typed),
            room=args.room,
            at_ms=None if climate is None else climate.at_ms,
            now_ms=opened.now_ms,
            fresh=fresh,
            clock_note=opened.clock_note,
            unmeasured=not_measured(shop, args.room, opened.now_ms),
        )
        if any(name in typed for name in AIR_VALUES):
            return place, typed_answer(job, here, opened.words)
        besides = here if typed or args.air is not None else None
        return place, room_answer(shop, args.room, job, now_ms=opened.now_ms, here=besides)
