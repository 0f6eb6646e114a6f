"""Which findings fit where a piece stands, the likeliest to be meant first."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.shop.piece import WorkKind

if TYPE_CHECKING:
    from curewatch.shop.piece import Piece

BARE = ("smell", "fine")
DRYING = ("powders", "loads-paper", "nail-dent", "thumbprint", "smell", "fine")
LEVELLED = ("nail-dent", "thumbprint", "grain-back", "smell", "powders", "loads-paper", "fine")
BUFFED = ("fine", "gloss-lost", "grain-back", "lint-print", "thumbprint", "nail-dent", "smell")


def findings_for(piece: Piece, now_ms: int) -> tuple[str, tuple[str, ...]]:
    """Return how far a piece has come, in words, and the findings that can be made then."""
    coats = piece.coats_until(now_ms)
    if not coats:
        return "no coat on it yet", BARE
    since_ms = coats[-1].at_ms
    done = {work.kind for work in piece.work if since_ms < work.at_ms <= now_ms}
    left = piece.left_ms is not None and piece.left_ms <= now_ms
    if WorkKind.BUFF in done or left:
        return ("out of the shop" if left else "buffed"), BUFFED
    if done & {WorkKind.LEVEL, WorkKind.WET_SAND}:
        return "levelled", LEVELLED
    return "coats on, not levelled yet", DRYING
