"""What a cold night cost, as plain data; keys as in `plain`: units last, `None` is not known."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.shop.overnight_words import coverage_sentence, night_sentence, piece_sentence
from curewatch.shop.plain import instant
from curewatch.shop.plain_what_if import range_plain
from curewatch.shop.standings_told import night_standings

if TYPE_CHECKING:
    from curewatch.shop.overnight import PieceLost
    from curewatch.shop.overnight_words import Night
    from curewatch.shop.plain import Plain
    from curewatch.shop.words import Words


def night_plain(night: Night, words: Words) -> Plain:
    """Return what a stretch cost in one place."""
    lost = night.lost
    told = lost if lost is not None and lost.told else None
    bounds = None if lost is None else lost.bounds
    return {
        "where": night.where,
        "finish": night.finish.name,
        "from": instant(night.stretch.start_ms),
        "to": instant(night.stretch.stop_ms),
        "hours": night.stretch.hours,
        "covered_h": None if lost is None else lost.covered_h,
        "coverage_pct": night.coverage_pct,
        "coldest_c": night.coldest_c,
        "earned_h": None if lost is None else range_plain(lost.earned),
        "lost_against_reference_h": None if told is None else range_plain(told.against_reference),
        "lost_bounds_h": None if bounds is None else {"low": bounds[0], "high": bounds[1]},
        "expected_h": None if lost is None else range_plain(lost.expected),
        "lost_against_expected_h": None if told is None else range_plain(told.against_expected),
        "sentence": night_sentence(night, words),
        "coverage_sentence": coverage_sentence(night),
        "pieces": [piece_plain(piece, words) for piece in night.pieces],
        "standing": night_standings(night.finish),
    }


def piece_plain(piece: PieceLost, words: Words) -> Plain:
    """Return what a stretch did to a piece."""
    return {
        "piece": piece.tag,
        "finish": piece.finish,
        "next_milestone": None if piece.next_up is None else str(piece.next_up),
        "later_h": range_plain(piece.later_h),
        "young": piece.young,
        "chilled_h": piece.chilled_h,
        "floor_c": piece.floor_c,
        "not_measured_h": piece.blind_h,
        "not_measured_while_young_h": piece.unseen_h,
        "may_be_harmed": piece.harmed,
        "sentence": piece_sentence(piece, words),
    }
