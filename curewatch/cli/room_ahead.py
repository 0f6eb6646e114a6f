"""What a room will do: what is planned for it, its likely climate, and what pieces earn in it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from curewatch.assembly import finish_now
from curewatch.cli.bench import bench
from curewatch.cli.entry import known_room, stored_already
from curewatch.cli.room_outlook import day_plain, days_ahead, say_days
from curewatch.cli.show import print_json, say, table
from curewatch.errors import BadInput
from curewatch.shop.plain import FORMAT, instant
from curewatch.shop.room_plan import RoomPlan
from curewatch.shop.standings_told import ahead_standings
from curewatch.shop.words import percent
from curewatch.times import AHEAD_FORMS, ahead_ms

if TYPE_CHECKING:
    import argparse

    from curewatch.cli.bench import Bench
    from curewatch.shop.finish import Finish
    from curewatch.shop.plain import PlainValue
    from curewatch.shop.shop import Shop

CHANGES = ("temp_c", "rh_pct", "heating_off", "drifts_to_c")
TIMES = ("start", "stop")
OPTIONS = {"start": "--from", "stop": "--to"}


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add the change, its time, taking one back, and whose hours are asked for."""
    parser.add_argument("--temp-c", type=float, metavar="N", help="will be kept at [degC]")
    parser.add_argument("--rh-pct", type=float, metavar="N", help="will be kept at [%%]")
    parser.add_argument(
        "--heating-off", action="store_const", const=True, help="the room is left to itself"
    )
    parser.add_argument(
        "--drifts-to-c",
        type=float,
        metavar="N",
        help="towards this, unheated [degC] (default: the room's unheated_c)",
    )
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
    number = int(shown)
    known = {plan.id: plan for plan in at.store.room_plans.all()}
    if number in known and known[number].room != room:
        raise BadInput(
            f"plan {number} is one of {known[number].room}, not of {room}: nothing was changed"
        )
    at.store.room_plans.void(number, args.why or "", at.entered_ms)
    return "voided", known[number]


def _enter(at: Bench, args: argparse.Namespace, room: str) -> tuple[str, RoomPlan]:
    """Store what the room is said to be like."""
    plan = _planned(at, args, room)
    return "entered", replace(plan, id=at.store.room_plans.add(plan, at.entered_ms))


def _planned(at: Bench, args: argparse.Namespace, room: str) -> RoomPlan:
    """Return the plan that was typed.

    Raises
    ------
    BadInput
        Where its parts contradict each other, or it is over already.
    """
    start_ms, stop_ms = _stretch(at, args)
    return RoomPlan(
        room=room,
        start_ms=start_ms,
        stop_ms=stop_ms,
        temp_c=_drift_c(at, args, room) if args.heating_off else _kept_c(args),
        rh_frac=None if args.rh_pct is None else args.rh_pct / 100.0,
        left_alone=bool(args.heating_off),
        why=args.why or "",
    )


def _kept_c(args: argparse.Namespace) -> float | None:
    if args.drifts_to_c is not None:
        raise BadInput(
            "--drifts-to-c goes with --heating-off; a temperature that is kept is --temp-c"
        )
    kept: float | None = args.temp_c
    return kept


def _drift_c(at: Bench, args: argparse.Namespace, room: str) -> float:
    """Return the temperature an unheated room drifts to [degC]."""
    if args.temp_c is not None:
        raise BadInput(
            "--heating-off and --temp-c contradict each other: with the heating off the room "
            "drifts; say where to with --drifts-to-c"
        )
    drifts_to_c: float | None = args.drifts_to_c
    if drifts_to_c is None:
        drifts_to_c = at.settings.unheated_c(room)
    if drifts_to_c is None:
        raise BadInput(
            f"how cold does {room} become without heating? It is not known: give --drifts-to-c N "
            "(the outdoor temperature is on the safe side), or unheated_c in its [[room]]"
        )
    return drifts_to_c


def _stretch(at: Bench, args: argparse.Namespace) -> tuple[int, int | None]:
    """Return from when to when [ms]."""
    zone, now_ms = at.words.zone, at.now_ms
    start_ms = now_ms if args.start is None else ahead_ms(args.start, zone=zone, now_ms=now_ms)
    if args.stop is None:
        return start_ms, None
    stop_ms = ahead_ms(args.stop, zone=zone, now_ms=now_ms, after_ms=start_ms)
    if stop_ms <= start_ms:
        raise BadInput(
            f"--to {args.stop} ({at.words.at(stop_ms, now_ms)}) does not lie after --from "
            f"({at.words.at(start_ms, now_ms)}): check both times"
        )
    if stop_ms <= now_ms:
        raise BadInput(
            f"that was over {at.words.at(stop_ms, now_ms)}: a plan speaks of the time ahead; of "
            "what has been the readings tell, or 'curewatch room fill' in a gap"
        )
    return start_ms, stop_ms


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
        drifts = "heating off, drifts to" if plan.left_alone else "kept at"
        parts.append(f"{drifts} {at.words.temp(plan.temp_c)}")
    if plan.rh_frac is not None:
        parts.append(f"{percent(plan.rh_frac)} humidity")
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
