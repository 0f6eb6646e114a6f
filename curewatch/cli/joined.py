"""Joining pieces, taking them apart, and what goes along with a whole."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.cli.bench import bench
from curewatch.cli.entry import past_ms
from curewatch.cli.show import print_json, say
from curewatch.errors import BadInput
from curewatch.shop.joining import Joining
from curewatch.shop.plain import FORMAT, instant

if TYPE_CHECKING:
    import argparse


def join(args: argparse.Namespace) -> int:
    """Enter that one piece was joined onto another."""
    with bench(args) as at:
        part, onto = (at.store.pieces.load(tag) for tag in (args.tag, args.onto))
        at_ms = past_ms(at, args.at)
        for piece in (part, onto):
            if piece.left_ms is not None and piece.left_ms <= at_ms:
                raise BadInput(f"{piece.tag} left the shop before that: check the time or the tag")
        number = at.store.joinings.join(
            Joining(part.tag, onto.tag, at_ms, args.note), at.entered_ms
        )
        if args.json:
            told = {"part": part.tag, "onto": onto.tag, "at": instant(at_ms), "id": number}
            print_json({"format": FORMAT, **told})
            return 0
        when = at.words.at(at_ms, at.now_ms)
        say(f"{part.tag}: joined to {onto.tag} {when} (number {number}).")
        say(
            f"Both keep their coats and clocks; {onto.tag} is ready when both are, and a move of "
            f"{onto.tag} moves {part.tag}."
        )
        rooms = part.room_at(at_ms), onto.room_at(at_ms)
        if rooms[0] != rooms[1] and rooms[1] is not None:
            say(f"{part.tag} is not entered in {rooms[1]} yet: curewatch move {onto.tag} ROOM")
    return 0


def unjoin(args: argparse.Namespace) -> int:
    """Enter that a joining does not hold: it was a mistake, or the part came off."""
    with bench(args) as at:
        part = at.store.pieces.load(args.tag)
        undone = at.store.joinings.unjoin(part.tag, args.why, at.entered_ms)
        if args.json:
            print_json({"format": FORMAT, "part": part.tag, "from": undone.onto, "why": args.why})
        else:
            say(f"{part.tag} is no longer joined to {undone.onto}: {args.why}")
    return 0
