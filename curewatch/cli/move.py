"""Say that one or several pieces hang in another room, or void such an entry.

Several tags at once are one entry: all of them are stored or none. What is joined to a piece goes
with it. A piece that left the shop is
brought back by moving it into a room.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.cli.bench import bench
from curewatch.cli.entry import (
    at_argument,
    known_room,
    past_ms,
    refuse_options,
    void,
)
from curewatch.cli.show import print_json, say
from curewatch.entries.moves import move, moved_said
from curewatch.errors import BadInput
from curewatch.shop.plain import FORMAT, instant

if TYPE_CHECKING:
    import argparse
    from collections.abc import Sequence

    from curewatch.cli.bench import Bench
    from curewatch.shop.piece import Piece
    from curewatch.shop.plain import Plain

USAGE = """curewatch move TAG [TAG ...] ROOM [--at TIME]
       curewatch move void NUMBER --why TEXT"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add the tags, the room, and when it was."""
    parser.usage = USAGE
    parser.add_argument("words", nargs="+", metavar="TAG ROOM", help="pieces, then the room")
    at_argument(parser)
    parser.add_argument("--why", metavar="TEXT", help="why the entry is voided")


def run(args: argparse.Namespace) -> int:
    """Move or void."""
    *tags, last = args.words
    if args.words[0].lower() == "void":
        refuse_options(args, "move void", "at")
        if len(args.words) != 2:  # noqa: PLR2004 - the word and the number
            raise BadInput("'move void' takes one number")
        with bench(args) as at:
            return void(at, args, "move", last)
    refuse_options(args, "move TAG ROOM", "why")
    if not tags:
        raise BadInput(f"which piece, and where to? Write 'curewatch move {last} ROOM'")
    with bench(args) as at:
        return _move(at, args, tags, known_room(at.settings, last))


def _move(at: Bench, args: argparse.Namespace, tags: Sequence[str], room: str) -> int:
    at_ms = past_ms(at, args.at)
    moved = move(at, tags, room, at_ms)
    if args.json:
        rows = [_plain(piece, number, room, at_ms) for piece, number in moved.moving]
        print_json({"format": FORMAT, "moves": [*rows], "there_already": [*moved.there]})
        return 0
    for piece, number in moved.moving:
        named = any(tag.lower() == piece.tag.lower() for tag in tags)
        joined = "" if named else " It is joined to what was named, and goes with it."
        say(moved_said(at, moved, piece, number) + joined)
    if moved.there:
        when = at.words.at(at_ms, at.now_ms)
        say(f"{', '.join(moved.there)}: in {room} {when} already; nothing was entered.")
    return 0


def _plain(piece: Piece, number: int, room: str, at_ms: int) -> Plain:
    return {
        "piece": piece.tag,
        "id": number,
        "room": room,
        "from_room": piece.room_at(at_ms),
        "at": instant(at_ms),
    }
