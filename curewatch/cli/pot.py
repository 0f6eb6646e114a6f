"""Mixed pots: enter one, list the open ones, show how long one lives and what it was used on.

A pot's life runs by the climate of the room it stands in: warmth shortens it, cold never lengthens
it past the sheet. Shares are parts to a hundred of the finish, as the data sheet counts them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.assembly import stored_finish
from curewatch.cli.bench import bench
from curewatch.cli.entry import Forms, at_argument, past_ms
from curewatch.cli.figures import add_figure, really_argument
from curewatch.cli.show import print_json, say, table
from curewatch.entries import pots
from curewatch.entries.holds import pot_held
from curewatch.entries.lots import lot_said
from curewatch.shop.batch import pot_open
from curewatch.shop.plain import FORMAT, instant
from curewatch.shop.quarantine import aside_said
from curewatch.shop.typed import PART
from curewatch.shop.words import listed

if TYPE_CHECKING:
    import argparse

    from curewatch.cli.bench import Bench
    from curewatch.shop.batch import Batch, PotLife
    from curewatch.shop.plain import PlainValue


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add the forms."""
    forms = Forms(parser)
    mix = forms.add("mix", _mix, "enter a pot just mixed")
    mix.add_argument("name", metavar="NAME", help="what you write on the pot")
    mix.add_argument("--finish", required=True, metavar="NAME", help="its finish profile")
    mix.add_argument("--lot", required=True, metavar="LOT", help="lot number on the can")
    mix.add_argument("--room", metavar="ROOM", help="where the pot stands")
    for part, what in (
        ("crosslinker", "crosslinker, catalyst, hardener or drier"),
        ("reducer", "reducer or thinner"),
        ("retarder", "retarder"),
    ):
        add_figure(mix, f"--{part}-pct", PART, of=f"{what}, parts to a hundred")
    really_argument(mix)
    mix.add_argument("--crosslinker-lot", default="", metavar="LOT", help="its own lot")
    mix.add_argument("--thinner", default="", metavar="NAME", help="which thinner")
    mix.add_argument("--tint", default="", metavar="TEXT", help="which tint, and how much")
    mix.add_argument("--note", default="", metavar="TEXT", help="your own words")
    mix.add_argument("--who", default="", metavar="NAME", help="who mixed it")
    at_argument(mix)
    found = forms.add("list", _list, "the open pots and how long they live")
    found.add_argument("--all", action="store_true", help="those of the last week as well")
    _name(forms.add("show", _show, "one pot: its life, its parts, the pieces sprayed from it"))
    gone = forms.add("gone", _gone, "it is used up or thrown away")
    _name(gone)
    at_argument(gone)
    back = forms.add("back", _back, "it is not gone after all")
    _name(back)
    back.add_argument("--why", required=True, metavar="TEXT", help="what was wrong with that")
    void = forms.add("void", _void, "it was entered by mistake")
    _name(void)
    void.add_argument("--why", required=True, metavar="TEXT", help="what was wrong with it")


def _name(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("name", metavar="NAME")


def run(args: argparse.Namespace) -> int:
    """Carry out the form."""
    status: int = args.do(args)
    return status


def _mix(args: argparse.Namespace) -> int:
    with bench(args) as at:
        pot, finish = pots.mix(at, _new(args, past_ms(at, args.at)))
        life = pots.life_of(at, pot, finish)
        remarks = lot_said(at, pot)
        warned = [pots.NEVER_MORE, *pots.cautions(finish)]
        if args.json:
            told: list[PlainValue] = [*warned]
            print_json(
                {
                    "format": FORMAT,
                    **pots.pot_row(at, pot, life),
                    "remarks": [*remarks],
                    "safety": told,
                }
            )
            return 0
        say(f"Pot {pot.name}: {pots.mixed_said(at.words, at.now_ms, pot)}.")
        life_told = pots.life_said(at.words, at.now_ms, pot, life)
        for line in (*_aside(at, pot), life_told, *remarks):
            say(line)
        say(f"Log coats from it: curewatch coat TAG --pot {pot.name}")
        for line in warned:
            say(line)
    return 0


def _new(args: argparse.Namespace, at_ms: int) -> pots.NewPot:
    return pots.NewPot(
        name=args.name,
        finish=args.finish,
        lot=args.lot,
        at_ms=at_ms,
        room=args.room,
        crosslinker_pct=args.crosslinker_pct,
        crosslinker_lot=args.crosslinker_lot,
        reducer_pct=args.reducer_pct,
        retarder_pct=args.retarder_pct,
        thinner=args.thinner,
        tint=args.tint,
        note=args.note,
        who=args.who,
        really=args.really,
    )


def _list(args: argparse.Namespace) -> int:
    with bench(args) as at:
        lives = pots.lives(at)
        if not args.all:
            lives = [(pot, life) for pot, life in lives if pot_open(pot, life, at.now_ms)]
        if args.json:
            rows: list[PlainValue] = [pots.pot_row(at, pot, life) for pot, life in lives]
            print_json({"format": FORMAT, "pots": rows})
        elif not lives:
            say("No pot is open. Enter one: curewatch pot mix NAME --finish F --lot L")
        else:
            table(
                ["pot", "finish", "lot", "mixed", "ends, early", "stands in"],
                [_row(at, pot, life) for pot, life in lives],
            )
            for pot, _ in lives:
                for line in _aside(at, pot):
                    say(f"{pot.name}: {line}")
    return 0


def _aside(at: Bench, pot: Batch) -> list[str]:
    """Say that a pot, or a lot in it, is set aside; nothing where it is not."""
    why = pot_held(at, pot)
    return [] if why is None else [aside_said(why)]


def _row(at: Bench, pot: Batch, life: PotLife) -> tuple[str, ...]:
    words, now_ms = at.words, at.now_ms
    ends = "no life given"
    if pot.gone_ms is not None and pot.gone_ms <= now_ms:
        ends = f"gone {words.at(pot.gone_ms, now_ms)}"
    elif life.ends is not None and life.ends.early is not None:
        ends = ("over " if life.over else "") + words.at(life.ends.early, now_ms)
    if pot_held(at, pot) is not None:
        ends = f"set aside; {ends}"
    return (
        *(pot.name, pot.finish, pot.lot, words.at(pot.mixed_at_ms, now_ms), ends),
        pot.room or "not said",
    )


def _show(args: argparse.Namespace) -> int:
    with bench(args) as at:
        pot = at.store.batches.get(args.name)
        if args.json:
            print_json(pots.shown_plain(at, pot))
            return 0
        finish = stored_finish(at.store, pot.finish, pot.revision)
        life = pots.life_of(at, pot, finish)
        pieces = at.store.batches.pieces_of(pot.name)
        say(f"Pot {pot.name}: {pots.mixed_said(at.words, at.now_ms, pot)}.")
        life_told = pots.life_said(at.words, at.now_ms, pot, life)
        for line in (*_aside(at, pot), life_told, *lot_said(at, pot)):
            say(line)
        if pot.note:
            say(f"Note: {pot.note}")
        laid = sum(count for _, count in pieces)
        coats = "coat" if laid == 1 else "coats"
        on = f"{laid} {coats} laid from it, on {listed(tag for tag, _ in pieces)}."
        say(on if pieces else "No coat is logged from it.")
    return 0


def _gone(args: argparse.Namespace) -> int:
    with bench(args) as at:
        at_ms = past_ms(at, args.at)
        name = pots.gone(at, args.name, at_ms).name
        if args.json:
            print_json({"format": FORMAT, "pot": name, "gone_at": instant(at_ms)})
        else:
            say(f"Pot {name}: gone {at.words.at(at_ms, at.now_ms)}.")
    return 0


def _back(args: argparse.Namespace) -> int:
    with bench(args) as at:
        pot = pots.stands_again(at, args.name, args.why)
        if args.json:
            print_json({"format": FORMAT, "pot": pot.name, "gone_at": None, "why": args.why})
        else:
            say(f"Pot {pot.name} is not gone: {args.why}")
    return 0


def _void(args: argparse.Namespace) -> int:
    with bench(args) as at:
        pot, pieces = pots.void_pot(at, args.name, args.why)
        if args.json:
            told: dict[str, PlainValue] = {"what": "pot", "pot": pot.name, "why": args.why}
            print_json({"format": FORMAT, "voided": told})
            return 0
        say(f"Pot {pot.name} no longer counts: {args.why}")
        if pieces:
            say(f"Coats on {listed(pieces)} were logged from it: no pot is known of them now.")
    return 0
