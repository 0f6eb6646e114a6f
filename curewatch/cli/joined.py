"""Joining pieces, taking them apart, and what goes along with a whole."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.cli.bench import bench
from curewatch.cli.entry import past_ms
from curewatch.cli.show import print_json, say
from curewatch.entries import joining
from curewatch.shop.plain import FORMAT, instant

if TYPE_CHECKING:
    import argparse


def join(args: argparse.Namespace) -> int:
    """Enter that one piece was joined onto another."""
    with bench(args) as at:
        at_ms = past_ms(at, args.at)
        joined = joining.join(at, args.tag, args.onto, at_ms, note=args.note)
        part, onto, number = joined.part, joined.onto, joined.number
        if args.json:
            told = {"part": part, "onto": onto, "at": instant(at_ms), "id": number}
            print_json({"format": FORMAT, **told})
            return 0
        when = at.words.at(at_ms, at.now_ms)
        say(f"{part}: joined to {onto} {when} (number {number}).")
        say(
            f"Both keep their coats and clocks; {onto} is ready when both are, and a move of "
            f"{onto} moves {part}."
        )
        if joined.elsewhere:
            say(f"{part} is not entered in {joined.elsewhere} yet: curewatch move {onto} ROOM")
    return 0


def unjoin(args: argparse.Namespace) -> int:
    """Enter that a joining does not hold: it was a mistake, or the part came off."""
    with bench(args) as at:
        undone = joining.unjoin(at, args.tag, args.why)
        if args.json:
            told = {"part": undone.part, "from": undone.onto, "why": args.why}
            print_json({"format": FORMAT, **told})
        else:
            say(f"{undone.part} is no longer joined to {undone.onto}: {args.why}")
    return 0
