"""Joining pieces, and taking them apart."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from curewatch.errors import BadInput
from curewatch.shop.joining import Joining

if TYPE_CHECKING:
    from curewatch.opened import Opened


@dataclass(frozen=True, slots=True)
class Joined:
    """A part joined onto a whole at `at_ms` [ms], the entry's number.

    `elsewhere` is the room the whole hangs in where the part is not entered there, else ''.
    """

    part: str
    onto: str
    at_ms: int
    number: int
    elsewhere: str = ""


def join(at: Opened, tag: str, onto: str, at_ms: int, *, note: str = "") -> Joined:
    """Store that one piece was joined onto another.

    Raises
    ------
    BadInput
        When one of them is not there or left before that, or they cannot be joined so.
    """
    part, whole = (at.store.pieces.load(one) for one in (tag, onto))
    for piece in (part, whole):
        if piece.left_ms is not None and piece.left_ms <= at_ms:
            raise BadInput(f"{piece.tag} left the shop before that: check the time or the tag")
    number = at.store.joinings.join(Joining(part.tag, whole.tag, at_ms, note), at.entered_ms)
    there, here = whole.room_at(at_ms), part.room_at(at_ms)
    elsewhere = there if there is not None and there != here else ""
    return Joined(part.tag, whole.tag, at_ms, number, elsewhere)


def unjoin(at: Opened, tag: str, why: str) -> Joining:
    """Store that a joining does not hold, a mistake or the part came off; return it.

    Raises
    ------
    BadInput
        When there is no such piece, it is joined to nothing, or no reason is given.
    """
    part = at.store.pieces.load(tag)
    return at.store.joinings.unjoin(part.tag, why, at.entered_ms)
