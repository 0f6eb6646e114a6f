"""Mixed pots: what went into one, and how much of its life is left.

A pot lives as long as its sheet says, less where its room is warm: its age is the longer of the
hours on the wall and the early end of its cure hours (gaps credited at the faster of their ends,
sensors and activation energy on their fast side). Cold never lengthens it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from curewatch.errors import BadInput
from curewatch.science.kinetics import CureLaw
from curewatch.shop.ahead import Eta, law_ahead
from curewatch.shop.clocks import MS_PER_H, RateLaw
from curewatch.shop.elapsed import elapsed
from curewatch.shop.laws import cure_law
from curewatch.shop.piece import Stay
from curewatch.shop.waits import CONFIDENT_Z

if TYPE_CHECKING:
    from curewatch.shop.book import ClockBook
    from curewatch.shop.climate import Floats
    from curewatch.shop.clocks import ClockTrack
    from curewatch.shop.finish import Finish
    from curewatch.shop.shop import Shop

MINUTE_MS = 60_000
UNTOLD_LIFE_MS = 24 * 3_600_000  # a pot without a pot life is taken to be used up by then
# Beyond these no sheet can be meant (the trade's common figures with room to spare, no source).
RANGES_PCT = {"crosslinker": (0.1, 100.0), "reducer": (0.0, 100.0), "retarder": (0.0, 30.0)}


@dataclass(frozen=True, slots=True)
class Batch:
    """A mixed pot.

    Attributes
    ----------
    name: what is written on the pot.
    finish, revision: the profile it is judged by.
    lot: lot of the finish.
    mixed_at_ms: when the parts were put together [ms].
    room: where the pot stands; None: nobody said.
    crosslinker_pct, reducer_pct, retarder_pct: parts to a hundred of the finish, as the sheet
        counts them; None: nobody said. A catalyst, a hardener or a drier is a crosslinker here.
    crosslinker_lot, thinner, tint, note, who: in a person's words.
    gone_ms: when it was used up or thrown away [ms].
    """

    name: str
    finish: str
    revision: int
    lot: str
    mixed_at_ms: int
    room: str | None = None
    crosslinker_pct: float | None = None
    crosslinker_lot: str = ""
    reducer_pct: float | None = None
    retarder_pct: float | None = None
    thinner: str = ""
    tint: str = ""
    note: str = ""
    who: str = ""
    gone_ms: int | None = None
    id: int = 0

    def __post_init__(self) -> None:
        """Refuse shares that no sheet asks for."""
        for part, share in (
            ("crosslinker", self.crosslinker_pct),
            ("reducer", self.reducer_pct),
            ("retarder", self.retarder_pct),
        ):
            low, high = RANGES_PCT[part]
            if share is not None and not low <= share <= high:
                raise BadInput(
                    f"{share:g} % {part} is not plausible: give {low:g} to {high:g} parts to a "
                    "hundred of the finish (4 to 1 is 25), and never more than the sheet says"
                )


@dataclass(frozen=True, slots=True)
class PotLife:
    """How a pot stands.

    Attributes
    ----------
    life_h: its life at the reference climate [h]; None: its finish gives none.
    wall_h: hours since it was mixed [h].
    aged_h: its age at the early end [h].
    by_room: whether its room is heard, so that warmth is counted.
    ends: when its life ends or ended: early, likely and late [ms]; None without a life.
    """

    life_h: float | None
    wall_h: float
    aged_h: float
    by_room: bool
    ends: Eta | None

    @property
    def over(self) -> bool:
        """Whether its life has ended at the early end."""
        return self.life_h is not None and self.aged_h > self.life_h


def pot_life(shop: Shop, finish: Finish, batch: Batch, now_ms: int) -> PotLife:
    """Return how a pot stands at `now_ms` [ms], and when its life ends."""
    wall_h = (now_ms - batch.mixed_at_ms) / MS_PER_H
    heard = batch.room is not None and shop.book.frontier_ms(batch.room) is not None
    aged_h = pot_age_h(shop.book, finish, batch.room, mixed_ms=batch.mixed_at_ms, at_ms=now_ms)
    if finish.pot_life_h is None:
        return PotLife(None, wall_h, aged_h, heard and cure_law(finish) is not None, None)
    life_h = finish.pot_life_h.value
    ends = _ends(shop, finish, batch, now_ms=now_ms)
    return PotLife(life_h, wall_h, aged_h, heard and cure_law(finish) is not None, ends)


def pot_open(batch: Batch, life: PotLife, now_ms: int) -> bool:
    """Return whether one may still mean to spray from the pot."""
    if batch.mixed_at_ms > now_ms or (batch.gone_ms is not None and batch.gone_ms <= now_ms):
        return False
    if life.life_h is None:
        return now_ms - batch.mixed_at_ms < UNTOLD_LIFE_MS
    return not life.over


def pot_age_h(
    book: ClockBook, finish: Finish, room: str | None, *, mixed_ms: int, at_ms: int
) -> float:
    """Return how old a pot is at its early end [h]: wall hours, or more where it stood warm."""
    wall_h = (at_ms - mixed_ms) / MS_PER_H
    hours = _cure_hours(book, finish, room, mixed_ms=mixed_ms, stops_ms=np.array([float(at_ms)]))
    return wall_h if hours is None else max(wall_h, float(hours[1, -1]))


@lru_cache(maxsize=256)
def pot_law(law: RateLaw) -> RateLaw:
    """Return a film's cure law as a closed pot keeps it.

    No humidity reaches it, and neither the floor nor the ceiling of a film's credit holds.
    """
    film = law.law
    assert isinstance(film, CureLaw)  # noqa: S101 - callers hand over cure laws
    pot = replace(film, humidity_exponent=0.0, lower_limit_c=None, upper_limit_c=None)
    return replace(law, law=pot)


def _cure_hours(
    book: ClockBook, finish: Finish, room: str | None, *, mixed_ms: int, stops_ms: Floats
) -> Floats | None:
    """Return the likely and the early cure hours at each stop, shape (2, n) [h]."""
    law = cure_law(finish)
    if room is None or law is None:
        return None
    found = elapsed(
        book,
        lambda _: pot_law(law),
        stays=(Stay(room, mixed_ms),),
        start_ms=mixed_ms,
        stops_ms=stops_ms,
    )
    return np.stack((found.value, found.early(CONFIDENT_Z)))


def _ends(shop: Shop, finish: Finish, batch: Batch, *, now_ms: int) -> Eta:
    """Return when a pot's life ends; never after the sheet's own hours on the wall."""
    assert finish.pot_life_h is not None  # noqa: S101 - the caller looked
    life_h, mixed_ms = finish.pot_life_h.value, batch.mixed_at_ms
    wall_ms = mixed_ms + round(life_h * MS_PER_H)
    law = cure_law(finish)
    stops = np.arange(mixed_ms, min(now_ms, wall_ms) + 1.0, MINUTE_MS)
    if batch.room is None or law is None or not stops.size:
        return Eta(wall_ms, wall_ms, wall_ms)
    hours = _cure_hours(shop.book, finish, batch.room, mixed_ms=mixed_ms, stops_ms=stops)
    assert hours is not None  # noqa: S101 - room and law are there
    ahead = law_ahead(shop, batch.room, pot_law(law), now_ms)
    heard_ms = shop.book.frontier_ms(batch.room)
    known_ms = int(stops[-1])
    track = shop.book.clock(batch.room, pot_law(law))
    found = []
    for row, edge in ((1, "early"), (0, "likely"), (0, "late")):
        passed = np.flatnonzero(hours[row] >= life_h)
        left_h = life_h - float(hours[row, -1])
        if passed.size:
            found.append(int(stops[passed[0]]))
        elif ahead is None or heard_ms is None or known_ms >= wall_ms:
            found.append(wall_ms)
        else:
            # the early hours go on to now, and their doubt goes on growing as it does now; the
            # likely ones end with the record
            early = edge == "early"
            from_ms = known_ms if early else min(known_ms, heard_ms)
            told = getattr(ahead.when(from_ms, left_h * (_slack(track) if early else 1.0)), edge)
            found.append(wall_ms if told is None else min(told, wall_ms))
    return Eta(*found)


def _slack(track: ClockTrack) -> float:
    """Return which share of its likely hours a pot needs at its early end, as the room is now."""
    early = track.last_rate + CONFIDENT_Z * track.last_doubt
    return track.last_rate / early if early > 0.0 else 1.0
