"""The wood under the film: what the rooms it hung in have made of its moisture.

Nobody measures it here. It is taken to follow the equilibrium moisture content of its rooms with
one lag, from rest at what they asked for on average in the weeks before its first coat. Where that
is not known, neither is the wood. It moves slowly, so it is judged once a day of the piece's own.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from curewatch.science.wood import emc_pct, hours_to_settle, moisture_after
from curewatch.shop.climate import MINUTE_MS
from curewatch.shop.hourly import HOUR_MS
from curewatch.shop.words import span

if TYPE_CHECKING:
    from curewatch.shop.climate import Floats
    from curewatch.shop.piece import Piece
    from curewatch.shop.shop import Shop

DAY_H: Final = 24
DAY_MS: Final = DAY_H * HOUR_MS
SETTLES_MS: Final = 30 * MINUTE_MS  # so far back the slowest of a room's sensors may still add
LAGS_H: Final = (5.0 * DAY_H, 14.0 * DAY_H, 40.0 * DAY_H)
MIDDLE: Final = 1  # of the lags: what is told where one figure must do
LAGS_SOURCE: Final = (
    "from memory: finished plates lag their room by days to weeks, solid bodies by weeks to months"
)
BEFORE_H: Final = 14 * DAY_H
LEAD_H: Final = 21 * DAY_H  # the wood is taken to be at rest so long before the first coat
LEAST_BEFORE_H: Final = 7 * DAY_H
ROOM_H: Final = 3 * DAY_H  # days and nights of a room are no news to wood
LEAST_ROOM_H: Final = ROOM_H // 2
LEAST_COVERAGE_PCT: Final = 75.0
STALE_MS: Final = 3 * DAY_MS
LIMIT_POINTS: Final = 1.0
LIMIT_SOURCE: Final = (
    "common practice, no source: one point of moisture, what five points of relative humidity are "
    "worth, is what wood in a shop is let drift"
)
RELEASE_POINTS: Final = 0.8  # told already, it is told until less than this is left


@dataclass(frozen=True, slots=True)
class WoodNow:
    """A piece's wood as far as its rooms' record tells.

    Attributes
    ----------
    judged_at: the hour it is judged at [ms].
    known: whether it can be told; where not, `sentence` says why.
    room_emc_pct: what its room asks of wood, the mean of the last three days [%].
    before_emc_pct: the same over the 14 days before the first coat, or over what of them is known.
    before_coverage_pct: how much of those 14 days is known [%].
    coverage_pct: how much of the time since its record begins is known [%].
    at_first_coat_pct, at_last_coat_pct, now_pct: moisture the wood is taken to hold [%].
    since_first_coat_points: what it has moved since the first coat [points].
    drift_points: what is still to come if the room stays [points], negative: it will dry.
    settles_h: how long until that is within the limit, if the room stays [h].
    settles_early_h, settles_late_h: the same for a plate and for a solid body [h].
    sentence: all that, in words.
    """

    judged_at: int
    known: bool
    sentence: str
    room_emc_pct: float | None = None
    before_emc_pct: float | None = None
    before_coverage_pct: float = 0.0
    coverage_pct: float = 0.0
    at_first_coat_pct: float | None = None
    at_last_coat_pct: float | None = None
    now_pct: float | None = None
    since_first_coat_points: float | None = None
    drift_points: float | None = None
    settles_h: float | None = None
    settles_early_h: float | None = None
    settles_late_h: float | None = None

    @property
    def next_ms(self) -> int:
        """What the record of its room must reach for the next day to be judged [ms]."""
        return self.judged_at + DAY_MS + SETTLES_MS

    @property
    def stale_ms(self) -> int:
        """When nothing can be told any more without a newer record [ms]."""
        return self.judged_at + STALE_MS

    def moves(self, *, told: bool) -> bool:
        """Return whether the wood is known to move; what is told holds until well inside."""
        if self.drift_points is None:
            return False
        return abs(self.drift_points) >= (RELEASE_POINTS if told else LIMIT_POINTS)


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """Moisture at three moments [%], and how long the rest takes [h], for each of the lags."""

    at_first_pct: Floats
    at_last_pct: Floats
    now_pct: Floats
    settles_h: Floats


def wood_now(shop: Shop, piece: Piece, now_ms: int) -> WoodNow | None:
    """Return how a piece's wood stands; None where no room is known to tell of it.

    Parameters
    ----------
    shop : Shop
        The facts.
    piece : Piece
        Which piece; before its first stay it is taken to have hung in the room of that.
    now_ms : int
        The moment [ms].
    """
    room = piece.room_at(now_ms)
    frontier = None if room is None else shop.book.frontier_ms(room)
    if room is None or frontier is None:
        return None
    first_ms, last_ms = _coated(piece, now_ms)
    judged = _judged_h(first_ms or piece.stays[0].start_ms, min(now_ms, frontier) - SETTLES_MS)
    anchor = judged if first_ms is None else min(first_ms // HOUR_MS, judged)
    asked = _asked_pct(shop, piece, anchor - LEAD_H, judged)
    here = _hourly_pct(shop, room, judged - ROOM_H, judged)
    before = asked[LEAD_H - BEFORE_H : LEAD_H]
    begin = int(np.argmax(~np.isnan(asked)))  # the record may begin later
    seen = WoodNow(
        judged_at=judged * HOUR_MS,
        known=False,
        sentence="",
        room_emc_pct=_mean(here, LEAST_ROOM_H),
        before_emc_pct=_mean(before, 1),
        before_coverage_pct=_covered_pct(before),
        coverage_pct=_covered_pct(asked[begin:]),
    )
    why = _why_unknown(seen, before, now_ms)
    if why:
        return replace(seen, sentence=f"How far the wood has come cannot be told: {why}.")
    assert seen.room_emc_pct is not None  # noqa: S101 - or it would be why
    steps = _bridged(asked)
    rest = float(np.nanmean(asked[:LEAD_H]))
    lags = np.array(LAGS_H)
    at_first = _goes_on(np.full(lags.shape, rest), steps[begin:LEAD_H], lags)
    last = LEAD_H + min((last_ms or now_ms) // HOUR_MS, judged) - anchor
    at_last = _goes_on(at_first, steps[LEAD_H:last], lags)
    wood = _goes_on(at_last, steps[last:], lags)
    settles = hours_to_settle(seen.room_emc_pct - wood, within=LIMIT_POINTS, lag_h=lags)
    return _known(seen, Found(at_first, at_last, wood, settles), coated=first_ms is not None)


def _coated(piece: Piece, now_ms: int) -> tuple[int | None, int | None]:
    """Return when the first and the last coat by now were laid [ms]."""
    coats = piece.coats_until(now_ms)
    return (coats[0].at_ms, coats[-1].at_ms) if coats else (None, None)


def _judged_h(since_ms: int, until_ms: int) -> int:
    """Return the hour by the epoch that is whole days from `since_ms`, the last by `until_ms`."""
    begin = since_ms // HOUR_MS
    return begin + (until_ms // HOUR_MS - begin) // DAY_H * DAY_H


def _asked_pct(shop: Shop, piece: Piece, first: int, stop: int) -> Floats:
    """Return what the piece's rooms asked of its wood, hour by hour; NaN where not known [%]."""
    asked = np.full(stop - first, np.nan)
    for number, stay in enumerate(piece.stays):
        begin = first if number == 0 else max(-(-stay.start_ms // HOUR_MS), first)
        end = stop if stay.stop_ms is None else min(-(-stay.stop_ms // HOUR_MS), stop)
        if begin < end:
            asked[begin - first : end - first] = _hourly_pct(shop, stay.room, begin, end)
    return asked


def _hourly_pct(shop: Shop, room: str, begin: int, end: int) -> Floats:
    """Return what a room asks of wood in whole hours [%], NaN where not known."""
    hours = shop.book.hourly(room, end * HOUR_MS, hours=end - begin)
    asked = np.full(end - begin, np.nan)
    known = ~np.isnan(hours.temp_c) & ~np.isnan(hours.vapour_pressure_pa)
    found = np.full(known.shape, np.nan)
    found[known] = emc_pct(hours.temp_c[known], hours.rh_frac[known])
    late = begin - hours.first_hour  # a record that ends sooner is told from sooner on
    asked[: max(asked.size - late, 0)] = found[late:]
    return asked


def _mean(values: Floats, least: int) -> float | None:
    known = values[~np.isnan(values)]
    return float(known.mean()) if known.size >= least else None


def _covered_pct(values: Floats) -> float:
    return 100.0 * float(np.mean(~np.isnan(values)))


def _bridged(asked: Floats) -> Floats:
    """Lay straight lines over the hours that are not known."""
    hours, known = np.arange(asked.size), ~np.isnan(asked)
    return np.asarray(np.interp(hours, hours[known], asked[known]), dtype=np.float64)


def _goes_on(wood: Floats, steps: Floats, lags: Floats) -> Floats:
    return moisture_after(wood, steps, step_h=1.0, lag_h=lags) if steps.size else wood


def _why_unknown(seen: WoodNow, before: Floats, now_ms: int) -> str:
    """Say what is missing, '' where nothing is."""
    if np.count_nonzero(~np.isnan(before)) < LEAST_BEFORE_H:
        return (
            f"of the 14 days before the first coat {seen.before_coverage_pct:.0f} % are known, "
            "half are needed"
        )
    if seen.room_emc_pct is None or now_ms >= seen.stale_ms:
        return "the room's air of the last three days is not known"
    if seen.coverage_pct < LEAST_COVERAGE_PCT:
        return f"only {seen.coverage_pct:.0f} % of the time since then is known"
    return ""


def _known(seen: WoodNow, found: Found, *, coated: bool) -> WoodNow:
    """Add what was found to what was seen."""
    room, (early_h, middle_h, late_h) = seen.room_emc_pct or 0.0, found.settles_h.tolist()
    at_first, wood = float(found.at_first_pct[MIDDLE]), float(found.now_pct[MIDDLE])
    drift = room - wood
    return replace(
        seen,
        known=True,
        sentence=_sentence(wood, room, found.settles_h),
        at_first_coat_pct=at_first if coated else None,
        at_last_coat_pct=float(found.at_last_pct[MIDDLE]) if coated else None,
        now_pct=wood,
        since_first_coat_points=wood - at_first if coated else None,
        drift_points=drift,
        settles_h=middle_h,
        settles_early_h=early_h,
        settles_late_h=late_h,
    )


def _sentence(wood: float, room: float, settles_h: Floats) -> str:
    early_h, middle_h, late_h = settles_h.tolist()
    drift = room - wood
    said = (
        f"The wood is taken to hold {wood:.1f} % moisture; its room asks for {room:.1f} %: "
        f"{abs(drift):.1f} points to {'gain' if drift > 0.0 else 'lose'}"
    )
    if middle_h <= 0.0:
        return f"{said}, which is at rest within {LIMIT_POINTS:g} point."
    plate = "a plate at once" if early_h <= 0.0 else f"{span(early_h)} for a plate"
    return (
        f"{said}. If the room stays it is within {LIMIT_POINTS:g} point of rest in about "
        f"{span(middle_h)} ({plate}, {span(late_h)} for a solid body)."
    )
