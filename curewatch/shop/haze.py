"""Will the haze go away: what a white coat may still do by itself, and how to find out.

Nothing that is logged tells how long it takes, so no time is ever given.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING, Final

from curewatch.shop.finish import DryingLaw
from curewatch.shop.reading import Standing

if TYPE_CHECKING:
    from curewatch.shop.finish import Finish


class Clears(StrEnum):
    """What a haze may do by itself."""

    MAY_CLEAR = "may-clear"
    OFTEN_STAYS = "often-stays"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Haze:
    """What a haze may do, why, and the trial that tells; `not_told` is what no record holds."""

    clears: Clears
    sentence: str
    trial: str
    not_told: str
    standing: Standing


NO_TIME: Final = "How long it takes cannot be told from a record of the air."
PANEL: Final = (
    "Try it on a panel of the same wood, can and coats before the piece. Lay nothing over a haze "
    "meanwhile: what covers it keeps it."
)
SAID: Final = {
    DryingLaw.SOLVENT: (
        Clears.MAY_CLEAR,
        (
            "A light blush may clear as the piece stands in warm, dry air; one that has set, or "
            "that came of solvents out of balance, stays."
        ),
        (
            "On the panel: warm, dry air first, then a mist of the retarder or thinner that its "
            f"sheet names, in safe air. {PANEL}"
        ),
    ),
    DryingLaw.WATER: (
        Clears.OFTEN_STAYS,
        (
            "Water held in a thin coat may still leave in warm, dry air; a film that formed too "
            "cold, or one that was laid over, often stays hazy for good."
        ),
        (
            "On the panel: warm, dry air, then if it stays, scuff back to clear film and recoat "
            f"by the sheet. {PANEL}"
        ),
    ),
    DryingLaw.CURE: (
        Clears.OFTEN_STAYS,
        (
            "What whitens a film that hardens by reaction is often held in it or bloomed on it: "
            "what sits on top may wipe or polish off, what is within stays."
        ),
        f"On the panel: polish a spot, then scuff back and recoat by the sheet. {PANEL}",
    ),
}


def will_it_clear(finish: Finish) -> Haze:
    """Return what a haze in this finish may do by itself (common practice, no source)."""
    said = SAID.get(finish.drying.law)
    if said is None:
        return Haze(
            Clears.UNKNOWN,
            "What a haze does in a film cured by its dose of light is not known here.",
            f"Ask its maker. {PANEL}",
            NO_TIME,
            Standing.COMMON_PRACTICE,
        )
    return Haze(*said, NO_TIME, Standing.COMMON_PRACTICE)
