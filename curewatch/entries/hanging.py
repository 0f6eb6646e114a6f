"""Hanging new pieces and saying how many coats they are to get."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from curewatch.assembly import finish_text
from curewatch.entries.times import all_or_none
from curewatch.errors import BadInput
from curewatch.finish_files import load_text
from curewatch.named import known_room, pieces_named

if TYPE_CHECKING:
    from collections.abc import Sequence

    from curewatch.opened import Opened
    from curewatch.shop.finish import Finish
    from curewatch.shop.piece import Piece

RESERVED_TAGS = ("void", "list", "new")  # words of the commands that take tags, and of the page


@dataclass(frozen=True, slots=True)
class NewPiece:
    """What is told of pieces that are hung: finish, title, room (if told), coats (if told)."""

    finish: str
    at_ms: int
    title: str = ""
    room: str | None = None
    coats: int | None = None


def hang(at: Opened, tags: Sequence[str], new: NewPiece) -> Finish:
    """Store new pieces, all or none; return the profile they are judged by.

    Raises
    ------
    BadInput
        When a tag cannot be one or is taken, or there is no such room or finish.
    """
    check_tags(tags)
    room = None if new.room is None else known_room(at.settings, new.room)
    text = finish_text(at.settings, new.finish)
    with all_or_none(at, tags):
        revision = at.store.finishes.keep(new.finish, text, at.entered_ms)
        for tag in tags:
            at.store.pieces.hang(
                tag,
                new.finish,
                revision,
                title=new.title,
                at_ms=new.at_ms,
                entered_ms=at.entered_ms,
                room=room,
                planned_coats=new.coats,
            )
    return load_text(text, source=new.finish, revision=revision)


def check_tags(tags: Sequence[str]) -> None:
    """Refuse tags that mean something else where pieces are named."""
    for tag in tags:
        if tag.lower() in RESERVED_TAGS:
            raise BadInput(
                f"'{tag}' cannot be a tag: it is a word of the commands; choose another tag"
            )


def plan_coats(at: Opened, tag: str, coats: int) -> tuple[Piece, int]:
    """Store how many coats a piece is to get; return it as it was, and the entry's number."""
    (piece,) = pieces_named(at, [tag])
    return piece, at.store.pieces.plan_coats(piece.tag, coats, at.entered_ms)


def coating_is_done(at: Opened, tag: str) -> tuple[Piece, int]:
    """Store that a piece gets no more coats; return it as it was, and the entry's number.

    Raises
    ------
    BadInput
        When it has none yet.
    """
    (piece,) = pieces_named(at, [tag])
    if not piece.coats:
        raise BadInput(
            f"no coat is logged on {piece.tag}: log its coats first: curewatch coat {piece.tag}"
        )
    return piece, at.store.pieces.plan_coats(piece.tag, len(piece.coats), at.entered_ms)


def plan_sentence(piece: Piece, planned: int) -> str:
    """Say what a number of coats makes of a piece, and what it turns round."""
    laid, before = len(piece.coats), piece.planned_coats
    was_done = before is not None and laid >= before
    counted = f"{laid} coat" + ("s" if laid != 1 else "")
    if laid < planned:
        again = "coating is open again, and sanding and buffing wait: " if was_done else ""
        return f"{again}{laid} of {planned} coats are on."
    over = laid - planned
    more = "" if not over else f", {over} more than planned now"
    if was_done:
        return f"coating stays done with {counted}{more}."
    return f"coating done with {counted}{more}; from here it waits for sanding and buffing."
