"""A piece's history told coat by coat: in which air each was laid, and how old the film was.

Every number is taken from the same clocks and climate that judge the piece; nothing is judged here.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from curewatch.shop.assessment import assess_piece
from curewatch.shop.climate import ASSUMED, RH, RH_COVER, TEMP, TEMP_COVER
from curewatch.shop.clocks import MS_PER_H
from curewatch.shop.finish import ClockName
from curewatch.shop.gone import quiet_s
from curewatch.shop.joining import part_of, parts_of
from curewatch.shop.milestones import PieceClocks
from curewatch.shop.trial_history import history

if TYPE_CHECKING:
    from curewatch.shop.assessment import PieceNow
    from curewatch.shop.climate import Floats
    from curewatch.shop.finish import Finish
    from curewatch.shop.piece import Coat, Outcome, Piece, Work
    from curewatch.shop.shop import Shop
    from curewatch.shop.trial_history import History

BEFORE_MS = 3_600_000
AFTER_MS = 24 * 3_600_000
"""The air told of a coat: from an hour before it to the next one, at most a day (our choice)."""


@dataclass(frozen=True, slots=True)
class AirSpan:
    """The air where a piece hung, over a stretch; None where nothing was measured.

    Attributes
    ----------
    start_ms, stop_ms: the stretch [ms].
    mean_temp_c, coldest_c, warmest_c: [degC].
    mean_rh_frac, dampest_rh_frac: [fraction].
    coverage_pct: how much of it readings bridge, or a person filled in [%].
    assumed_pct: how much of it a person filled in [%].
    """

    start_ms: int
    stop_ms: int
    mean_temp_c: float | None = None
    coldest_c: float | None = None
    warmest_c: float | None = None
    mean_rh_frac: float | None = None
    dampest_rh_frac: float | None = None
    coverage_pct: float = 0.0
    assumed_pct: float = 0.0


@dataclass(frozen=True, slots=True)
class CoatFacts:
    """A coat with what surrounds it.

    Attributes
    ----------
    number: which coat, counted from 1.
    coat: as it was entered.
    room: where the piece hung; None: nobody said.
    air: of the hours around it.
    wall_h, drying_h, cure_h: since the coat before, on each clock [h]; None for the first coat, or
        where the finish has no such clock.
    """

    number: int
    coat: Coat
    room: str | None
    air: AirSpan
    wall_h: float | None = None
    drying_h: float | None = None
    cure_h: float | None = None


@dataclass(frozen=True, slots=True)
class StageFacts:
    """Work or a finding, and how old the film was then."""

    entry: Work | Outcome
    age: History


@dataclass(frozen=True, slots=True)
class RecordFacts:
    """A piece's whole history.

    Attributes
    ----------
    piece, finish: the piece, and the profile it was sprayed under.
    until_ms: the moment told of: now, or when it left the shop [ms].
    coats: in order.
    stages: work and findings in order of time, also those made after it left.
    last: how old the film is at `until_ms`.
    standing: the assessment then.
    gaps: stretches without a reading since the first coat, as (start, stop) [ms].
    air: from the first coat to `until_ms`; None before the first coat.
    parts, part_of: tags of what is joined to it, and of what it is joined onto.
    """

    piece: Piece
    finish: Finish
    until_ms: int
    coats: tuple[CoatFacts, ...]
    stages: tuple[StageFacts, ...]
    last: History
    standing: PieceNow
    gaps: tuple[tuple[int, int], ...]
    air: AirSpan | None
    parts: tuple[str, ...]
    part_of: str | None


def record_facts(shop: Shop, piece: Piece, now_ms: int) -> RecordFacts:
    """Return a piece's history up to `now_ms` [ms], or until it left the shop.

    Parameters
    ----------
    shop : Shop
        With the record of every room the piece hung in.
    piece : Piece
        Also one that left.
    now_ms : int
        The moment [ms].
    """
    left = piece.left_ms is not None and piece.left_ms <= now_ms
    until_ms = piece.left_ms - 1 if left and piece.left_ms is not None else now_ms
    finish = shop.finish_of(piece)
    coats = piece.coats_until(until_ms)
    entries: list[Work | Outcome] = [*piece.work, *piece.outcomes]
    stages = sorted((one for one in entries if one.at_ms <= now_ms), key=lambda one: one.at_ms)
    whole = air_between(shop, piece, coats[0].at_ms, until_ms) if coats else None
    return RecordFacts(
        piece=piece,
        finish=finish,
        until_ms=until_ms,
        coats=tuple(_coat(shop, piece, n, until_ms) for n in range(len(coats))),
        stages=tuple(StageFacts(one, history(shop, piece, one.at_ms)) for one in stages),
        last=history(shop, piece, until_ms),
        standing=assess_piece(shop, piece, until_ms),
        gaps=_gaps(shop, piece, finish, until_ms) if coats else (),
        air=whole,
        parts=parts_of(piece.tag, shop.joinings),
        part_of=part_of(piece.tag, shop.joinings),
    )


def _coat(shop: Shop, piece: Piece, index: int, until_ms: int) -> CoatFacts:
    coats = piece.coats_until(until_ms)
    coat = coats[index]
    after = [other.at_ms for other in coats[index + 1 :]]
    stop_ms = min([coat.at_ms + AFTER_MS, until_ms, *after])
    air = air_between(shop, piece, coat.at_ms - BEFORE_MS, max(stop_ms, coat.at_ms))
    room = piece.room_at(coat.at_ms)
    if index == 0:
        return CoatFacts(1, coat, room, air)
    before = replace(piece, coats=coats[:index])
    clocks = PieceClocks(
        before, shop.finish_of(piece), book=shop.book, rooms=shop.rooms, now_ms=coat.at_ms
    )
    earned = (clocks.reading(name) for name in (ClockName.DRYING, ClockName.CURE))
    hours = [None if one is None else one.effective_hours for one in earned]
    wall_h = (coat.at_ms - coats[index - 1].at_ms) / MS_PER_H
    return CoatFacts(index + 1, coat, room, air, wall_h, *hours)


def _gaps(shop: Shop, piece: Piece, finish: Finish, until_ms: int) -> tuple[tuple[int, int], ...]:
    """Return the gaps since the first coat."""
    first = replace(piece, coats=piece.coats[:1])
    clocks = PieceClocks(first, finish, book=shop.book, rooms=shop.rooms, now_ms=until_ms)
    return clocks.gaps(partial(quiet_s, shop))


def air_between(shop: Shop, piece: Piece, start_ms: int, stop_ms: int) -> AirSpan:
    """Return the air where a piece hung between two instants [ms]."""
    temps, damps = [], []
    assumed = 0.0
    for stay in piece.stays:
        track = shop.book.climates.get(stay.room)
        begin = max(stay.start_ms, start_ms)
        end = stop_ms if stay.stop_ms is None else min(stay.stop_ms, stop_ms)
        if track is None or begin >= end:
            continue
        first, last = max(track.index(begin), 0), max(track.index(end), 0)
        temps.append(np.stack((track.row(TEMP, first, last), track.row(TEMP_COVER, first, last))))
        damps.append(np.stack((track.row(RH, first, last), track.row(RH_COVER, first, last))))
        assumed += float(track.row(ASSUMED, first, last).sum())
    minutes = max((stop_ms - start_ms) / 60_000.0, 1.0)
    temp, cover = _covered(temps)
    rh, rh_cover = _covered(damps)
    known, damp_known = bool(temp.size), bool(rh.size)
    return AirSpan(
        start_ms,
        stop_ms,
        mean_temp_c=float(np.average(temp, weights=cover)) if known else None,
        coldest_c=float(temp.min()) if known else None,
        warmest_c=float(temp.max()) if known else None,
        mean_rh_frac=float(np.average(rh, weights=rh_cover)) if damp_known else None,
        dampest_rh_frac=float(rh.max()) if damp_known else None,
        coverage_pct=min(float(cover.sum()) / minutes * 100.0, 100.0),
        assumed_pct=min(assumed / minutes * 100.0, 100.0),
    )


def _covered(parts: list[Floats]) -> tuple[Floats, Floats]:
    """Return the values that readings bridge, and by how much of their minute."""
    if not parts:
        return np.zeros(0), np.zeros(0)
    values, cover = np.concatenate(parts, axis=1)
    known = cover > 0.0
    return values[known], cover[known]
