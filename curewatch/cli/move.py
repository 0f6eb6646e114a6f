"""Say that one or several pieces hang in another room, or void such an entry.

Several tags at once are one entry: all of them are stored or none. What is joined to a piece goes
with it. A piece that left the shop is
brought back by moving it into a room.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.cli.bench import bench
from curewatch.cli.entry import (
    all_or_none,
    at_argument,
    known_room,
    past_ms,
    pieces_named,
    refuse_options,
    void,
)
from curewatch.cli.joined import alone_from_whole, with_parts
from curewatch.cli.show import print_json, say
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
    from_whole = alone_from_whole(at, tags, at_ms)
    if from_whole is not None:
        part, whole = from_whole
        raise BadInput(
            f"{part} is joined to {whole}: move {whole}, and {part} goes with it; or say that it "
            f"came off: curewatch piece unjoin {part} --why ..."
        )
    with all_or_none(at, tags):
        pieces = with_parts(at, pieces_named(at, tags), at_ms)
        moving = [piece for piece in pieces if piece.room_at(at_ms) != room]
        ids = [at.store.pieces.move(piece.tag, room, at_ms, at.entered_ms) for piece in moving]
    there = [piece.tag for piece in pieces if piece not in moving]
    if args.json:
        rows = [
            _plain(piece, number, room, at_ms) for piece, number in zip(moving, ids, strict=True)
        ]
        print_json({"format": FORMAT, "moves": [*rows], "there_already": [*there]})
        return 0
    for piece, number in zip(moving, ids, strict=True):
        named = any(tag.lower() == piece.tag.lower() for tag in tags)
        joined = "" if named else " It is joined to what was named, and goes with it."
        say(_said(at, piece, number, room, at_ms) + joined)
    if there:
        when = at.words.at(at_ms, at.now_ms)
        say(f"{', '.join(there)}: in {room} {when} already; nothing was entered.")
    return 0


def _said(at: Bench, piece: Piece, number: int, room: str, at_ms: int) -> str:
    words, now_ms = at.words, at.now_ms
    before = piece.room_at(at_ms)
    since = f"{piece.tag}: in {room} from {words.at(at_ms, now_ms)} on (number {number})"
    since += f", before that in {before}." if before is not None else "."
    later = next((stay for stay in piece.stays if stay.start_ms > at_ms), None)
    if later is not None:
        since += f" From {words.at(later.start_ms, now_ms)} in {later.room}, as entered before."
    elif piece.left_ms is not None and piece.left_ms > at_ms:
        since += f" It left the shop {words.at(piece.left_ms, now_ms)}, as entered before."
    return since


def _plain(piece: Piece, number: int, room: str, at_ms: int) -> Plain:
    return {
        "piece": piece.tag,
        "id": number,
        "room": room,
        "from_room": piece.room_at(at_ms),
        "at": instant(at_ms),
    }
