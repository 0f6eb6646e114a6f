"""Pieces joined to others, such as a neck to its body: both keep their own coats and clocks."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from curewatch.errors import BadInput

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from curewatch.shop.assessment import PieceNow
    from curewatch.shop.finish import MilestoneName

FOR_EVER_MS = 2**62


@dataclass(frozen=True, slots=True)
class Joining:
    """One piece joined onto another since `at_ms` [ms]; both by their tags."""

    part: str
    onto: str
    at_ms: int
    note: str = ""
    id: int = 0


def check_joining(new: Joining, joinings: Sequence[Joining]) -> None:
    """Refuse a joining that cannot be.

    Raises
    ------
    BadInput
        When the part is joined already, or the whole would be a part of itself.
    """
    if new.part == new.onto:
        raise BadInput(f"{new.part} cannot be joined to itself: name the piece it goes onto")
    whole = part_of(new.part, joinings)
    if whole is not None:
        raise BadInput(
            f"{new.part} is joined to {whole} already: curewatch piece unjoin {new.part} --why ..."
        )
    if new.onto in parts_of(new.part, joinings):
        raise BadInput(f"{new.onto} is itself a part of {new.part}: join the other way round")


def part_of(tag: str, joinings: Iterable[Joining], at_ms: int = FOR_EVER_MS) -> str | None:
    """Return what a piece is joined onto at `at_ms` [ms], None where it stands alone."""
    return next((j.onto for j in joinings if j.part == tag and j.at_ms <= at_ms), None)


def parts_of(tag: str, joinings: Sequence[Joining], at_ms: int = FOR_EVER_MS) -> tuple[str, ...]:
    """Return the parts of a piece at `at_ms` [ms], and the parts of those, in order of joining."""
    found: list[str] = []
    for joining in sorted(joinings, key=lambda j: (j.at_ms, j.id)):
        if joining.onto == tag and joining.at_ms <= at_ms:
            found += [joining.part, *parts_of(joining.part, joinings, at_ms)]
    return tuple(found)


def holding_back(name: MilestoneName, now: PieceNow, parts: Iterable[PieceNow]) -> PieceNow | None:
    """Return the part that a whole waits for to come to a milestone, None where it waits for none.

    That is the part that comes there last, where it comes later than the piece it is joined to; a
    part of which no time can be told comes last of all. A part whose finish gives no hours for
    the milestone holds nothing back.
    """
    own_ms = _due_ms(name, now)
    late = [(due, part) for part in parts if (due := _due_ms(name, part)) is not None]
    last_ms, part = max(late, key=lambda pair: pair[0], default=(0, None))
    if part is None or (own_ms is not None and own_ms >= last_ms):
        return None
    return part


def _due_ms(name: MilestoneName, now: PieceNow) -> int | None:
    """Return when a piece surely comes to a milestone [ms]; None where it is there, or never.

    One without a coat, or with planned coats to come, comes there last of all.
    """
    if not now.coats or (now.planned_coats is not None and not now.coating_done):
        return FOR_EVER_MS
    stone = now.milestone(name)
    if stone is None or stone.required_hours is None or stone.cautious_at is not None:
        return None
    return FOR_EVER_MS if stone.eta_cautious_at is None else stone.eta_cautious_at
