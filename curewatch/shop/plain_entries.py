"""What people entered about a piece as plain data, and the cautions of its finish."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.shop.plain import instant
from curewatch.shop.proof import proof_plain
from curewatch.shop.safety import SAFETY

if TYPE_CHECKING:
    from curewatch.shop.finish import Finish
    from curewatch.shop.piece import Piece
    from curewatch.shop.plain import Plain


def entries_plain(piece: Piece, finish: Finish) -> Plain:
    """Return what a person entered about the piece, and the cautions of its finish."""
    return {
        "left_at": instant(piece.left_ms),
        "tried": finish.tried,
        "coats_laid": [
            {
                "id": coat.id,
                "at": instant(coat.at_ms),
                "wet_um": coat.wet_um,
                "passes": coat.passes,
                "pot": coat.pot or None,
                "mixed_at": instant(coat.mixed_at_ms),
                "who": coat.who,
                "note": coat.note,
            }
            for coat in piece.coats
        ],
        "work": [
            {
                "id": work.id,
                "kind": str(work.kind),
                "at": instant(work.at_ms),
                "note": work.note,
                "anyway": work.anyway,
                "who": work.who,
            }
            for work in piece.work
        ],
        "stays": [
            {
                "id": stay.id,
                "room": stay.room,
                "from": instant(stay.start_ms),
                "to": instant(stay.stop_ms),
            }
            for stay in piece.stays
        ],
        "outcomes": [
            {
                "id": o.id,
                "finding": o.finding,
                "at": instant(o.at_ms),
                "note": o.note,
                "who": o.who,
                "proves": proof_plain(o.finding),
            }
            for o in piece.outcomes
        ],
        "safety": [SAFETY, *finish.safety],
    }
