"""What the page of a piece rests on, gathered in the daemon's thread: copies and frozen facts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from curewatch.assembly import stored_finish
from curewatch.entries.rejudging import changed, newer_profile
from curewatch.errors import BadInput
from curewatch.shop.assessment import assess_piece
from curewatch.shop.climate import MINUTE_MS, RH, RH_COVER, TEMP, TEMP_COVER
from curewatch.shop.film_layers import film_layers
from curewatch.shop.findings_asked import findings_for
from curewatch.shop.follow_up import due
from curewatch.shop.joining import part_of, parts_of
from curewatch.shop.milestones import PieceClocks
from curewatch.shop.waits import slowness
from curewatch.web.api import no_such
from curewatch.web.entering import shown_done
from curewatch.web.pot_facts import aside_pots, holds_on, standing_pots

if TYPE_CHECKING:
    from curewatch.entries.rejudging import Change
    from curewatch.shop.assessment import PieceNow
    from curewatch.shop.climate import Floats
    from curewatch.shop.film_layers import FilmLayers
    from curewatch.shop.finish import Finish
    from curewatch.shop.follow_up import FollowUp
    from curewatch.shop.piece import Piece
    from curewatch.shop.quarantine import Quarantine
    from curewatch.shop.shop import Shop
    from curewatch.storage.history import Entry
    from curewatch.web.desk import Counter
    from curewatch.web.entering import Done
    from curewatch.web.pot_facts import PotNow

LONGEST_MINUTES = 400 * 1440


@dataclass(frozen=True, slots=True, eq=False)
class PieceClimate:
    """The air a piece hung in since its first coat, minute by minute.

    Attributes
    ----------
    at_ms: instants [ms], shape (minutes,).
    temp_c, rh_frac: what the rooms had there [degC], [fraction]; NaN where nothing is known.
    """

    at_ms: Floats
    temp_c: Floats
    rh_frac: Floats


@dataclass(frozen=True, slots=True, eq=False)
class PieceFacts:
    """What the page shows.

    Attributes
    ----------
    piece, finish: as stored, and the profile it is judged by.
    now: how it stands; None once it has left the shop.
    layers: its coats as layers; None without a coat.
    climate: the air it hung in; None without a coat.
    history: everything ever entered.
    stage, findings: how far it has come, and what can be found then.
    pots: those of its finish that may be sprayed from, the newest first.
    aside: those of its finish that are set aside: whoever sprayed from one can still say so.
    rooms: where it can be moved to.
    others: tags and titles of the pieces it can be joined onto.
    holds: what sets it aside.
    newer, changes: the newest revision of its profile and what differs; 0 where it is judged by it.
    lots: its pots and their lots, which can be set aside with all that is sprayed from them.
    follow_ups: questions about it that wait.
    done: what a form has just entered.
    """

    piece: Piece
    finish: Finish
    now: PieceNow | None
    layers: FilmLayers | None
    climate: PieceClimate | None
    history: tuple[Entry, ...]
    stage: str
    findings: tuple[str, ...]
    pots: tuple[PotNow, ...]
    aside: tuple[PotNow, ...]
    rooms: tuple[str, ...]
    others: tuple[tuple[str, str], ...]
    holds: tuple[Quarantine, ...]
    newer: int
    changes: tuple[Change, ...]
    lots: tuple[tuple[str, str], ...]
    follow_ups: tuple[FollowUp, ...]
    done: Done | None


def gather(counter: Counter, tag: str, key: str = "") -> PieceFacts:
    """Gather everything about one piece.

    Raises
    ------
    NoSuch
        When no piece ever had the tag.
    """
    shop, now_ms = counter.shop, counter.now_ms
    try:
        stored = counter.store.pieces.load(tag)
    except BadInput:
        known = (piece.tag for piece in counter.store.pieces.load_all(left=True))
        raise no_such("piece", tag, known) from None
    piece = shop.pieces.get(stored.tag) or shop.parts.get(stored.tag) or stored
    here = piece is not stored and (piece.left_ms is None or piece.left_ms > now_ms)
    finish = shop.finish_of(piece) if here else _profile(counter, stored)
    stage, findings = findings_for(piece, now_ms)
    coated = here and bool(piece.coats_until(now_ms))
    newer, changes = _newer(counter, stored, finish) if here else (0, ())
    return PieceFacts(
        piece=piece,
        finish=finish,
        now=assess_piece(shop, piece, now_ms) if here else None,
        layers=_layers(shop, piece, now_ms) if coated else None,
        climate=piece_climate(shop, piece, now_ms) if coated else None,
        history=counter.store.pieces.history(piece.tag),
        stage=stage,
        findings=findings,
        pots=standing_pots(counter, {piece.finish}),
        aside=aside_pots(counter, {piece.finish}),
        rooms=tuple(shop.rooms),
        others=_others(shop, piece) if here else (),
        holds=holds_on(counter, stored.tag),
        newer=newer,
        changes=changes,
        lots=_lots(counter, stored),
        follow_ups=due(piece, now_ms),
        done=shown_done(counter, key),
    )


def _others(shop: Shop, piece: Piece) -> tuple[tuple[str, str], ...]:
    """Return what a piece can be joined onto: nothing where it is joined already."""
    if part_of(piece.tag, shop.joinings) is not None:
        return ()
    own = {piece.tag, *parts_of(piece.tag, shop.joinings)}
    known = {**shop.parts, **shop.pieces}
    return tuple((one.tag, one.title) for one in known.values() if one.tag not in own)


def _newer(counter: Counter, piece: Piece, finish: Finish) -> tuple[int, tuple[Change, ...]]:
    """Return the revision that re-judging a piece would take, and what differs from its own."""
    try:
        newest = newer_profile(counter.settings, counter.store, piece)
    except BadInput:  # it lies on no shelf any more, or cannot be read
        return 0, ()
    return (0, ()) if newest is None else (newest.revision, tuple(changed(finish, newest)))


def _lots(counter: Counter, piece: Piece) -> tuple[tuple[str, str], ...]:
    """Return pots a piece was sprayed from and their lots, each once: its sort and its name."""
    names = {coat.pot.casefold() for coat in piece.coats if coat.pot}
    if not names:
        return ()
    pots = [pot for pot in counter.store.batches.all() if pot.name.casefold() in names]
    lots = dict.fromkeys(lot for pot in pots for lot in (pot.lot, pot.crosslinker_lot) if lot)
    return (*(("batch", pot.name) for pot in pots), *(("lot", lot) for lot in lots))


def _profile(counter: Counter, piece: Piece) -> Finish:
    known = counter.shop.finishes.get((piece.finish, piece.finish_revision))
    return known or stored_finish(counter.store, piece.finish, piece.finish_revision)


def _layers(shop: Shop, piece: Piece, now_ms: int) -> FilmLayers:
    finish = shop.finish_of(piece)
    learnt = shop.learnt_of(finish)
    clocks = PieceClocks(
        piece, finish, book=shop.book, rooms=shop.rooms, now_ms=now_ms, learnt=learnt
    )
    return film_layers(clocks, pace=slowness(learnt))


def piece_climate(shop: Shop, piece: Piece, now_ms: int) -> PieceClimate:
    """Return the air that a piece with a coat hung in, copied from its rooms' tracks."""
    last = now_ms // MINUTE_MS
    first = max(piece.coats[0].at_ms // MINUTE_MS, last - LONGEST_MINUTES)
    size = int(last - first) + 1
    values = np.full((2, size), np.nan)
    for stay in piece.stays:
        track = shop.book.climates.get(stay.room)
        if track is None:
            continue
        stop = last + 1 if stay.stop_ms is None else min(-(-stay.stop_ms // MINUTE_MS), last + 1)
        begin = max(stay.start_ms // MINUTE_MS, first, track.first_minute)
        stop = min(stop, track.first_minute + track.size)
        if begin >= stop:
            continue
        cells = (int(begin - track.first_minute), int(stop - track.first_minute))
        place = slice(int(begin - first), int(stop - first))
        for number, (row, cover) in enumerate(((TEMP, TEMP_COVER), (RH, RH_COVER))):
            known = track.row(cover, *cells) > 0.0
            values[number, place] = np.where(known, track.row(row, *cells), np.nan)
    at_ms = (first + np.arange(size, dtype=np.float64)) * MINUTE_MS
    return PieceClimate(at_ms, values[0], values[1])
