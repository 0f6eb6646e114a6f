"""How the answer to a what-if is said, for the command and the page."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.shop.what_if_words import hours_range

if TYPE_CHECKING:
    from curewatch.shop.ahead import Eta
    from curewatch.shop.what_if import Range
    from curewatch.shop.what_if_words import WhatIf
    from curewatch.shop.words import Words

FEWER = (
    "Fewer coats leave less film to sand and buff into: a sand-through shows. The rule per coat is "
    "counted with its own band, and not the film's settling."
)


def source_said(answer: WhatIf, words: Words, now_ms: int) -> str:
    """Say where the air as it is comes from."""
    match answer.source:
        case "usual days":
            return f"{answer.room}, its last 7 days, {answer.known_pct:.0f} % of them measured"
        case "typed":
            return "as typed"
        case "reference":
            return "the finish's reference climate, as no room was named"
        case _:
            if answer.at_ms is None:
                return f"{answer.room}: no fresh reading"
            return f"{answer.room}, {words.at(answer.at_ms, now_ms)}"


def ends_said(eta: Eta, words: Words, now_ms: int) -> str:
    """Say the three ends of an instant; nothing where none is told: the sentence says so."""
    if not eta.told:
        return "-"
    ends = (eta.early, eta.likely, eta.late)
    if not any(ends):
        return "not told"
    return "; ".join("not told" if at is None else words.ahead(at, now_ms) for at in ends)


def stack_said(found: Range | None) -> str:
    """Say how long a stack takes."""
    return "not told" if found is None else hours_range(found)
