"""Logging what was found on pieces, and saying that nobody can look any more."""

from __future__ import annotations

from difflib import get_close_matches
from typing import TYPE_CHECKING

from curewatch.entries.times import all_or_none
from curewatch.errors import BadInput
from curewatch.named import pieces_named
from curewatch.shop.follow_up import DAYS, DAYS_ANYWAY, due

if TYPE_CHECKING:
    from collections.abc import Sequence

    from curewatch.opened import Opened
    from curewatch.shop.piece import Outcome, Piece

FINDINGS = {
    "powders": "sands to dry powder",
    "loads-paper": "balls up and clogs the paper",
    "nail-dent": "a fingernail leaves a mark",
    "thumbprint": "a thumb pressed on it leaves its print",
    "smell": "still smells of solvent",
    "lint-print": "cloth or a case's lining left its weave",
    "gloss-lost": "the gloss dulled after it was buffed",
    "grain-back": "grain or sanding marks show again: the film sank",
    "fine": "looked for faults, found none",
}


def known_finding(word: str) -> str:
    """Return a finding as it is stored.

    Raises
    ------
    BadInput
        When there is none of that name; the nearest and all others are named.
    """
    if word in FINDINGS:
        return word
    near = get_close_matches(word.lower(), FINDINGS, n=1)
    hint = f"did you mean {near[0]}? " if near else ""
    raise BadInput(
        f"'{word}' is no finding: {hint}Name it last, one of {', '.join(FINDINGS)}; "
        "--note takes your own words"
    )


def log_outcome(at: Opened, tags: Sequence[str], outcome: Outcome) -> list[tuple[Piece, int]]:
    """Store a finding on all pieces or on none; return each piece as it was, and its number."""
    with all_or_none(at, tags):
        pieces = pieces_named(at, tags)
        known_finding(outcome.finding)
        ids = [at.store.pieces.outcome(piece.tag, outcome, at.entered_ms) for piece in pieces]
    return list(zip(pieces, ids, strict=True))


def close_follow_up(at: Opened, tag: str, days: int, why: str) -> Piece:
    """Store that nobody can answer the question asked `days` after a piece was finished.

    Raises
    ------
    BadInput
        When that is not asked about the piece now, or no reason is given.
    """
    if days not in {*DAYS, *DAYS_ANYWAY}:
        told = ", ".join(str(day) for day in sorted({*DAYS, *DAYS_ANYWAY}))
        raise BadInput(f"--days {days}: no question is asked then; one of {told}")
    piece = at.store.pieces.load(tag)
    if days not in {one.days for one in due(piece, at.now_ms)}:
        raise BadInput(f"{piece.tag} is not asked about {days} days now: curewatch follow-up list")
    at.store.pieces.close_follow_up(piece.tag, days, why, at.entered_ms)
    return piece
