"""Taking back what was just entered, whatever it was: undo instead of 'are you sure'.

What has a row of its own is voided. A release, a hold, a re-judging and a taking apart are undone
by entering their opposite, so that the record shows both.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Literal

from curewatch.entries.holds import release
from curewatch.entries.pots import stands_again, void_pot
from curewatch.entries.voids import NOUNS, What, void
from curewatch.errors import BadInput

if TYPE_CHECKING:
    from curewatch.opened import Opened

Kind = Literal[What, "pot", "gone", "piece", "hold", "release", "unjoin", "rejudge"]
Undo = tuple[Kind, int | str]  # the entry's number; of a pot or a piece its name


def take_back(at: Opened, undo: Undo, why: str, *, who: str) -> None:
    """Take one entry back.

    Raises
    ------
    BadInput
        When it is not there, was taken back already, or something else rests on it.
    """
    kind, of = undo
    if kind in NOUNS:
        void(at, kind, int(of), why)
        return
    match kind:
        case "pot":
            void_pot(at, str(of), why)
        case "gone":
            stands_again(at, str(of), why)
        case "piece":
            at.store.pieces.take_down(str(of), why, at.entered_ms)
        case "hold":
            release(at, int(of), why, who=who)
        case "release":
            _hold_again(at, int(of), why, who)
        case "unjoin":
            at.store.joinings.again(int(of), at.entered_ms)
        case "rejudge":
            tag, before = at.store.pieces.rejudged_from(int(of))
            at.store.pieces.rejudge(tag, before, why, at.entered_ms)


def _hold_again(at: Opened, number: int, why: str, who: str) -> None:
    """Enter a hold anew that was lifted by mistake, for its own reason."""
    found = next((hold for hold in at.store.quarantines.all() if hold.id == number), None)
    if found is None:
        raise BadInput(f"there is no hold with number {number}")
    again = replace(
        found,
        why=f"{found.why} ({why})",
        who=who,
        at_ms=at.now_ms,
        released_ms=None,
        released_why="",
        released_by="",
        id=0,
    )
    at.store.quarantines.hold(again, at.entered_ms)
