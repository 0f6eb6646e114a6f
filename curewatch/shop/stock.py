"""Stock: where a lot of a finish stands, and whether it froze or stood outside its limits there.

The air of the room is what is known, by its sensor and that sensor's own error. A can follows the
air within hours, so a short excursion need not have reached what is in it; that is said, not
computed.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from curewatch.errors import BadInput
from curewatch.shop.climate import MINUTE_MS, RH, TEMP, TEMP_COVER
from curewatch.shop.finish import DryingLaw

if TYPE_CHECKING:
    from collections.abc import Iterable

    from curewatch.shop.book import ClockBook
    from curewatch.shop.finish import Finish
    from curewatch.shop.piece import Stay

PARTS = ("finish", "crosslinker", "catalyst", "thinner")
HOUR_MS = 60 * MINUTE_MS
FREEZES_C = 0.0  # water; what is in it lowers that by a little, which is not counted on
Side = Literal["frozen", "cold", "hot"]


@dataclass(frozen=True, slots=True)
class StockEntry:
    """One line of the stock book: a lot's place from `at_ms` on; room None: it is gone."""

    finish: str
    lot: str
    part: str
    room: str | None
    at_ms: int
    opened_ms: int | None = None
    keep_until_ms: int | None = None
    note: str = ""
    id: int = 0

    def __post_init__(self) -> None:
        """Refuse what is no part, and a lot without a number."""
        if self.part not in PARTS:
            raise BadInput(f"'{self.part}' is no part of a pot: say one of {', '.join(PARTS)}")
        if not self.lot.strip():
            raise BadInput("which lot? Give the number that stands on the can")


@dataclass(frozen=True, slots=True)
class Stock:
    """A lot as it stands.

    Attributes
    ----------
    finish, lot, part: what it is.
    stays: where it stood, in order of time.
    opened_ms, keep_until_ms: as last told [ms].
    gone_ms: when it was used up [ms], if it was.
    number: of the newest entry.
    """

    finish: str
    lot: str
    part: str
    stays: tuple[Stay, ...]
    opened_ms: int | None
    keep_until_ms: int | None
    gone_ms: int | None
    number: int

    def past_keep(self, at_ms: int) -> bool:
        """Return whether it was past its keep-until date at `at_ms` [ms]."""
        return self.keep_until_ms is not None and at_ms > self.keep_until_ms


@dataclass(frozen=True, slots=True)
class StockFault:
    """Hours a lot stood outside a limit, in one room.

    Attributes
    ----------
    side: 'frozen' (a water-based finish below 0 degC), 'cold' or 'hot'.
    room: where.
    start_ms, stop_ms: first and last minute of it [ms].
    hours: how long in all [h].
    worst_c: the coldest or hottest air [degC].
    limit_c: the limit [degC].
    bias_k: what the sensor may be off by [K].
    """

    side: Side
    room: str
    start_ms: int
    stop_ms: int
    hours: float
    worst_c: float
    limit_c: float
    bias_k: float

    @property
    def sure(self) -> bool:
        """Whether the air was outside whatever the sensor is off by."""
        beyond = self.worst_c - self.limit_c if self.side == "hot" else self.limit_c - self.worst_c
        return beyond > self.bias_k


def stock_faults(
    stock: Stock, finish: Finish, book: ClockBook, now_ms: int
) -> tuple[StockFault, ...]:
    """Return how a lot stood outside its limits up to `now_ms` [ms], in order of time.

    Only the finish itself is judged: its profile says nothing of what is mixed into it.
    """
    if stock.part != "finish":
        return ()
    found = [
        fault
        for stay in stock.stays
        if stay.start_ms < now_ms
        for side, limit_c in _limits(finish)
        if (fault := _fault(stay, side, limit_c, book=book, now_ms=now_ms)) is not None
    ]
    return tuple(sorted(found, key=lambda fault: (fault.start_ms, fault.limit_c)))


def unseen_h(stock: Stock, book: ClockBook, now_ms: int) -> float:
    """Return for how long no reading tells the air a lot stood in, up to `now_ms` [h]."""
    open_ms = 0.0
    for stay in stock.stays:
        stop_ms = now_ms if stay.stop_ms is None else min(stay.stop_ms, now_ms)
        if stop_ms <= stay.start_ms:
            continue
        climate = book.climates.get(stay.room)
        seen_pct = 0.0 if climate is None else climate.coverage_pct(stay.start_ms, stop_ms)
        open_ms += (stop_ms - stay.start_ms) * (1.0 - min(seen_pct / 100.0, 1.0))
    return open_ms / HOUR_MS


def lot_of(stocks: Iterable[Stock], finish: str, lot: str) -> Stock | None:
    """Return the stock a pot's lot of a finish came from, None where none was entered."""
    return next(
        (
            stock
            for stock in stocks
            if stock.finish == finish
            and stock.part == "finish"
            and stock.lot.casefold() == lot.casefold()
        ),
        None,
    )


def _limits(finish: Finish) -> list[tuple[Side, float]]:
    """Return the limits a finish is stored by [degC]."""
    limits: list[tuple[Side, float]] = []
    if finish.drying.law is DryingLaw.WATER:
        limits.append(("frozen", FREEZES_C))
    if finish.storage is not None and finish.storage.low_c is not None:
        limits.append(("cold", finish.storage.low_c.value))
    if finish.storage is not None and finish.storage.high_c is not None:
        limits.append(("hot", finish.storage.high_c.value))
    return limits


def _fault(
    stay: Stay, side: Side, limit_c: float, *, book: ClockBook, now_ms: int
) -> StockFault | None:
    """Return the minutes of a stay that were, or may have been, outside one limit."""
    climate = book.climates.get(stay.room)
    if climate is None or not climate.size:
        return None
    stop_ms = now_ms if stay.stop_ms is None else min(stay.stop_ms, now_ms)
    first = max(climate.index(stay.start_ms), 0)
    last = max(climate.index(stop_ms) + 1, first)
    temp_c, covered = climate.row(TEMP, first, last), climate.row(TEMP_COVER, first, last) > 0.0
    instants_ms = climate.start_ms + np.arange(first, first + temp_c.size) * MINUTE_MS
    off_k = book.budget(stay.room).along(instants_ms, climate.row(RH, first, last)).temp_k
    outside = temp_c + off_k > limit_c if side == "hot" else temp_c - off_k < limit_c
    minutes = np.flatnonzero(outside & covered)
    if not minutes.size:
        return None
    bias_k = float(np.broadcast_to(off_k, temp_c.shape)[minutes].max())
    worst = temp_c[minutes].max() if side == "hot" else temp_c[minutes].min()
    start_ms = climate.start_ms + first * MINUTE_MS
    return StockFault(
        side=side,
        room=stay.room,
        start_ms=start_ms + int(minutes[0]) * MINUTE_MS,
        stop_ms=start_ms + int(minutes[-1]) * MINUTE_MS,
        hours=minutes.size / 60.0,
        worst_c=float(worst),
        limit_c=limit_c,
        bias_k=bias_k,
    )
