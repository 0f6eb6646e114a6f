"""Setting aside a lot, a pot or a piece, and releasing it again."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.errors import BadInput
from curewatch.shop.quarantine import Quarantine, held
from curewatch.shop.quarantine import lot_held as held_lot
from curewatch.shop.quarantine import pot_held as held_pot
from curewatch.shop.words import listed

if TYPE_CHECKING:
    from curewatch.opened import Opened
    from curewatch.shop.batch import Batch
    from curewatch.shop.quarantine import What


def hold(at: Opened, new: Quarantine) -> tuple[Quarantine, int]:
    """Store a hold; return it with its target as it was entered, and its number.

    Raises
    ------
    BadInput
        When there is no such lot, pot or piece, or it is held already.
    """
    found = Quarantine(
        new.what, target_named(at, new.what, new.target), new.why, new.at_ms, new.who
    )
    return found, at.store.quarantines.hold(found, at.entered_ms)


def release(at: Opened, number: int, why: str, *, who: str) -> Quarantine:
    """Store that a hold is lifted; return it as it stood.

    Raises
    ------
    BadInput
        When there is no such hold, it is lifted already, or no reason is given.
    """
    return at.store.quarantines.release(number, why, who=who, at_ms=at.entered_ms)


def target_named(at: Opened, what: What, name: str) -> str:
    """Return a target as it was entered; a lot nobody entered cannot be held yet."""
    if what == "piece":
        return at.store.pieces.load(name).tag
    if what == "batch":
        return at.store.batches.get(name).name
    lots = {pot.lot for pot in at.store.batches.all()} | {s.lot for s in at.store.stock.all()}
    lots |= {pot.crosslinker_lot for pot in at.store.batches.all() if pot.crosslinker_lot}
    known = {lot.casefold(): lot for lot in lots}
    if name.casefold() not in known:
        told = f"Entered are {listed(lots)}" if lots else "No pot or stock is entered"
        raise BadInput(
            f"no pot and no stock has the lot '{name}': {told}. A coat knows its lot by its pot: "
            "curewatch coat TAG --pot NAME"
        )
    return known[name.casefold()]


def touched(at: Opened, hold_: Quarantine) -> list[str]:
    """Return the pieces a hold touches, lifted or not; those that left the shop are marked."""
    pieces = at.store.pieces.load_all(left=True)
    standing = Quarantine(hold_.what, hold_.target, hold_.why, hold_.at_ms, hold_.who)
    these = held([standing], pieces, at.store.batches.all())
    return [
        piece.tag if piece.left_ms is None else f"{piece.tag} (left the shop)"
        for piece in pieces
        if piece.tag in these
    ]


def pot_held(at: Opened, pot: Batch) -> str | None:
    """Return why a pot, or a lot in it, is held now; None where it is not."""
    return held_pot(at.store.quarantines.standing(), pot)


def lot_held(at: Opened, lot: str) -> str | None:
    """Return why a lot is held now; None where it is not."""
    return held_lot(at.store.quarantines.standing(), lot)
