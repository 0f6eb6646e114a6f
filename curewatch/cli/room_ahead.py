"""What a room will do: what is planned for it, its likely climate, and what pieces earn in it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.assembly import finish_now
from curewatch.cli.bench import bench
from curewatch.cli.entry import known_room, stored_already
from curewatch.cli.figures import add_figure, really_argument
from curewatch.cli.room_outlook import day_plain, days_ahead, say_days
from curewatch.cli.show import print_json, say, table
from curewatch.entries.room_plans import Change, plan_room, take_back
from curewatch.errors import BadInput
from curewatch.shop.plain import FORMAT, instant
from curewatch.shop.standings_told import ahead_standings
from curewatch.shop.typed import AIR, HUMIDITY
from curewatch.shop.words import percent
from curewatch.times import AHEAD_FORMS

if TYPE_CHECKING:
    import argparse

    from curewatch.cli.bench import Bench
    from curewatch.shop.finish import Finish
    from curewatch.shop.plain import PlainValue
    from curewatch.shop.room_plan import RoomPlan
    from curewatch.shop.shop import Shop

CHANGES = ("temp_c", "rh_pct", "heating_off", "drifts_to_c", "at_least", "humidified")
TIMES = ("start", "stop")
OPTIONS = {"start": "--from", "stop": "--to"}


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add the change, its time, taking one back, and whose hours are asked for."""
    add_figure(parser, "--temp-c", AIR, of="will be kept at [degC]")
    parser.add_argument(
        "--at-least",
        action="store_const",
        const=True,
        help="--temp-c is where a heater holds it: a warmer room is not cooled",
    )
    add_figure(parser, "--rh-pct", HUMIDITY, of="will be kept from rising above [%%]")
    parser.add_argument(
        "--humidified",
        action="store_const",
        const=True,
        help="--rh-pct is kept from falling below too",
    )
    parser.add_argument(
        "--heating-off", action="store_const", const=True, help="the room is left to itself"
    )
    drifts = "towards this, unheated [degC] (default: the room's unheated_c)"
    add_figure(parser, "--drifts-to-c", AIR, of=drifts)
    really_argument(parser)
    parser.add_argument(
        "--from", dest="start", metavar="TIME", help=f"{AHEAD_FORMS} (default: now)"
    )
    parser.add_argument(
        "--to", dest="stop", metavar="TIME", help="the same (default: until further notice)"
    )
    parser.add_argument("--why", metavar="TEXT", help="what is done, or why it is taken back")
    parser.add_argument("--void", metavar="NUMBER", help="take the plan of that number back")
    parser.add_argument("--finish", metavar="NAME", help="tell the hours of this finish too")


def ahead(args: argparse.Namespace) -> int:
    """Enter a plan, take one back, or show what there is."""
    given = [name for name in (*CHANGES, *TIMES) if getattr(args, name) is not None]
    if args.void is not None and given:
        raise BadInput(f"--void takes a plan back: leave {_option(given[0])} out, or --void")
    with bench(args) as at:
        room = known_room(at.settings, args.room)
        finish = None if args.finish is None else finish_now(at.settings, at.store, args.finish)
        if args.void is not None:
            done = _take_back(at, args, room)
        elif any(name in CHANGES for name in given):
            done = _enter(at, args, room)
        elif given or args.why is not None:
            raise BadInput(
                f"what will {room} be like? Give --temp-c, --rh-pct or --heating-off with "
                f"{_option(given[0]) if given else '--why'}"
            )
        else:
            return _answer(at, args, room, finish, None)
        with stored_already("what you said"):
            return _answer(at, args, room, finish, done)


def _option(name: str) -> str:
    return OPTIONS.get(name, f"--{name.replace('_', '-')}")


def _take_back(at: Bench, args: argparse.Namespace, room: str) -> tuple[str, RoomPlan]:
    """Void a plan of the room."""
    shown = args.void.removeprefix("#")
    if not shown.isdecimal():
        raise BadInput(
            f"--void {args.void}: that is not the number of a plan; 'curewatch room ahead {room}' "
            "shows them"
        )
    return "voided", take_back(at, room, int(shown), args.why or "")


def _enter(at: Bench, args: argparse.Namespace, room: str) -> tuple[str, RoomPlan]:
    """Store what the room is said to be like."""
    change = Change(
        room=room,
        temp_c=args.temp_c,
        rh_frac=None if args.rh_pct is None else args.rh_pct / 100.0,
        at_least=bool(args.at_least),
        humidified=bool(args.humidified),
        heating_off=bool(args.heating_off),
        drifts_to_c=args.drifts_to_c,
        start=args.start,
        stop=args.stop,
        why=args.why or "",
        really=args.really,
    )
    return "entered", plan_room(at, change)


def _answer(
    at: Bench,
    args: argparse.Namespace,
    room: str,
    finish: Finish | None,
    done: tuple[str, RoomPlan] | None,
) -> int:
    """Say what was done, what is planned, and what follows."""
    shop = at.shop(rooms=[room])
    plans = [
        plan for plan in shop.plans.get(room, ()) if (plan.stop_ms or at.now_ms + 1) > at.now_ms
    ]
    finishes = _asked(shop, room, at.now_ms, finish)
    days = days_ahead(shop, room, finishes, at.now_ms)
    if args.json:
        answer: dict[str, PlainValue] = {"format": FORMAT, "room": room}
        if done is not None:
            answer[done[0]] = plan_plain(done[1])
        listed: list[PlainValue] = [plan_plain(plan) for plan in plans]
        told: list[PlainValue] = [day_plain(day) for day in days]
        print_json({**answer, "plans": listed, "ahead": told, "standing": ahead_standings()})
        return 0
    if done is not None:
        _say_done(at, room, plans, done)
    _say_plans(at, room, plans)
    say_days(at, room, days)
    return 0


def _asked(shop: Shop, room: str, now_ms: int, finish: Finish | None) -> list[Finish]:
    """Return the finishes of the pieces in the room, each once, and the one that was asked for."""
    here = [shop.finish_of(piece) for piece in shop.pieces_in(room, now_ms)]
    found = {(one.name, one.revision): one for one in [*here, *([finish] if finish else [])]}
    return [found[key] for key in sorted(found)]


def plan_plain(plan: RoomPlan) -> dict[str, PlainValue]:
    """Return a plan as plain data; a set-point from the configuration has no number."""
    return {
        "id": plan.id or None,
        "room": plan.room,
        "start": instant(plan.start_ms) if plan.id else None,
        "stop": instant(plan.stop_ms),
        "temp_c": plan.temp_c,
        "rh_pct": None if plan.rh_frac is None else plan.rh_frac * 100.0,
        "heating_off": plan.left_alone,
        "temp_at_least": plan.temp_at_least,
        "rh_at_most": plan.rh_at_most,
        "why": plan.why,
    }


def _say_done(at: Bench, room: str, plans: list[RoomPlan], done: tuple[str, RoomPlan]) -> None:
    kind, plan = done
    what = f"{_like(at, plan)}, {_when(at, plan)}"
    if kind == "voided":
        say(f"{room}: plan {plan.id} ({what}) no longer counts. It stays in the record.")
        return
    say(f"{room}: {what} (number {plan.id}).")
    over = [str(p.id) for p in plans if p.id and p.id != plan.id and _overlap(p, plan)]
    if over:
        say(f"Where they overlap it rules over plan {', '.join(over)}.")


def _overlap(one: RoomPlan, other: RoomPlan) -> bool:
    return (one.stop_ms is None or one.stop_ms > other.start_ms) and (
        other.stop_ms is None or other.stop_ms > one.start_ms
    )


def _like(at: Bench, plan: RoomPlan) -> str:
    parts = []
    if plan.temp_c is not None:
        held = "at least" if plan.temp_at_least else "kept at"
        drifts = "heating off, drifts to" if plan.left_alone else held
        parts.append(f"{drifts} {at.words.temp(plan.temp_c)}")
    if plan.rh_frac is not None:
        most = "at most " if plan.rh_at_most else ""
        parts.append(f"{most}{percent(plan.rh_frac)} humidity")
    return ", ".join(parts)


def _when(at: Bench, plan: RoomPlan) -> str:
    """Say when a plan holds."""
    begins = f"from {at.words.at(plan.start_ms, at.now_ms)}" if plan.id else "always"
    if plan.stop_ms is None:
        return f"{begins} until further notice" if plan.id else begins
    return f"{begins} to {at.words.at(plan.stop_ms, at.now_ms)}"


def _say_plans(at: Bench, room: str, plans: list[RoomPlan]) -> None:
    if not plans:
        say(f"Nothing is planned for {room}: it is taken to go on as in its last days.")
        return
    say(f"Planned for {room}; where two overlap the lower one rules:")
    table(
        ["number", "what", "when", "because"],
        [
            (str(plan.id) if plan.id else "-", _like(at, plan), _when(at, plan), plan.why)
            for plan in plans
        ],
    )
