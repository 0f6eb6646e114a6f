"""Holds: work stopped on all of a lot, on what came from one pot, or on one piece."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from curewatch.errors import BadInput

if TYPE_CHECKING:
    from collections.abc import Iterable

    from curewatch.shop.batch import Batch
    from curewatch.shop.piece import Piece

What = Literal["lot", "batch", "piece"]
SAID = {"lot": "lot", "batch": "pot", "piece": "piece"}
HELD_ACTION = (
    "Do no more work on it, and hand nothing over, until it is released: curewatch quarantine list"
)


@dataclass(frozen=True, slots=True)
class Quarantine:
    """A hold.

    Attributes
    ----------
    what, target: a lot, the name of a pot ('batch') or the tag of a piece.
    why, who: in a person's words.
    at_ms: since when [ms].
    released_ms, released_why, released_by: when it was lifted, and why; None while it stands.
    """

    what: What
    target: str
    why: str
    at_ms: int
    who: str = ""
    released_ms: int | None = None
    released_why: str = ""
    released_by: str = ""
    id: int = 0

    def __post_init__(self) -> None:
        """Refuse a hold without a target or a reason."""
        if not self.target.strip():
            raise BadInput(f"which {SAID[self.what]}? Name what is to be held")
        if not self.why.strip():
            raise BadInput("holding something needs a reason: it stands on every piece it touches")


def held(
    holds: Iterable[Quarantine], pieces: Iterable[Piece], pots: Iterable[Batch]
) -> dict[str, str]:
    """Return why each held piece is held, by its tag; the oldest hold first.

    A lot holds every piece with a coat from a pot that has the lot in any of its parts. Upper and
    lower case are the same.
    """
    standing = sorted(
        (hold for hold in holds if hold.released_ms is None), key=lambda h: (h.at_ms, h.id)
    )
    if not standing:
        return {}
    lots = {
        pot.name.casefold(): {lot.casefold() for lot in (pot.lot, pot.crosslinker_lot) if lot}
        for pot in pots
    }
    found: dict[str, str] = {}
    for piece in pieces:
        whys = [_said(hold) for hold in standing if _touches(hold, piece, lots)]
        if whys:
            found[piece.tag] = "; ".join(whys)
    return found


def pot_held(holds: Iterable[Quarantine], pot: Batch) -> str | None:
    """Return why a pot is held, itself or by a lot in it, the oldest hold first; None where not."""
    lots = [("lot", lot) for lot in (pot.lot, pot.crosslinker_lot) if lot]
    return _held_by(holds, [("batch", pot.name), *lots])


def lot_held(holds: Iterable[Quarantine], lot: str) -> str | None:
    """Return why a lot is held, the oldest hold first; None where it is not."""
    return _held_by(holds, [("lot", lot)])


def aside_said(why: str) -> str:
    """Say of a pot or a lot that it is held, and what not to do."""
    return (
        f"Set aside: {why.rstrip('. ')}. Do not spray from it until it is released: "
        "curewatch quarantine list"
    )


def _held_by(holds: Iterable[Quarantine], names: Iterable[tuple[str, str]]) -> str | None:
    targets = {(what, name.casefold()) for what, name in names}
    standing = sorted(
        (
            hold
            for hold in holds
            if hold.released_ms is None and (hold.what, hold.target.casefold()) in targets
        ),
        key=lambda hold: (hold.at_ms, hold.id),
    )
    return "; ".join(_said(hold) for hold in standing) or None


def _touches(hold: Quarantine, piece: Piece, lots: dict[str, set[str]]) -> bool:
    target = hold.target.casefold()
    match hold.what:
        case "piece":
            return piece.tag.casefold() == target
        case "batch":
            return any(coat.pot.casefold() == target for coat in piece.coats)
        case "lot":  # pragma: no branch - there is no other
            from_pots = (lots.get(coat.pot.casefold(), set()) for coat in piece.coats if coat.pot)
            return any(target in these for these in from_pots)


def _said(hold: Quarantine) -> str:
    return hold.why if hold.what == "piece" else f"{SAID[hold.what]} {hold.target}: {hold.why}"


def held_sentence(why: str, sentence: str) -> str:
    """Lead a piece's sentence with its hold; what the clocks say stays behind it."""
    return f"Set aside: {why.rstrip('. ')}. By its clocks alone: {sentence}"
