"""The order of work: what must be coated before when, what is ready, what is coming.

Made from the assessment alone. Nothing is ordered by decimals that nobody can know: instants are
compared as coarsely as they are told, and ties go by tag.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

from curewatch.shop.ahead import Eta
from curewatch.shop.finish import MilestoneName
from curewatch.shop.verdict import (
    JOB,
    buffed_early,
    next_milestone,
    wants_coat,
    wood_moves,
    wood_rests,
    wood_yields,
)
from curewatch.shop.window import WindowState
from curewatch.shop.words import FAR_MS, HOUR_MS, NEAR_MS

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from curewatch.shop.assessment import Assessment, PieceNow
    from curewatch.shop.milestones import Milestone
    from curewatch.shop.piece import Piece
    from curewatch.shop.words import Words

COAT = "next coat"
SCUFFED_COAT = "scuff and coat"
GLOSS = "judge the gloss"
FIRST_COAT = "first coat"
QUARTER_MS = HOUR_MS // 4


class Group(StrEnum):
    """Where a piece stands in the order of work."""

    DUE = "due"  # must be done by a time
    READY = "ready"  # go and test
    COMING = "coming"
    WAITING = "waiting"  # nothing can be told, or nothing is to be done
    HELD = "held"  # set aside by a person


@dataclass(frozen=True, slots=True)
class Job:
    """A piece's next job.

    Attributes
    ----------
    tag, title, room: the piece.
    group: where it stands.
    job: what is to be done, in a word or two.
    at_ms: by when for what is due, since when for what is ready, when surely for what is coming
        [ms]; None where it cannot be told.
    eta: what is coming, early, likely and late.
    today: whether it can, or must, be done on the day the list is made.
    reason: why, as a sentence.
    action: what to do.
    """

    tag: str
    title: str
    room: str | None
    group: Group
    job: str
    at_ms: int | None
    eta: Eta
    today: bool
    reason: str
    action: str


@dataclass(frozen=True, slots=True)
class BenchList:
    """The list at a moment [ms]: the groups, each in the order of its work."""

    at_ms: int
    due: tuple[Job, ...]
    ready: tuple[Job, ...]
    coming: tuple[Job, ...]
    waiting: tuple[Job, ...]
    held: tuple[Job, ...]


NOT_TOLD = Eta(None, None, None)


def bench_list(
    assessment: Assessment,
    pieces: Mapping[str, Piece],
    words: Words,
    *,
    held: Mapping[str, str] | None = None,
) -> BenchList:
    """Return the order of work.

    Parameters
    ----------
    assessment : Assessment
        The shop as it stands.
    pieces : mapping of str to Piece
        The pieces by tag, for the work that was done on them.
    words : Words
        The shop's way of saying things; its zone tells what today is.
    held : mapping of str to str or None
        Pieces that are set aside beside those the assessment holds, with the reason.
    """
    aside = {now.tag: now.held for now in assessment.pieces if now.held is not None}
    aside |= held or {}
    now_ms = assessment.at_ms
    jobs: list[Job] = []
    for now in assessment.pieces:
        place = _Place(now, now_ms, words)
        if now.tag in aside:
            jobs.append(place.job(Group.HELD, "set aside", None, reason=aside[now.tag]))
        else:
            jobs.append(_next_job(place, pieces[now.tag]))

    def group(which: Group, key: Callable[[Job], tuple[int, str]]) -> tuple[Job, ...]:
        return tuple(sorted((job for job in jobs if job.group is which), key=key))

    def told(job: Job) -> tuple[int, str]:
        return _as_told(job.at_ms, now_ms), job.tag

    return BenchList(
        now_ms,
        group(Group.DUE, lambda job: (job.at_ms or 0, job.tag)),
        group(Group.READY, told),
        group(Group.COMING, told),
        group(Group.WAITING, lambda job: (0, job.tag)),
        group(Group.HELD, lambda job: (0, job.tag)),
    )


def eta_of(stone: Milestone) -> Eta:
    """Return when a milestone is expected: the one place that reads it."""
    if stone.eta is None:
        return NOT_TOLD
    likely = stone.eta.likely or stone.reached_at
    return Eta(stone.eta.early or likely, likely, stone.eta.late)


@dataclass(frozen=True, slots=True)
class _Place:
    """A piece at the moment of the list."""

    now: PieceNow
    now_ms: int
    words: Words

    def job(
        self,
        group: Group,
        what: str,
        at_ms: int | None,
        *,
        eta: Eta = NOT_TOLD,
        reason: str = "",
    ) -> Job:
        """Return a job of this piece; its reason is the assessment's unless another is given."""
        now, words = self.now, self.words
        by_tonight = at_ms is not None and (
            words.local(at_ms).date() <= words.local(self.now_ms).date()
        )
        return Job(
            now.tag,
            now.title,
            now.room,
            group,
            what,
            at_ms,
            eta,
            by_tonight and group is not Group.HELD,
            reason or now.sentence,
            "" if reason else now.next_action,
        )


def _next_job(place: _Place, piece: Piece) -> Job:
    now = place.now
    if now.window is None:
        return place.job(Group.WAITING, FIRST_COAT, None)
    stone = next_milestone(now, piece, place.now_ms)
    job = _by_the_film(place, piece, stone)
    if wood_moves(now, piece, place.now_ms) and not wood_yields(now):
        rests = wood_rests(now)
        return place.job(Group.COMING, job.job, rests.late, eta=rests)
    return job


def _by_the_film(place: _Place, piece: Piece, stone: Milestone | None) -> Job:
    """Return the next job of a piece with a coat, whatever the wood under it does."""
    now = place.now
    if wants_coat(now) and not _rests(now, stone):
        return _coat_job(place)
    if stone is None or stone.required_hours is None:
        return place.job(Group.WAITING, "see its sheet", None)
    early = buffed_early(now, piece, place.now_ms) is not None
    judged = early and stone.name is MilestoneName.BUFF
    return _stone_job(place, stone, GLOSS if judged else JOB[stone.name])


def _rests(now: PieceNow, stone: Milestone | None) -> bool:
    """Whether a piece of which nobody said how many coats it gets has waited its whole time."""
    window = now.window
    assert window is not None  # noqa: S101 - it has a coat
    return (
        now.planned_coats is None
        and window.closes_at is None
        and stone is not None
        and stone.cautious_at is not None
    )


def _coat_job(place: _Place) -> Job:
    now = place.now
    window, opens = now.window, now.milestone(MilestoneName.RECOAT_OPENS)
    assert window is not None  # noqa: S101 - it has a coat
    assert opens is not None  # noqa: S101 - as above
    if window.scuff_first:
        return place.job(Group.READY, SCUFFED_COAT, window.reopens_at or window.passed_at)
    shut = window.state in (WindowState.MISSED, WindowState.IN_MIDDLE)
    what = SCUFFED_COAT if shut else COAT
    if window.state in (WindowState.OPEN, WindowState.CLOSING):
        if window.closes_at is not None:
            return place.job(Group.DUE, what, window.closes_at)
        return place.job(Group.READY, what, window.surely_open_at)
    if shut and window.reopens_at is not None:
        far = Eta(None, None, window.reopens_at)
        return place.job(Group.COMING, what, window.reopens_at, eta=far)
    eta = eta_of(opens)
    if window.state is WindowState.IN_MIDDLE or eta == NOT_TOLD:
        return place.job(Group.WAITING, what, None)
    return place.job(Group.COMING, what, eta.late, eta=eta)


def _stone_job(place: _Place, stone: Milestone, what: str) -> Job:
    now = place.now
    if now.held_back_by is not None:  # by a part that is joined to it
        group = Group.WAITING if now.next_at is None else Group.COMING
        return place.job(group, what, now.next_at)
    if stone.cautious_at is not None:
        # a sentence that leads with the milestone says since when, levelling included
        since_ms = stone.cautious_at if wants_coat(now) else now.next_at
        return place.job(Group.READY, what, since_ms)
    eta = eta_of(stone)
    if eta == NOT_TOLD:
        return place.job(Group.WAITING, what, None)
    return place.job(Group.COMING, what, eta.late, eta=eta)


def _as_told(at_ms: int | None, now_ms: int) -> int:
    """Return an instant as coarsely as it is told, so that order claims no more; unknown last."""
    if at_ms is None:
        return 2**62
    away = abs(at_ms - now_ms)
    step = QUARTER_MS if away < NEAR_MS else HOUR_MS if away < FAR_MS else 12 * HOUR_MS
    return -(-at_ms // step) * step
