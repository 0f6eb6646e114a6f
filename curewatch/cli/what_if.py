"""What another climate, a cabinet, a heater, a fan, another finish or fewer coats would change.

Every answer is a range over what is not known of the finish. The air as it is comes from ROOM, from
where --piece hangs, or from what you type; without any of them only the reference climate is
compared with. Heated air keeps its water, so it gets drier and the wood with it. Sun, a heat lamp
or a hair dryer warm a surface that no room sensor sees: without a surface probe on the piece they
are credited with nothing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.cli.bench import bench
from curewatch.cli.figures import add_figure, really_argument, whole
from curewatch.cli.show import print_json
from curewatch.cli.what_if_tell import tell_what_if
from curewatch.planning.what_if import changed, check_change, in_room, without_room
from curewatch.planning.wish import ChangeWish
from curewatch.settings import load_settings
from curewatch.shop.plain_what_if import what_if_plain
from curewatch.shop.typed import AIR, CABINET, HUMIDITY

if TYPE_CHECKING:
    import argparse

USAGE = """curewatch what-if [ROOM] [--finish NAME] [--piece TAG]
           [--from-temp-c T --from-rh-pct R]
           (--temp-c T | --rh-pct R | --temp-c T --rh-pct R | --cabinet-c T
            | --heater T --hours 8:00-18:00 | --fan | --lamp
            | --other-finish NAME --coats N | --fewer-coats N --coats N)
           [--really]"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add the room, the finish and the change."""
    parser.usage = USAGE
    parser.add_argument("room", nargs="?", metavar="ROOM", help="the room whose air is changed")
    parser.add_argument("--finish", metavar="NAME", help="whose clocks (with --piece: its own)")
    parser.add_argument("--piece", metavar="TAG", help="and what it does to this piece")
    for option, sort, of in (
        ("--from-temp-c", AIR, "air as it is [degC]"),
        ("--from-rh-pct", HUMIDITY, "its humidity [%%]"),
        ("--temp-c", AIR, "another temperature [degC]"),
        ("--rh-pct", HUMIDITY, "another humidity [%%]"),
        ("--cabinet-c", CABINET, "in a warm cabinet [degC]"),
        ("--heater", AIR, "a heater that keeps T [degC]"),
    ):
        add_figure(parser, option, sort, of=of, metavar="R" if sort is HUMIDITY else "T")
    parser.add_argument("--hours", metavar="H-H", help="when it is on, such as 8:00-18:00")
    parser.add_argument("--fan", action="store_true", default=None, help="a fan is on")
    parser.add_argument(
        "--lamp", action="store_true", default=None, help="sun, heat lamp, hair dryer or oven"
    )
    parser.add_argument("--other-finish", metavar="NAME", help="another finish instead")
    parser.add_argument("--fewer-coats", type=whole, metavar="N", help="so many coats fewer")
    really_argument(parser)
    parser.add_argument("--coats", type=whole, metavar="N", help="how many coats it is to get")


def run(args: argparse.Namespace) -> int:
    """Work it out and say it."""
    wish = ChangeWish(**{name: getattr(args, name) for name in ChangeWish.__dataclass_fields__})
    check_change(wish)
    if wish.room is None and wish.piece is None:
        scene = without_room(wish, load_settings(args.config))
        answer = changed(wish, scene)
    else:
        with bench(args) as at:  # a room's older hours are read when they are asked for
            scene = in_room(wish, at)
            answer = changed(wish, scene)
    if args.json:
        print_json(what_if_plain(answer))
    else:
        tell_what_if(answer, scene.words, now_ms=scene.now_ms)
    return 0
