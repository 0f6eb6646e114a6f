"""What a piece's standing owes to others: the parts joined to it, and holds on it or on them."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from curewatch.shop.joining import holding_back, part_of, parts_of
from curewatch.shop.quarantine import HELD_ACTION, held_sentence
from curewatch.shop.verdict import next_milestone

if TYPE_CHECKING:
    from collections.abc import Callable

    from curewatch.shop.assessment import PieceNow
    from curewatch.shop.piece import Piece
    from curewatch.shop.shop import Shop

    Assess = Callable[[Shop, Piece, int], PieceNow]


def with_others(now: PieceNow, piece: Piece, shop: Shop, now_ms: int, *, alone: Assess) -> PieceNow:
    """Return a piece's standing with its parts and holds; the milestones stay its own film's.

    Parameters
    ----------
    now : PieceNow
        How its own film stands.
    piece : Piece
        What was done to it.
    shop : Shop
        Where its parts, the joinings and the holds are.
    now_ms : int
        The moment [ms].
    alone : function
        How a part's own film stands.
    """
    tags = parts_of(piece.tag, shop.joinings, now_ms)
    found = replace(now, parts=tags, part_of=part_of(piece.tag, shop.joinings, now_ms))
    parts = [
        alone(shop, part, now_ms)
        for tag in tags
        if (part := shop.pieces.get(tag) or shop.parts.get(tag)) is not None
    ]
    found = _waiting_for(found, piece, parts, now_ms)
    whys = [shop.held[piece.tag]] if piece.tag in shop.held else []
    whys += [f"{tag}, joined to it: {shop.held[tag]}" for tag in tags if tag in shop.held]
    if not whys:
        return found
    why = "; ".join(whys)
    return replace(
        found, held=why, sentence=held_sentence(why, found.sentence), next_action=HELD_ACTION
    )


def _waiting_for(now: PieceNow, piece: Piece, parts: list[PieceNow], now_ms: int) -> PieceNow:
    """Say which part keeps a whole from its next job, where one does."""
    stone = next_milestone(now, piece, now_ms) if now.milestones else None
    if not parts or stone is None or not now.coating_done:
        return now
    part = holding_back(stone.name, now, parts)
    if part is None:
        return now
    return replace(
        now,
        held_back_by=part.tag,
        sentence=f"Waits for {part.tag}, joined to it. {part.tag}: {part.sentence} "
        f"{now.tag} itself: {now.sentence}",
        next_action=f"{part.tag}: {part.next_action}",
        next_at=part.next_at,
    )
