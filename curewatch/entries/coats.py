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
MINUTE_MS = 60_000
SAME_COAT_MS = 10 * MINUTE_MS  # nearer together they may be one, told twice (our own figure)
SAME_TALE_MS = 60 * MINUTE_MS  # as near, entered by two people at once, 'when' is told loosely


class LikelyTwice(BadInput):
    """A coat that somebody else may have entered already: asked before it is stored.

    `asked` says of each piece which coat it has.
    """

    def __init__(self, asked: Sequence[str]) -> None:
        """Keep what is asked."""
        self.asked = tuple(asked)
        super().__init__(
            f"{' '.join(asked)} Is this another one? Then add --really; nothing was stored"
        )


def log_coat(
    at: Opened,
    tags: Sequence[str],
    coat: Coat,
    *,
    pot: str | None = None,
    really: bool = False,
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
    really : bool
        Whether it is another coat, however soon after one that was entered.

    Raises
    ------
    LikelyTwice
        When a piece has a coat of about that time already.
    BadInput
        When a piece is not there or left before it, has a coat at that very time, or the pot is
        of another finish or was gone.
    """
    mixed: Batch | None = None
    with at.store.db.transaction():
        with all_or_none(at, tags):
            if pot is not None:
                mixed = at.store.batches.get(pot)
                made_ms, stood = mixed.mixed_at_ms, mixed.room
                coat = replace(coat, mixed_at_ms=made_ms, pot=mixed.name, pot_room=stood)
            pieces = pieces_named(at, tags, hanging_at_ms=coat.at_ms)
            for piece in pieces:
                _check_new(piece, coat)
                if mixed is not None:
                    _check_pot(at, piece, mixed, coat.at_ms)
        asked = [] if really else [_like_it(at, piece, coat) for piece in pieces]
        if any(asked):
            raise LikelyTwice([one for one in asked if one])
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


def _like_it(at: Opened, piece: Piece, coat: Coat) -> str:
    """Say which coat this one may be, entered by another hand; '' where it is like none."""
    near = [other for other in piece.coats if _is_near(at, piece, other, coat)]
    if not near:
        return ""
    other = min(near, key=lambda one: abs(one.at_ms - coat.at_ms))
    by = f" by {other.who}" if other.who else ""
    apart_ms = coat.at_ms - other.at_ms
    if abs(at.now_ms - coat.at_ms) < MINUTE_MS:
        return f"{piece.tag} got a coat {_short(at.now_ms - other.at_ms)} ago{by}."
    side = "before" if apart_ms > 0 else "after"
    return f"{piece.tag} got a coat {_short(abs(apart_ms))} {side} this one{by}."


def _is_near(at: Opened, piece: Piece, other: Coat, coat: Coat) -> bool:
    """Whether two coats are laid at about one time, or told as one by two people at once."""
    apart_ms = abs(coat.at_ms - other.at_ms)
    if apart_ms < SAME_COAT_MS:
        return True
    by_two = other.who and coat.who and other.who.casefold() != coat.who.casefold()
    if apart_ms >= SAME_TALE_MS or not by_two:
        return False
    entered_ms = next(
        e.entered_ms
        for e in at.store.pieces.history(piece.tag)
        if e.what == "coat" and e.id == other.id
    )
    return abs(at.entered_ms - entered_ms) < SAME_COAT_MS


def _short(apart_ms: int) -> str:
    seconds = max(apart_ms, 0) / 1000.0
    return f"{seconds:.0f} s" if seconds < 90.0 else span(seconds / 3600.0)  # noqa: PLR2004 - as people say it


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
