"""Judging a piece by the newest profile of its finish, and what that changes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from curewatch.assembly import finish_text, stored_finish
from curewatch.finish_files import describe, load_text

if TYPE_CHECKING:
    from curewatch.finish_files import FigureRow
    from curewatch.opened import Opened
    from curewatch.settings import Settings
    from curewatch.shop.finish import Finish
    from curewatch.shop.piece import Piece
    from curewatch.storage import Store

USUAL_WHY = "to the newest profile on the shelf"
Change = tuple[str, str, str]  # what differs, before, after


@dataclass(frozen=True, slots=True)
class Rejudged:
    """A piece's revisions before and now, equal where it was judged by the newest already.

    `number` is the entry's, 0 where nothing was entered.
    """

    tag: str
    before: Finish
    after: Finish
    number: int = 0


def rejudge(at: Opened, tag: str, why: str) -> Rejudged:
    """Store that a piece is judged by the newest profile of its finish.

    Raises
    ------
    BadInput
        When there is no such piece, its finish is on no shelf any more, or no reason is given.
    """
    piece = at.store.pieces.load(tag)
    text = finish_text(at.settings, piece.finish)
    before = stored_finish(at.store, piece.finish, piece.finish_revision)
    number = 0
    with at.store.db.transaction():
        newest = at.store.finishes.keep(piece.finish, text, at.entered_ms)
        if newest != piece.finish_revision:
            number = at.store.pieces.rejudge(piece.tag, newest, why, at.entered_ms)
    after = load_text(text, source=piece.finish, revision=newest)
    return Rejudged(piece.tag, before, after, number)


def newer_profile(settings: Settings, store: Store, piece: Piece) -> Finish | None:
    """Return the profile that re-judging would judge a piece by; None where that changes nothing.

    Raises
    ------
    BadInput
        When its finish is on no shelf any more.
    """
    text = finish_text(settings, piece.finish)
    latest = store.finishes.latest(piece.finish)
    if latest is None or (latest[0] == piece.finish_revision and latest[1] == text):
        return None
    return load_text(text, source=piece.finish, revision=latest[0] + (latest[1] != text))


def changed(before: Finish, after: Finish) -> list[Change]:
    """Return what differs between two revisions."""
    old, new = ({row.key: row for row in describe(finish)} for finish in (before, after))
    rows = [
        (key, _figure(old.get(key)), _figure(new.get(key)))
        for key in dict.fromkeys([*old, *new])
        if old.get(key) != new.get(key)
    ]
    rows += [
        (name, "as it was", "reworded" if name != "tried" else str(after.tried))
        for name in ("title", "summary", "missed_window", "safety", "tried")
        if getattr(before, name) != getattr(after, name)
    ]
    return rows


def _figure(row: FigureRow | None) -> str:
    if row is None:
        return "not given"
    ends = "" if row.low is None or row.high is None else f" ({row.low:g} to {row.high:g})"
    return f"{row.value:g} {row.unit}".strip() + f"{ends}, {row.standing}"
