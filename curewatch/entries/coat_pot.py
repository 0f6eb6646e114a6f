"""What a coat just logged says of the pot it came from, or may have come from."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.assembly import stored_finish
from curewatch.entries.lots import lot_said
from curewatch.shop.batch import pot_life, pot_open
from curewatch.shop.clocks import MS_PER_H
from curewatch.shop.words import listed, span

if TYPE_CHECKING:
    from curewatch.opened import Opened
    from curewatch.shop.piece import Coat, Piece
    from curewatch.shop.shop import Shop

RECENT_MS = 3 * 86_400_000  # older pots are not asked for


def pot_remarks(at: Opened, shop: Shop, piece: Piece, coat: Coat, *, no_pot: bool) -> list[str]:
    """Say how long the coat's pot lives, or which open pot it may have come from."""
    if coat.pot:
        said = _named_pot(at, shop, coat)
        told = lot_said(at, at.store.batches.get(coat.pot))
        return [said, *told] if said else told
    if coat.mixed_at_ms is not None:
        said = _untold_pot(at, shop, piece, coat.mixed_at_ms)
    else:
        said = "" if no_pot else _asked(at, shop, piece, coat)
    return [said] if said else []


def _named_pot(at: Opened, shop: Shop, coat: Coat) -> str:
    pot = at.store.batches.get(coat.pot)
    finish = stored_finish(at.store, pot.finish, pot.revision)
    ends = pot_life(shop, finish, pot, max(at.now_ms, coat.at_ms)).ends
    if ends is None or ends.early is None or ends.early <= coat.at_ms:
        return ""  # a pot that was over is told as a deed
    return f"Pot {pot.name} lives until {at.words.at(ends.early, at.now_ms)} at its early end."


def _untold_pot(at: Opened, shop: Shop, piece: Piece, mixed_ms: int) -> str:
    life = shop.finish_of(piece).pot_life_h
    over_ms = mixed_ms if life is None else mixed_ms + round(life.value * MS_PER_H)
    if over_ms <= at.now_ms:
        return ""
    return f"The pot is over {at.words.at(over_ms, at.now_ms)} at the latest, sooner in warmth."


def _asked(at: Opened, shop: Shop, piece: Piece, coat: Coat) -> str:
    names, life = _open_pots(at, shop, piece, coat), shop.finish_of(piece).pot_life_h
    if names:
        count = "1 pot is" if len(names) == 1 else f"{len(names)} pots are"
        return (
            f"{count} open for {piece.finish}: {listed(names)}. Was it from that? Void this "
            f"coat and log it with --pot {names[0]}, or with --no-pot to be asked no more."
        )
    if life is None:
        return ""
    return (
        f"A pot of this finish lives {span(life.value)}; it can be judged when --pot or "
        "--mixed-at tells when it was mixed."
    )


def _open_pots(at: Opened, shop: Shop, piece: Piece, coat: Coat) -> list[str]:
    """Return the pots of the piece's finish that were open when the coat was laid."""
    names = []
    for pot in at.store.batches.all(since_ms=coat.at_ms - RECENT_MS):
        if pot.finish == piece.finish:
            finish = stored_finish(at.store, pot.finish, pot.revision)
            if pot_open(pot, pot_life(shop, finish, pot, coat.at_ms), coat.at_ms):
                names.append(pot.name)
    return names
