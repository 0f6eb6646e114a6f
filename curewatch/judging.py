"""Reading what outcomes amounted to by the record of their time, each once.

The answer is kept in storage beside a fingerprint of all that it hangs on: the piece, its profile,
the rooms it hung in, and the rules. A change to the past makes the row go, so that late and
corrected readings are taken into account whenever they come.
"""

from __future__ import annotations

import hashlib
import json
import logging
from dataclasses import dataclass
from typing import TYPE_CHECKING

from curewatch import __version__
from curewatch.errors import StorageError
from curewatch.room_feed import RoomFeed
from curewatch.science.learning import Finding
from curewatch.shop.book import ClockBook
from curewatch.shop.climate import MINUTE_MS
from curewatch.shop.findings import Evidence, Says
from curewatch.shop.pace import Judged, judge
from curewatch.shop.shop import Shop, biases

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from curewatch.shop.finish import Finish
    from curewatch.shop.piece import Piece
    from curewatch.storage import Store

LOG = logging.getLogger(__name__)
RULES = f"{__version__}-1"
"""Raise the number when anything that an outcome is judged by changes between two versions."""
DAY_MS = 86_400_000
LONGEST_READ_MS = 400 * DAY_MS  # so much of the minute record is in memory at once


@dataclass(frozen=True, slots=True)
class _Case:
    """A piece to be judged anew, and the span of the record that has a part in it [ms]."""

    piece: Piece
    finish: Finish
    fingerprint: str
    start_ms: int
    stop_ms: int


def judge_all(store: Store, shop: Shop, pieces: Iterable[Piece]) -> dict[str, Judged]:
    """
    Return what the outcomes of pieces amounted to, by tag.

    Parameters
    ----------
    store : Store
        What is kept of earlier times is taken from it where it still holds, else kept anew.
    shop : Shop
        Rooms, sensors, and the profiles of the pieces.
    pieces : iterable of Piece
        Those with outcomes, ones that left included.
    """
    kept = store.judged.all()
    found: dict[str, Judged] = {}
    fresh: list[_Case] = []
    for piece in pieces:
        case = _case(piece, shop)
        fingerprint, said = kept.get(piece.tag, ("", ""))
        if fingerprint == case.fingerprint:
            found[piece.tag] = Judged(piece, case.finish, _read(piece, said))
        else:
            fresh.append(case)
    for group in _grouped(fresh):
        found |= _judge_group(store, shop, group)
    return found


def _case(piece: Piece, shop: Shop) -> _Case:
    finish = shop.finish_of(piece)
    rooms = sorted({stay.room for stay in piece.stays})
    around = [(shop.room(room), shop.longest_gap_s(room)) for room in rooms]
    whole = repr((RULES, piece, finish, around))
    fingerprint = hashlib.sha256(whole.encode()).hexdigest()
    lead_ms = round(1000.0 * max((gap_s for _, gap_s in around), default=0.0)) + MINUTE_MS
    times = [outcome.at_ms for outcome in piece.outcomes]
    first_ms = piece.coats[0].at_ms if piece.coats else min(times)
    return _Case(piece, finish, fingerprint, first_ms - lead_ms, max(times) + lead_ms)


def _grouped(cases: Sequence[_Case]) -> list[list[_Case]]:
    """Return the cases in groups whose record is read together, oldest first."""
    groups: list[list[_Case]] = []
    for case in sorted(cases, key=lambda one: one.start_ms):
        if groups:
            stop_ms = max(one.stop_ms for one in groups[-1])
            whole_ms = max(stop_ms, case.stop_ms) - groups[-1][0].start_ms
            if case.start_ms <= stop_ms and whole_ms <= LONGEST_READ_MS:
                groups[-1].append(case)
                continue
        groups.append([case])
    return groups


def _judge_group(store: Store, shop: Shop, cases: Sequence[_Case]) -> dict[str, Judged]:
    """Judge pieces by the record of their time, which is forgotten again; keep what was found."""
    begun = _begin(store, cases)
    past = Shop(rooms=shop.rooms, sensors=shop.sensors)
    past.book = ClockBook(biases(shop.rooms, shop.sensors))
    rooms = sorted({stay.room for case in cases for stay in case.piece.stays})
    start_ms, stop_ms = cases[0].start_ms, max(case.stop_ms for case in cases)
    RoomFeed(store, past).load(start_ms, rooms, stop_ms=stop_ms)
    found = {case.piece.tag: judge(case.piece, case.finish, past) for case in cases}
    said = {number: _written(found[tag].said) for tag, number in begun.items()}
    try:
        store.judged.complete(said)
    except StorageError as error:
        LOG.info("what outcomes amounted to was not kept: %s", error)
    return found


def _begin(store: Store, cases: Sequence[_Case]) -> dict[str, int]:
    """Begin rows for pieces; none where storage takes nothing: they are judged again then."""
    try:
        with store.db.transaction():
            return {
                case.piece.tag: store.judged.begin(
                    case.piece.tag, case.fingerprint, start_ms=case.start_ms, stop_ms=case.stop_ms
                )
                for case in cases
            }
    except StorageError as error:
        LOG.info("what outcomes amount to is not kept: %s", error)
        return {}


def _written(said: Sequence[Evidence]) -> str:
    return json.dumps(
        [
            {
                "says": str(one.says),
                "judged_ms": one.judged_ms,
                "why": one.why,
                "finding": None
                if one.finding is None
                else [
                    one.finding.ratio,
                    one.finding.fine,
                    one.finding.late,
                    one.finding.memory,
                    str(one.finding.about),
                ],
            }
            for one in said
        ]
    )


def _read(piece: Piece, said: str) -> tuple[Evidence, ...]:
    return tuple(
        Evidence(
            outcome,
            Says(one["says"]),
            None if one["finding"] is None else Finding(*one["finding"]),
            one["judged_ms"],
            one["why"],
        )
        for outcome, one in zip(piece.outcomes, json.loads(said), strict=True)
    )
