"""What people name, rooms and pieces: found, or explained with what may have been meant."""

from __future__ import annotations

from difflib import get_close_matches
from typing import TYPE_CHECKING

from curewatch.errors import BadInput

if TYPE_CHECKING:
    from collections.abc import Sequence

    from curewatch.opened import Opened
    from curewatch.settings import Settings
    from curewatch.shop.piece import Piece


def known_room(settings: Settings, name: str) -> str:
    """Return the name of a configured room.

    Raises
    ------
    BadInput
        When there is none of that name; the nearest and all others are named.
    """
    rooms = [table.name for table in settings.room]
    if name in rooms:
        return name
    if not rooms:
        raise BadInput(
            f"there is no room '{name}': none is configured; add a [[room]] to the configuration"
        )
    near = get_close_matches(name.lower(), [room.lower() for room in rooms], n=1)
    meant = [room for room in rooms if near and room.lower() == near[0]]
    hint = f"did you mean {meant[0]}? " if meant else ""
    raise BadInput(f"there is no room '{name}': {hint}Configured are {', '.join(rooms)}")


def pieces_named(
    opened: Opened, tags: Sequence[str], *, hanging_at_ms: int | None = None
) -> list[Piece]:
    """Return the pieces with `tags`, each once.

    With `hanging_at_ms` [ms] they must not have left the shop by then.
    """
    pieces: list[Piece] = []
    for tag in tags:
        piece = opened.store.pieces.load(tag)
        if any(piece.tag == other.tag for other in pieces):
            raise BadInput(f"{piece.tag} is named twice: name each piece once")
        if hanging_at_ms is not None and piece.left_ms is not None:
            _check_here(opened, piece, piece.left_ms, hanging_at_ms)
        pieces.append(piece)
    return pieces


def _check_here(opened: Opened, piece: Piece, left_ms: int, at_ms: int) -> None:
    if at_ms >= left_ms:
        raise BadInput(
            f"{piece.tag} left the shop {opened.words.at(left_ms, opened.now_ms)}: if it is back, "
            f"say so first: curewatch move {piece.tag} ROOM"
        )
