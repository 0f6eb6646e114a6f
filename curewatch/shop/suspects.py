"""Why did it go white: what the record around a coat accuses, what it clears, what it cannot see.

White has many causes and a logger sees few of them. So this lists suspects by the weight of their
evidence and never names one cause; where nothing was measured it says so.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from curewatch.errors import BadInput
from curewatch.shop.climate import MINUTE_MS
from curewatch.shop.finish import DryingLaw
from curewatch.shop.traces import Case, Minute, Suspect, Weight, traces

if TYPE_CHECKING:
    from curewatch.shop.piece import Piece
    from curewatch.shop.shop import Shop

LEAD_MS = 30 * MINUTE_MS  # the record is read from so long before the coat
AFTER_MS = 600 * MINUTE_MS  # until so long after it


@dataclass(frozen=True, slots=True)
class Suspects:
    """All that the record says of one coat.

    Attributes
    ----------
    coat: its number, from 1; `coat_at_ms` when it was laid [ms].
    start_ms, stop_ms: the stretch of the record that was read [ms].
    rooms: where the piece was meanwhile.
    coverage_pct: share of that stretch with readings.
    found: heaviest first, the clean ones last.
    not_seen: what no logger sees.
    sentence, next_action: the upshot, and how to find out.
    """

    tag: str
    coat: int
    coat_at_ms: int
    start_ms: int
    stop_ms: int
    rooms: tuple[str, ...]
    coverage_pct: float
    found: tuple[Suspect, ...]
    not_seen: tuple[str, ...]
    sentence: str
    next_action: str

    def of(self, *weights: Weight) -> tuple[Suspect, ...]:
        """Return those of some weights, in order."""
        return tuple(one for one in self.found if one.weight in weights)


def suspects(shop: Shop, piece: Piece, coat: int | None, now_ms: int) -> Suspects:
    """Look for what may have turned a coat white.

    Parameters
    ----------
    shop : Shop
        The facts; its book must reach back to `LEAD_MS` before the coat.
    piece : Piece
        Whose coat.
    coat : int or None
        Its number, from 1; the last one if None.
    now_ms : int
        The moment [ms].

    Raises
    ------
    BadInput
        There is no such coat.
    """
    laid = piece.coats_until(now_ms)
    if not laid:
        raise BadInput(
            f"no coat is logged on {piece.tag}: log it first: curewatch coat {piece.tag}"
        )
    number = len(laid) if coat is None else coat
    if not 1 <= number <= len(laid):
        raise BadInput(f"{piece.tag} has no coat {number}: give 1 to {len(laid)}")
    which = laid[number - 1]
    start_ms, stop_ms = which.at_ms - LEAD_MS, min(which.at_ms + AFTER_MS, now_ms)
    minutes = tuple(
        _minute(shop, piece, at_ms) for at_ms in range(start_ms, stop_ms + 1, MINUTE_MS)
    )
    case = Case(shop, piece, shop.finish_of(piece), which, minutes, now_ms)
    found = traces(case)
    known = case.known()
    return Suspects(
        tag=piece.tag,
        coat=number,
        coat_at_ms=which.at_ms,
        start_ms=start_ms,
        stop_ms=stop_ms,
        rooms=tuple(dict.fromkeys(one.room for one in minutes if one.room is not None)),
        coverage_pct=100.0 * len(known) / len(minutes),
        found=tuple(found),
        not_seen=_not_seen(case),
        sentence=_sentence(found, measured=bool(known)),
        next_action="To find out, spray a scrap of the same wood from the same can in warmer, "
        "drier air: if it stays clear that speaks against the air, if it whitens against can, air "
        "line or wood. Until then lay nothing over it; the data sheet says what may be done "
        "about it.",
    )


def _minute(shop: Shop, piece: Piece, at_ms: int) -> Minute:
    room = piece.room_at(at_ms)
    track = None if room is None else shop.book.climates.get(room)
    return Minute(at_ms, room, None if track is None else track.at(at_ms))


def _sentence(found: list[Suspect], *, measured: bool) -> str:
    weights = [one.weight for one in found]
    accused = [one.name for one in found if one.weight in (Weight.STRONG, Weight.SLIGHT)]
    if not measured:
        return (
            "Nothing was measured around this coat, so the record neither accuses nor clears the "
            "air."
        )
    if Weight.STRONG in weights:
        return (
            f"The record points at {', '.join(accused)}, most of all at {accused[0]}. These are "
            "suspects, no diagnosis."
        )
    if accused:
        return (
            f"Nothing in the record speaks strongly; {', '.join(accused)} may have a part. These "
            "are suspects, no diagnosis."
        )
    if Weight.UNKNOWN in weights:
        return "What is recorded looks clean, but not all of it is recorded."
    return (
        "The record looks clean: neither air nor timing explains it. Look to what no logger sees."
    )


def _not_seen(case: Case) -> tuple[str, ...]:
    """Name the causes of white that no logger sees (common practice, no source)."""
    unseen = []
    if case.finish.drying.law is DryingLaw.SOLVENT:
        unseen.append(
            "solvent balance: where the true solvents leave before the rest, the resin falls out "
            "white in the best of air"
        )
    if not any(climate.surface_c is not None for _, _, climate in case.known()):
        unseen.append("the piece itself: nothing measured it, and it may have been colder")
    if case.coat.wet_um is None:
        unseen.append("how thick it was laid: a heavy coat holds its water and solvent longer")
    unseen += [
        "a wet air line: water or oil out of the compressor",
        "wet wood or filler: moisture that rises from beneath",
        "dye or stain: a colour that bleeds or does not agree with the finish",
        "the can: its age, its mixing, another product's thinner",
    ]
    return tuple(unseen)
