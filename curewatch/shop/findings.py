"""What a person's findings say of the wait: fine, too early, or nothing.

A test speaks of the hours the film had when it was tested; a look at finished work speaks of the
hours it had when it was levelled or buffed, however late the look. Looks at one film are not
independent of each other, so a film tells at most two things of a milestone: the longest time
found too early and the shortest found fine.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TYPE_CHECKING, TypeAlias

from curewatch.science.learning import Finding
from curewatch.shop.finish import DryingLaw, MilestoneName
from curewatch.shop.piece import WorkKind

if TYPE_CHECKING:
    from curewatch.shop.finish import Finish
    from curewatch.shop.piece import Outcome, Piece, Work

DAY_MS = 86_400_000
LATE_DAYS = 25
"""From here on a look is a late one: the look asked for at 30 days is often made a little early."""
SAME_JOB_MS = DAY_MS // 2
"""A sanding finding and sanding work this close together are one job (our own rule)."""
DUE_RATIO = 0.9
"""From this share of a milestone's hours on a bare test is a test of it (our own rule)."""
SANDED_WHOLE_RATIO = 0.5
"""Before this share of the levelling hours an unexplained sanding is one between coats."""

HoursAt: TypeAlias = Callable[[MilestoneName, int], "tuple[float, float] | None"]
"""Effective hours since the last coat and hours required, for a milestone at an instant [ms]; None
where a clock does not run or the finish asks for nothing."""

LADDER = (MilestoneName.WET_SAND, MilestoneName.BUFF, MilestoneName.FULL_CURE)
FINISHING = {
    WorkKind.LEVEL: MilestoneName.WET_SAND,
    WorkKind.WET_SAND: MilestoneName.WET_SAND,
    WorkKind.BUFF: MilestoneName.BUFF,
}
SANDING = {
    WorkKind.SCUFF: MilestoneName.DRY_SAND,
    WorkKind.DRY_SAND: MilestoneName.DRY_SAND,
    WorkKind.LEVEL: MilestoneName.WET_SAND,
    WorkKind.WET_SAND: MilestoneName.WET_SAND,
}


class Says(StrEnum):
    """What a finding says of the wait."""

    FINE = "fine"
    TOO_EARLY = "too-early"
    NOTHING = "nothing"


class Speaks(StrEnum):
    """Which film a finding speaks of."""

    SANDED = "sanded"  # the film under the paper, as it was then
    TESTED = "tested"  # the film under the thumb, as it was then
    PACKED = "packed"  # the film a cloth or a case lay on
    BUFFED = "buffed"  # the film as it was when it was last buffed
    FINISHED = "finished"  # the film as it was when it was last levelled or buffed
    DEED_OR_TEST = "deed-or-test"  # finished work where there is some, else the film as it was then


@dataclass(frozen=True, slots=True)
class Meaning:
    """What a finding means, and why, in words for the bench."""

    says: Says
    speaks: Speaks
    why: str


MEANINGS = {
    "powders": Meaning(
        Says.FINE,
        Speaks.SANDED,
        "It sanded to dry powder, so the film was hard enough for that sanding.",
    ),
    "loads-paper": Meaning(
        Says.TOO_EARLY,
        Speaks.SANDED,
        "It balled up on the paper: the film was still soft where it was sanded.",
    ),
    "nail-dent": Meaning(
        Says.TOO_EARLY,
        Speaks.TESTED,
        "A nail left a mark: the film was too soft for the job it was tested for.",
    ),
    "thumbprint": Meaning(
        Says.TOO_EARLY,
        Speaks.TESTED,
        "A thumb left its print: the film was too soft for the job it was tested for.",
    ),
    "smell": Meaning(
        Says.TOO_EARLY,
        Speaks.TESTED,
        "It still smelled of solvent, so solvent was still leaving.",
    ),
    "lint-print": Meaning(
        Says.TOO_EARLY,
        Speaks.PACKED,
        "Cloth left its weave: the film was not hard enough to be packed.",
    ),
    "gloss-lost": Meaning(
        Says.TOO_EARLY,
        Speaks.BUFFED,
        "The gloss dulled afterwards: the film was still moving when it was buffed.",
    ),
    "grain-back": Meaning(
        Says.TOO_EARLY,
        Speaks.FINISHED,
        "Grain or scratches came back: the film was still shrinking when it was finished.",
    ),
    "fine": Meaning(
        Says.FINE,
        Speaks.DEED_OR_TEST,
        "Somebody looked for faults and found none.",
    ),
}
"""Every finding the bench can log. The readings are common practice, no source; that a late look
speaks of the day of the buffing is our own."""

DEEDS_LOOKED_AT = {
    Speaks.BUFFED: frozenset({WorkKind.BUFF}),
    Speaks.FINISHED: frozenset(FINISHING),
    Speaks.DEED_OR_TEST: frozenset(FINISHING),
}

UNKNOWN_FINDING = "Nothing is learnt from a finding of this name."
SMELL_ELSEWHERE = "Smell tells of solvent still leaving; this finish does not harden by losing it."
NO_COAT = "There was no coat on it yet."
NO_BUFFING = "No buffing since the last coat is on record, so nothing was there to lose its gloss."
NO_FINISHING = "No levelling or buffing since the last coat is on record, so nothing could sink."
NO_DEED = {Speaks.BUFFED: NO_BUFFING, Speaks.FINISHED: NO_FINISHING}
NO_HOURS = "The clock of that milestone does not run for this finish or has earned nothing yet."
FINE_EARLY = "Nobody had worked the film and it was not due for work: a look proves nothing yet."
OUTDONE = "Another look at the same film tells more."


@dataclass(frozen=True, slots=True)
class Evidence:
    """
    What one logged outcome says.

    Attributes
    ----------
    outcome : Outcome
        As logged.
    says : Says
        Fine, too early, or nothing.
    finding : Finding or None
        What is learnt from it; None where it says nothing, or another look says more.
    judged_ms : int or None
        The instant whose hours it speaks of [ms]; None where it says nothing.
    why : str
        A sentence for the bench.
    """

    outcome: Outcome
    says: Says
    finding: Finding | None
    judged_ms: int | None
    why: str


def evidence(
    piece: Piece, finish: Finish, *, hours_at: HoursAt, memory: float = 1.0
) -> tuple[Evidence, ...]:
    """
    Read everything that was found on a piece.

    Parameters
    ----------
    piece : Piece
        With its coats, work and outcomes.
    finish : Finish
        The profile it is judged by.
    hours_at : callable
        Hours earned and required, as `HoursAt` says.
    memory : float
        What outcomes on this piece still count, from `learning.memory_share` [fraction].

    Returns
    -------
    tuple of Evidence
        One an outcome, in their order; at most two findings a film and milestone.
    """
    read = [_read(piece, finish, outcome, hours_at, memory) for outcome in piece.outcomes]
    told = _tellers(piece, read)
    return tuple(
        each if each.finding is None or number in told else replace(each, finding=None, why=OUTDONE)
        for number, each in enumerate(read)
    )


def _read(
    piece: Piece, finish: Finish, outcome: Outcome, hours_at: HoursAt, memory: float
) -> Evidence:
    judged = _judged(piece, finish, outcome, hours_at)
    if isinstance(judged, str):
        return _nothing(outcome, judged)
    ratio = _ratio(hours_at, judged.about, judged.at_ms)
    if ratio is None:
        return _nothing(outcome, NO_HOURS)
    if judged.bare and ratio < DUE_RATIO:
        return _nothing(outcome, FINE_EARLY)
    meaning = MEANINGS[outcome.finding]
    late = outcome.at_ms - judged.at_ms >= LATE_DAYS * DAY_MS
    finding = Finding(ratio, meaning.says is Says.FINE, late, memory, judged.about)
    return Evidence(outcome, meaning.says, finding, judged.at_ms, meaning.why)


@dataclass(frozen=True, slots=True)
class _Judged:
    """Which milestone a finding speaks of, and the instant [ms] whose hours it judges."""

    about: MilestoneName
    at_ms: int
    bare: bool = False  # a look at a film that nobody had worked


def _judged(piece: Piece, finish: Finish, outcome: Outcome, hours_at: HoursAt) -> _Judged | str:
    """Return what a finding judges, or why it judges nothing."""
    at_ms = outcome.at_ms
    silent = _silent(piece, finish, outcome)
    if silent is not None:
        return silent
    match MEANINGS[outcome.finding].speaks:
        case Speaks.SANDED:
            return _Judged(_sanding(piece, at_ms, hours_at), at_ms)
        case Speaks.TESTED:
            return _Judged(_tested(piece, at_ms, hours_at), at_ms)
        case Speaks.PACKED:
            return _Judged(MilestoneName.FULL_CURE, at_ms)
        case looked:  # the three that look at finished work
            deed = _last_deed(piece, at_ms, DEEDS_LOOKED_AT[looked])
            if deed is None:
                test = _Judged(_tested(piece, at_ms, hours_at), at_ms, bare=True)
                return NO_DEED.get(looked) or test
            return _Judged(FINISHING[deed.kind], deed.at_ms)


def _silent(piece: Piece, finish: Finish, outcome: Outcome) -> str | None:
    """Return why a finding of this name, on this finish and piece, can say nothing."""
    if outcome.finding not in MEANINGS:
        return UNKNOWN_FINDING
    if outcome.finding == "smell" and finish.drying.law is not DryingLaw.SOLVENT:
        return SMELL_ELSEWHERE
    return None if piece.coats_until(outcome.at_ms) else NO_COAT


def _sanding(piece: Piece, at_ms: int, hours_at: HoursAt) -> MilestoneName:
    """Return which sanding it was: as logged, else between coats or the levelling."""
    near = [
        work
        for work in piece.work
        if work.kind in SANDING
        and abs(work.at_ms - at_ms) <= SAME_JOB_MS
        and piece.coats_until(work.at_ms) == piece.coats_until(at_ms)
    ]
    if near:
        return SANDING[min(near, key=lambda work: abs(work.at_ms - at_ms)).kind]
    more_coats = len(piece.coats) > len(piece.coats_until(at_ms))
    unfinished = piece.planned_coats is not None and not piece.coating_done(at_ms)
    ratio = _ratio(hours_at, MilestoneName.WET_SAND, at_ms)
    if more_coats or unfinished or (ratio is not None and ratio < SANDED_WHOLE_RATIO):
        return MilestoneName.DRY_SAND
    return MilestoneName.WET_SAND


def _tested(piece: Piece, at_ms: int, hours_at: HoursAt) -> MilestoneName:
    """Return what a bare test was for: the next job, or the latest the film was due for."""
    finished = _last_deed(piece, at_ms, frozenset(FINISHING))
    buffed = _last_deed(piece, at_ms, frozenset({WorkKind.BUFF}))
    step = 0 if finished is None else 1 if buffed is None else 2
    for number in range(step + 1, len(LADDER)):
        ratio = _ratio(hours_at, LADDER[number], at_ms)
        if ratio is not None and ratio >= DUE_RATIO:
            step = number
    return LADDER[step]


def _last_deed(piece: Piece, at_ms: int, kinds: frozenset[WorkKind]) -> Work | None:
    """Return the last work of these kinds between the last coat and `at_ms` [ms]."""
    coated_ms = piece.coats_until(at_ms)[-1].at_ms
    done = [work for work in piece.work if work.kind in kinds and coated_ms < work.at_ms <= at_ms]
    return done[-1] if done else None


def _ratio(hours_at: HoursAt, about: MilestoneName, at_ms: int) -> float | None:
    known = hours_at(about, at_ms)
    if known is None or known[0] <= 0.0:
        return None
    return known[0] / known[1]


def _tellers(piece: Piece, read: list[Evidence]) -> frozenset[int]:
    """Return which pieces of evidence tell most of their film and milestone.

    A fault seen at any time outdoes 'fine' of the same hours; then the longest time found too early
    and the shortest found fine remain, the late look before the early one.
    """
    kept: dict[tuple[int, str, bool], tuple[tuple[float, bool], int]] = {}
    faults = {
        (each.finding.about, each.judged_ms)
        for each in read
        if each.finding is not None and not each.finding.fine
    }
    for number, each in enumerate(read):
        if each.finding is None or each.judged_ms is None:
            continue
        found = each.finding
        if found.fine and (found.about, each.judged_ms) in faults:
            continue
        film = len(piece.coats_until(each.judged_ms))
        rank = (-found.ratio if found.fine else found.ratio, found.late)
        key = (film, found.about, found.fine)
        if key not in kept or rank > kept[key][0]:
            kept[key] = (rank, number)
    return frozenset(number for _, number in kept.values())


def _nothing(outcome: Outcome, why: str) -> Evidence:
    return Evidence(outcome, Says.NOTHING, None, None, why)
