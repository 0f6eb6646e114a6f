"""The build of a piece: how much film its coats have left on it, as far as that can be said.

Nobody measures a dry film on wood without cutting it. What is laid is known to a wet film comb's
notch, what stays of it to the profile's band, and what the paper took to a guess. So the answer is
always a range, and never less than three parts in ten either way.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from curewatch.shop.piece import WorkKind
from curewatch.shop.what_if import Range
from curewatch.shop.words import counted

if TYPE_CHECKING:
    from curewatch.shop.finish import Finish
    from curewatch.shop.piece import Piece
    from curewatch.shop.words import Words

DOUBT: Final = 0.30
"""What the sum of coats is off by at least, either way (common practice, no source)."""
TAKEN_UM: Final = {
    WorkKind.SCUFF: (0.0, 3.0),
    WorkKind.DRY_SAND: (1.0, 5.0),
    WorkKind.WET_SAND: (5.0, 25.0),
    WorkKind.LEVEL: (5.0, 25.0),
    WorkKind.BUFF: (0.5, 3.0),
}
"""What a job takes off the face [um], both ends (common practice, no source); edges lose more."""
SOURCE: Final = "wet films as logged, the profile's solids, and a guess of what sanding took"


@dataclass(frozen=True, slots=True)
class Build:
    """
    What is on a piece.

    Attributes
    ----------
    coats, measured : int
        How many coats, and how many of them with a wet film that somebody measured.
    wet_um : float
        All that was laid, wet [um]; coats nobody measured count as the finish's usual one.
    film_um : Range or None
        Dry film now [um]; None where the profile does not say what stays of a coat.
    taken_um : Range
        What sanding and buffing took of it [um].
    sentence : str
        All that, in words.
    """

    coats: int
    measured: int
    wet_um: float
    film_um: Range | None
    taken_um: Range
    sentence: str


def the_build(piece: Piece, finish: Finish, now_ms: int, words: Words) -> Build | None:
    """Return the build of a piece at `now_ms` [ms]; None before its first coat."""
    coats = piece.coats_until(now_ms)
    if not coats:
        return None
    usual_um = finish.drying.wet_film_um.value
    wet_um = sum(usual_um if coat.wet_um is None else coat.wet_um for coat in coats)
    measured = sum(coat.wet_um is not None for coat in coats)
    jobs = [TAKEN_UM[work.kind] for work in piece.work if work.at_ms <= now_ms]
    low, high = (sum((job[end] for job in jobs), 0.0) for end in (0, 1))
    taken = Range(low, (low + high) / 2.0, high)
    film = _film(finish, wet_um, taken)
    return Build(
        len(coats), measured, wet_um, film, taken, _sentence(len(coats), measured, film, words)
    )


def _film(finish: Finish, wet_um: float, taken: Range) -> Range | None:
    """Return the dry film that is left of what was laid wet [um]."""
    if finish.film is None:
        return None
    dry = finish.film.dry_um
    laid = wet_um / finish.drying.wet_film_um.value
    ends = [dry.value * (1.0 - DOUBT), dry.value * (1.0 + DOUBT)]
    low = min([ends[0], *([] if dry.low is None else [dry.low])])
    high = max([ends[1], *([] if dry.high is None else [dry.high])])
    return Range(
        max(laid * low - taken.high, 0.0),
        max(laid * dry.value - taken.likely, 0.0),
        max(laid * high - taken.low, 0.0),
    )


def _sentence(coats: int, measured: int, film: Range | None, words: Words) -> str:
    on = f"{counted(coats, 'coat')} on"
    if film is None:
        return (
            f"{on}. How much film that is cannot be told: this profile does not say what stays of "
            "a coat."
        )
    unmeasured = coats - measured
    usual = (
        ""
        if not unmeasured
        else f" Nobody measured the wet film of {unmeasured} of them: the usual one is taken."
    )
    return (
        f"{on}: between {words.film(film.low)} and {words.film(film.high)} of film, likely about "
        f"{words.film(film.likely)}. Edges have less. Only a gauge on a witness panel knows "
        f"better.{usual}"
    )
