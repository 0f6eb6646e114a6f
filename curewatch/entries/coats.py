"""Logging a coat on one or several pieces, and how it stood against the window before it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from curewatch.entries.times import all_or_none
from curewatch.errors import BadInput
from curewatch.named import pieces_named
from curewatch.shop.assessment import POOR_COVERAGE_PCT
from curewatch.shop.clocks import MS_PER_H
from curewatch.shop.finish import ClockName, MilestoneName
from curewatch.shop.milestones import PieceClocks
from curewatch.shop.window import WindowState, recoat_window
from curewatch.shop.words import span

if TYPE_CHECKING:
    from collections.abc import Sequence

    from curewatch.opened import Opened
    from curewatch.shop.batch import Batch
    from curewatch.shop.piece import Coat, Piece
    from curewatch.shop.shop import Shop

IN_WINDOW = (WindowState.OPEN, WindowState.CLOSING)


def log_coat(
    at: Opened, tags: Sequence[str], coat: Coat, *, pot: str | None = None
) -> list[tuple[Piece, int]]:
    """Store one coat on all pieces or on none; return each piece as it was, and its number.

    Parameters
    ----------
    at : Opened
        The shop.
    tags : sequence of str
        The pieces.
    coat : Coat
        As it was laid, without a pot.
    pot : str or None
        Name of the pot it came from.

    Raises
    ------
    BadInput
        When a piece is not there or left before it, has a coat at that very time, or the pot is
        of another finish or was gone.
    """
    with all_or_none(at, tags):
        mixed: Batch | None = None
        if pot is not None:
            mixed = at.store.batches.get(pot)
            coat = replace(coat, mixed_at_ms=mixed.mixed_at_ms, pot=mixed.name, pot_room=mixed.room)
        pieces = pieces_named(at, tags, hanging_at_ms=coat.at_ms)
        for piece in pieces:
            _check_new(piece, coat)
            if mixed is not None:
                _check_pot(at, piece, mixed, coat.at_ms)
        ids = [at.store.pieces.coat(piece.tag, coat, at.entered_ms) for piece in pieces]
    return list(zip(pieces, ids, strict=True))


def coat_stood(shop: Shop, piece: Piece, at_ms: int) -> str:
    """Say how a coat laid at `at_ms` [ms] stood against the window of the one before; '' if first.

    The piece's rooms must be in the shop's clock book up to then.
    """
    before = tuple(coat for coat in piece.coats if coat.at_ms < at_ms)
    if not before:
        return ""
    clocks = PieceClocks(
        replace(piece, coats=before),
        shop.finish_of(piece),
        book=shop.book,
        rooms=shop.rooms,
        now_ms=at_ms,
    )
    opens = clocks.ready(MilestoneName.RECOAT_OPENS)
    state = recoat_window(clocks, opens, shop.words).state
    wall_h = (at_ms - before[-1].at_ms) / MS_PER_H
    after, drying = span(wall_h), clocks.reading(ClockName.DRYING)
    covered = "" if drying is None else _poorly_covered(drying.covered_h, wall_h)
    if state in IN_WINDOW:
        return f"It came inside the recoat window, {after} after the coat before.{covered}"
    if state is WindowState.OPENING:
        return (
            f"It came {after} after the coat before, when the recoat rule was just met and "
            f"its cautious end was not.{covered}"
        )
    if state is WindowState.UNKNOWN:
        return f"It came {after} after the coat before; no clock judges this finish."
    return f"It came outside the recoat window, {after} after the coat before.{covered}"


def _poorly_covered(covered_h: float, wall_h: float) -> str:
    share_pct = 100.0 * covered_h / wall_h
    if share_pct >= POOR_COVERAGE_PCT:
        return ""
    return (
        f" Readings cover only {share_pct:.0f} % of that time, so this is judged on the safe side."
    )


def _check_new(piece: Piece, coat: Coat) -> None:
    """Refuse the same coat entered twice."""
    for other in piece.coats:
        if other.at_ms == coat.at_ms:
            raise BadInput(
                f"{piece.tag} has a coat at that very time already (number {other.id}): give "
                f"this one its own time, or void that one: curewatch coat void {other.id} --why ..."
            )


def _check_pot(at: Opened, piece: Piece, pot: Batch, at_ms: int) -> None:
    """Refuse a coat from a pot of another finish, or from one that was gone by then."""
    if pot.finish != piece.finish:
        raise BadInput(
            f"the pot {pot.name} holds {pot.finish}, and {piece.tag} is judged by "
            f"{piece.finish}: name another pot, or log the coat with --no-pot and a --note"
        )
    if pot.gone_ms is not None and pot.gone_ms < at_ms:
        raise BadInput(
            f"the pot {pot.name} was gone {at.words.at(pot.gone_ms, at.now_ms)}, before this coat: "
            "name another pot, or check the time"
        )
