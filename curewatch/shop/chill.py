"""How long a film was below its floor in its first days: hours that no later warmth mends."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from curewatch.shop.climate import MINUTE_MS, SURFACE, SURFACE_COVER, TEMP, TEMP_COVER
from curewatch.shop.clocks import MS_PER_H

if TYPE_CHECKING:
    from curewatch.shop.book import ClockBook
    from curewatch.shop.milestones import PieceClocks

TELLING_H = 1.0  # as long as the alert for a cold room must hold before it is told


def chilled_h(clocks: PieceClocks, book: ClockBook) -> float:
    """Return the measured hours that any coat spent below the finish's floor while young [h].

    The piece's own temperature counts where it is measured, else the air's.
    """
    finish = clocks.finish
    if finish.cure is None or finish.young_h is None:
        return 0.0
    floor_c, young_ms = finish.cure.lower_limit_c.value, round(finish.young_h.value * MS_PER_H)
    spans: list[tuple[int, int]] = []
    for coat in clocks.coats:
        stop = min(coat.at_ms + young_ms, clocks.now_ms)
        if spans and coat.at_ms <= spans[-1][1]:
            spans[-1] = (spans[-1][0], max(stop, spans[-1][1]))
        else:
            spans.append((coat.at_ms, stop))
    minutes = 0.0
    for stay in clocks.piece.stays:
        track = book.climates.get(stay.room)
        if track is None:
            continue
        for begin, end in spans:
            start = max(begin, stay.start_ms)
            stop = end if stay.stop_ms is None else min(end, stay.stop_ms)
            first, last = max(track.index(start), 0), min(track.index(stop), track.size)
            if stop - start < MINUTE_MS or last <= first:
                continue
            on_piece = track.row(SURFACE_COVER, first, last) > 0.0
            temp_c = np.where(
                on_piece, track.row(SURFACE, first, last), track.row(TEMP, first, last)
            )
            cover = np.maximum(track.row(TEMP_COVER, first, last), on_piece)
            minutes += float(cover[temp_c < floor_c].sum())
    return minutes / 60.0
