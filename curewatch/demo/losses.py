"""Why a piece took longer than the calendar: where the hours on its hook were not whole hours."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from curewatch.science import kinetics
from curewatch.shop.climate import MINUTE_MS, RH, TEMP, TEMP_COVER
from curewatch.shop.finish import ClockName
from curewatch.shop.laws import law_for

if TYPE_CHECKING:
    from curewatch.shop.climate import Floats
    from curewatch.shop.finish import Finish
    from curewatch.shop.piece import Piece, Stay
    from curewatch.shop.shop import Shop

MINUTE_H = 1.0 / 60.0


@dataclass(frozen=True, slots=True)
class Losses:
    """Hours on the hook that the cure clock did not count; negative where it counted more.

    Attributes
    ----------
    cold: below the finish's lower limit, where nothing or next to nothing is earned [h].
    cool: by air cooler than the reference, above that limit [h].
    damp: by air damper than the reference [h].
    unheard: without readings [h].
    """

    cold: float = 0.0
    cool: float = 0.0
    damp: float = 0.0
    unheard: float = 0.0

    @property
    def total(self) -> float:
        """All of them together [h]."""
        return self.cold + self.cool + self.damp + self.unheard

    def __add__(self, other: Losses) -> Losses:
        """Take two stretches together."""
        return Losses(
            self.cold + other.cold,
            self.cool + other.cool,
            self.damp + other.damp,
            self.unheard + other.unheard,
        )


def losses(piece: Piece, finish: Finish, shop: Shop, *, start_ms: int, stop_ms: int) -> Losses:
    """Return what the cure clock did not count of a piece's time, over whole minutes.

    Surfaces are not looked at: the piece is taken to be as warm as its room.
    """
    found = Losses()
    for stay in piece.stays:
        begin = max(stay.start_ms, start_ms)
        end = stop_ms if stay.stop_ms is None else min(stay.stop_ms, stop_ms)
        if begin < end:
            found += _in_room(stay, finish, shop, minutes=(begin // MINUTE_MS, end // MINUTE_MS))
    return found


def _in_room(stay: Stay, finish: Finish, shop: Shop, *, minutes: tuple[int, int]) -> Losses:
    law_of_clock = law_for(finish, ClockName.CURE, shop.room(stay.room))
    track = shop.book.climates.get(stay.room)
    wall_h = (minutes[1] - minutes[0]) * MINUTE_H
    if law_of_clock is None or track is None or not track.size:
        return Losses(unheard=wall_h)
    law = law_of_clock.law
    assert isinstance(law, kinetics.CureLaw)  # noqa: S101 - the cure clock has no other
    first, last = (max(at - track.first_minute, 0) for at in minutes)
    cover = track.row(TEMP_COVER, first, last)
    temp_c, rh = (middles(track.row(row, first, last + 1), cover.size) for row in (TEMP, RH))
    warmth = np.asarray(kinetics.rate(temp_c, law.reference_rh_frac, law))
    whole = np.asarray(kinetics.rate(temp_c, rh, law))
    cold = np.zeros(cover.size, dtype=bool)
    if law.lower_limit_c is not None:
        cold = temp_c < law.lower_limit_c
    lost = cover * (1.0 - warmth) * MINUTE_H
    covered_h = float(cover.sum()) * MINUTE_H
    return Losses(
        cold=float(lost[cold].sum()),
        cool=float(lost[~cold].sum()),
        damp=float((cover * (warmth - whole)).sum()) * MINUTE_H,
        unheard=wall_h - covered_h,
    )


def middles(row: Floats, cells: int) -> Floats:
    """Return values at the middle of minute cells, from those at their ends."""
    ends = np.append(row, row[-1:])[: cells + 1]
    return np.asarray((ends[:-1] + ends[1:]) / 2.0, dtype=np.float64)
