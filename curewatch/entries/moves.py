"""Moving pieces, with what is joined to them, and taking them down."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from curewatch.entries.times import all_or_none
from curewatch.errors import BadInput
from curewatch.named import known_room, pieces_named
from curewatch.shop.joining import part_of, parts_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from curewatch.opened import Opened
    from curewatch.shop.piece import Piece


@dataclass(frozen=True, slots=True)
class Moved:
    """What a move came to.

    Attributes
    ----------
    room, at_ms: where to, and when [ms].
    moving: the pieces as they were, each with its entry's number.
    there: tags of those that were in the room already; nothing was entered of them.
    """

    room: str
    at_ms: int
    moving: tuple[tuple[Piece, int], ...]
    there: tuple[str, ...]


def move(at: Opened, tags: Sequence[str], room: str, at_ms: int) -> Moved:
    """Store that pieces, and what is joined to them, came into a room at `at_ms` [ms].

    Raises
    ------
    BadInput
        When there is no such room or piece, or a part is named without its whole.
    """
    room = known_room(at.settings, room)
    from_whole = _alone_from_whole(at, tags, at_ms)
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
    there = tuple(piece.tag for piece in pieces if piece not in moving)
    return Moved(room, at_ms, tuple(zip(moving, ids, strict=True)), there)


def moved_said(at: Opened, moved: Moved, piece: Piece, number: int) -> str:
    """Say where a moved piece is, where it was, and what was entered of the time after."""
    words, now_ms, at_ms = at.words, at.now_ms, moved.at_ms
    before = piece.room_at(at_ms)
    since = f"{piece.tag}: in {moved.room} from {words.at(at_ms, now_ms)} on (number {number})"
    since += f", before that in {before}." if before is not None else "."
    later = next((stay for stay in piece.stays if stay.start_ms > at_ms), None)
    if later is not None:
        since += f" From {words.at(later.start_ms, now_ms)} in {later.room}, as entered before."
    elif piece.left_ms is not None and piece.left_ms > at_ms:
        since += f" It left the shop {words.at(piece.left_ms, now_ms)}, as entered before."
    return since


def leave(at: Opened, tags: Sequence[str], at_ms: int) -> list[tuple[Piece, int]]:
    """Store that pieces, and what is joined to them, left the shop; return them and the numbers.

    Raises
    ------
    BadInput
        When a piece is not there, left before, or came into a room after that.
    """
    with all_or_none(at, tags):
        pieces = with_parts(at, pieces_named(at, tags, hanging_at_ms=at.now_ms), at.now_ms)
        ids = []
        for piece in pieces:
            ids.append(at.store.pieces.leave(piece.tag, at_ms, at.entered_ms))
            later = [stay for stay in piece.stays if stay.start_ms > at_ms]
            if later:
                raise BadInput(
                    f"{piece.tag} came into {later[-1].room} after that "
                    f"({at.words.at(later[-1].start_ms, at.now_ms)}): give a later time, or "
                    f"void that move: curewatch move void {later[-1].id} --why ..."
                )
    return list(zip(pieces, ids, strict=True))


def with_parts(at: Opened, pieces: Sequence[Piece], at_ms: int) -> list[Piece]:
    """Return pieces and everything joined to them at `at_ms` [ms], each once."""
    joinings = at.store.joinings.all()
    found = {piece.tag: piece for piece in pieces}
    for piece in pieces:
        for tag in parts_of(piece.tag, joinings, at_ms):
            if tag not in found:
                found[tag] = at.store.pieces.load(tag)
    return list(found.values())


def _alone_from_whole(at: Opened, tags: Sequence[str], at_ms: int) -> tuple[str, str] | None:
    """Return the first piece named without what it is joined onto, and that."""
    joinings = at.store.joinings.all()
    named = {tag.casefold() for tag in tags}
    for joining in joinings:
        if joining.part.casefold() in named:
            whole = part_of(joining.part, joinings, at_ms)
            if whole is not None and whole.casefold() not in named:
                return joining.part, whole
    return None
