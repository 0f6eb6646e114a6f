"""What a form about pieces says, read field by field, with every fault at its field."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from curewatch.entries.times import past_ms
from curewatch.errors import BadInput
from curewatch.shop.words import UM_PER_MIL, listed
from curewatch.web.plainly import without_commands
from curewatch.web.speech import say

if TYPE_CHECKING:
    from collections.abc import Iterable

    from curewatch.entries.undo import Undo
    from curewatch.entries.voids import What
    from curewatch.opened import Opened
    from curewatch.shop.piece import Piece
    from curewatch.shop.words import Words
    from curewatch.web.desk import Counter
    from curewatch.web.forms import Typed

MINUTE_MS = 60_000
MOST = 2**53  # the largest number that means the same everywhere
MEANT = "meant"  # the box that insists on a number; another one says that a coat was not told twice
EARLIER_MIN = (0, 10, 30, 60)
_WET = re.compile(r"(\d+(?:[.,]\d+)?)\s*(mil|mils|um|µm|μm|)", re.IGNORECASE)


class Faulty(BadInput):
    """Something that was typed cannot be read; the faults stand at their fields."""


@dataclass(frozen=True, slots=True)
class Entry:
    """What is entered: what was typed, of which pieces, by whom; `counter` is the daemon's."""

    typed: Typed
    tags: tuple[str, ...]
    who: str
    counter: Counter

    @property
    def only(self) -> str:
        """The piece, where what is entered can be of one alone."""
        if len(self.tags) != 1:
            raise BadInput(say("log.one_alone"))
        return self.tags[0]

    @property
    def by(self) -> str:
        """Who did it: as typed, else the visitor."""
        return self.typed.text("who") or self.who


def when_ms(entry: Entry, at: Opened) -> int:
    """Return when it was [ms]: what was typed, else so many minutes ago."""
    typed = entry.typed
    said = typed.text("at")
    if said is None:
        ago = typed.text("ago") or "0"
        minutes = int(ago) if ago.isdecimal() and int(ago) in EARLIER_MIN else 0
        return at.now_ms - minutes * MINUTE_MS
    try:
        return past_ms(at, said)
    except BadInput as error:
        typed.faults["at"] = without_commands(str(error).removeprefix("--at ").strip())
        raise Faulty(str(error)) from error


def wet_um_of(typed: Typed, words: Words) -> float | None:
    """Return the wet film [um]; a bare number is in the shop's unit."""
    said = typed.text("wet")
    if said is None:
        return None
    found = _WET.fullmatch(said)
    if found is None:
        typed.faults["wet"] = say("log.no_film", said=said)
        return None
    in_mil = found[2].lower().startswith("mil") if found[2] else words.imperial
    return float(found[1].replace(",", ".")) * (UM_PER_MIL if in_mil else 1.0)


def count_of(typed: Typed, name: str, *, usual: int = MOST) -> int | None:
    """Return a field's whole number; what nobody can mean is a fault.

    More than is `usual` is one until the person has ticked that it is meant.
    """
    number = typed.whole(name)
    if number is not None and abs(number) > MOST:
        typed.faults.setdefault(name, say("log.too_many"))
        return None
    if number is not None and number > usual and typed.text(MEANT) is None:
        typed.faults.setdefault(name, say("log.hardly_meant", number=number, most=usual))
        typed.faults.setdefault(MEANT, say("form.really_hint"))
        return None
    return number


def stop_at_faults(typed: Typed) -> None:
    """Raise the faults of single fields."""
    if typed.faults:
        raise Faulty("; ".join(typed.faults.values()))


def by_said(entry: Entry) -> str:
    """Say who did it; '' where nobody is named."""
    return say("log.by_said", who=entry.by) if entry.by else ""


def tags_said(logged: Iterable[tuple[Piece, int]]) -> str:
    """Return the tags of what was logged."""
    return listed(piece.tag for piece, _ in logged)


def undo_of(what: What, logged: Iterable[tuple[Piece, int]]) -> tuple[Undo, ...]:
    """Return what takes it all back."""
    return tuple((what, number) for _, number in logged)
