"""The verdict on a piece: how it stands in a sentence, the next job, and when that is due."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.shop.chill import TELLING_H
from curewatch.shop.clocks import MS_PER_H
from curewatch.shop.finish import MilestoneName
from curewatch.shop.piece import WorkKind
from curewatch.shop.window import WindowState
from curewatch.shop.words import span

if TYPE_CHECKING:
    from curewatch.shop.assessment import PieceNow
    from curewatch.shop.milestones import Milestone
    from curewatch.shop.piece import Piece, Work
    from curewatch.shop.window import RecoatWindow
    from curewatch.shop.words import Words

    Verdict = tuple[str, str, int | None]

JOB = {
    MilestoneName.DRY_SAND: "dry-sand",
    MilestoneName.WET_SAND: "wet-sand",
    MilestoneName.BUFF: "buff",
    MilestoneName.FULL_CURE: "hand over as cured",
}
DONE_BY = {
    MilestoneName.WET_SAND: (WorkKind.WET_SAND, WorkKind.LEVEL, WorkKind.BUFF),
    MilestoneName.BUFF: (WorkKind.BUFF,),
}
COMES_AFTER = {MilestoneName.BUFF: (WorkKind.WET_SAND, WorkKind.LEVEL)}


def verdict(now: PieceNow, piece: Piece, words: Words, now_ms: int) -> Verdict:
    """Return sentence, next job and its instant [ms] for a piece with a coat."""
    window = now.window
    assert window is not None  # noqa: S101 - a piece with a coat has one
    if not now.coating_done and window.state is not WindowState.MISSED:
        return window.sentence, window.next_action, _due(window)
    stone = next_milestone(now, piece, now_ms)
    if stone is None or stone.required_hours is None:
        return window.sentence, window.next_action, None
    doubt = _doubt(now)
    if stone.cautious_at is not None:
        sentence, action, due = _ready(stone, _done(piece, now, now_ms), words, now_ms)
    elif stone.eta is None:
        sentence, action, due = _untold(stone)
    elif stone.reached_at is not None:
        sentence, action, due = _just_met(stone, now, words, now_ms)
    else:
        sentence, action, due = _waiting(stone, words, now_ms)
    if not now.coating_done:
        action = f"{action} For another coat: {window.next_action}"
    return sentence + doubt, action, due


def _due(window: RecoatWindow) -> int | None:
    """Return the edge of a window that the next job hangs on [ms]."""
    match window.state:
        case WindowState.OPEN | WindowState.CLOSING:
            return window.closes_at
        case WindowState.IN_MIDDLE:
            return window.reopens_at
        case _:
            return window.opens_at


def next_milestone(now: PieceNow, piece: Piece, now_ms: int) -> Milestone | None:
    """Return the milestone of the next job that has not been done since the last coat."""
    done = {work.kind for work in _done(piece, now, now_ms)}
    for name in (MilestoneName.WET_SAND, MilestoneName.BUFF):
        if not done.intersection(DONE_BY[name]):
            stone = now.milestone(name)
            if stone is not None and stone.required_hours is not None:
                return stone
    return now.milestone(MilestoneName.FULL_CURE)


def _done(piece: Piece, now: PieceNow, now_ms: int) -> list[Work]:
    """Return the work since the last coat; what was done before its time will be done again."""
    last = now.last_coat_at
    return [
        work
        for work in piece.work
        if last is not None and last < work.at_ms <= now_ms and not work.anyway
    ]


def _ready(stone: Milestone, done: list[Work], words: Words, now_ms: int) -> Verdict:
    """Say since when: a film is ready to buff once its hours are met and it was levelled."""
    before = COMES_AFTER.get(stone.name, ())
    since_ms = max([stone.cautious_at or 0, *(w.at_ms for w in done if w.kind in before)])
    return (
        f"Ready to {JOB[stone.name]} since {words.at(since_ms, now_ms)}: {_hours(stone)}.",
        "Go and test where it does not show; if it powders and takes no nail, go on.",
        since_ms,
    )


def _untold(stone: Milestone) -> Verdict:
    return (
        f"Not ready to {JOB[stone.name]}: {_hours(stone)}, and no date can be told.",
        "Look to the room: it earns next to nothing, or is not heard.",
        None,
    )


def _just_met(stone: Milestone, now: PieceNow, words: Words, now_ms: int) -> Verdict:
    late, falls = "just met", ""
    if (stone.cautious_hours or 0.0) > (stone.required_hours or 0.0) and now.sink_back is not None:
        late = "met"
        falls = f" The film has {now.sink_back.remaining_um:.1f} um still to fall."
    sure_ms = stone.eta_cautious_at
    until = "its cautious end" if sure_ms is None else words.ahead(sure_ms, now_ms)
    return (
        f"The rule to {JOB[stone.name]} is {late} ({_hours(stone)}), its cautious end is not."
        + falls,
        f"Wait until {until} to be sure, or test on a witness panel.",
        sure_ms,
    )


def _waiting(stone: Milestone, words: Words, now_ms: int) -> Verdict:
    assert stone.eta is not None  # noqa: S101 - the caller has looked
    due = stone.eta.late or stone.eta.likely
    left = "" if due is None else f" (in {span((due - now_ms) / MS_PER_H)})"
    plan = ", if the room goes as planned" if stone.planned else ""
    return (
        f"Not ready to {JOB[stone.name]}: {_hours(stone)}.",
        f"Expect {words.expect(stone.eta, now_ms)}{left}{plan}.",
        due,
    )


def _hours(stone: Milestone) -> str:
    return f"{stone.reached_hours or 0.0:.0f} of {stone.required_hours or 0.0:.0f} effective hours"


def _doubt(now: PieceNow) -> str:
    """Say what makes the hours less sure than they look."""
    doubt = ""
    if now.poorly_covered:
        doubt = f" Readings cover only {now.coverage_pct:.0f} % of the time."
    if now.chilled_h >= TELLING_H:
        doubt += (
            f" The film was too cold for {span(now.chilled_h)} in its first days: it may stay soft "
            "or hazy whatever the hours say."
        )
    return doubt
