"""The verdict on a piece: how it stands in a sentence, the next job, and when that is due.

While coats are planned the recoat window leads, missed or not. What may spoil the film whatever the
clocks say stands in the sentence too: coats that may not bond, a pot that was over. Wood that still
moves outranks the film's clocks, and is outranked by a window that closes.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.shop.ahead import Eta
from curewatch.shop.alert import AlertKind
from curewatch.shop.chill import TELLING_H
from curewatch.shop.clocks import MS_PER_H
from curewatch.shop.deeds import DEED_SPEAKS_MS
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
SPOILS = (AlertKind.COAT_LATE, AlertKind.COAT_IN_MIDDLE, AlertKind.POT_OVER)
STILL_CLOSES = (
    WindowState.TOO_EARLY,
    WindowState.OPENING,
    WindowState.OPEN,
    WindowState.CLOSING,
)
PRINTS = (
    "or bring the room back: grain, joints and glue lines will print while the wood moves. A "
    "moisture meter on bare wood decides."
)
WOOD_WAITS = f"Wait with coats, levelling and buffing, {PRINTS}"
WOOD_YIELDS = (
    "The recoat window closes and outranks the wood: lay the coats in time, then wait with "
    f"levelling and buffing, {PRINTS}"
)
COMES_AFTER = {MilestoneName.BUFF: (WorkKind.WET_SAND, WorkKind.LEVEL)}


def verdict(now: PieceNow, piece: Piece, words: Words, now_ms: int) -> Verdict:
    """Return sentence, next job and its instant [ms] for a piece with a coat."""
    sentence, action, due = _by_the_film(now, piece, words, now_ms)
    for deed in now.deeds:
        if deed.kind in SPOILS and now_ms - deed.at_ms < DEED_SPEAKS_MS:
            laid = words.dated(deed.at_ms, now_ms)
            sentence += f" The coat of {laid}: {deed.reason} {deed.next_action}"
    return with_wood(now, piece, (sentence, action, due), now_ms)


def with_wood(now: PieceNow, piece: Piece, alone: Verdict, now_ms: int) -> Verdict:
    """Return a verdict on the film alone with what the wood under it asks for."""
    sentence, action, due = alone
    if not wood_moves(now, piece, now_ms):
        return alone
    assert now.wood is not None  # noqa: S101 - it moves
    rest_h = now.wood.settles_h or 0.0
    sentence += f" The wood under it still moves: about {span(rest_h)} to rest."
    if wood_yields(now):
        return sentence, f"{action} {WOOD_YIELDS}", due
    return sentence, f"{WOOD_WAITS} By the film alone: {action}", wood_rests(now).likely


def wood_moves(now: PieceNow, piece: Piece, now_ms: int, *, told: bool = False) -> bool:
    """Return whether the wood moves, and work is still to come that would show it."""
    return now.wood is not None and now.wood.moves(told=told) and _work_ahead(now, piece, now_ms)


def wood_yields(now: PieceNow) -> bool:
    """Return whether a window that closes outranks the wood: a planned coat cannot wait for it."""
    window = now.window
    if window is None or now.coating_done or window.closes_at is None:
        return False
    return window.state in STILL_CLOSES


def wood_rests(now: PieceNow) -> Eta:
    """Return when the wood comes to rest if the room stays: a plate, in between, a solid body."""
    wood = now.wood
    assert wood is not None  # noqa: S101 - the caller has looked

    def at(settles_h: float | None) -> int:
        return wood.judged_at + round((settles_h or 0.0) * MS_PER_H)

    return Eta(at(wood.settles_early_h), at(wood.settles_h), at(wood.settles_late_h))


def _work_ahead(now: PieceNow, piece: Piece, now_ms: int) -> bool:
    """Return whether coats, levelling or buffing are still to come."""
    stone = next_milestone(now, piece, now_ms)
    if stone is not None and stone.name in (MilestoneName.WET_SAND, MilestoneName.BUFF):
        return True
    since = now.last_coat_at or 0
    buffed = any(w.kind is WorkKind.BUFF and since < w.at_ms <= now_ms for w in piece.work)
    return not now.coating_done and not buffed


def wants_coat(now: PieceNow) -> bool:
    """Return whether the next coat is the next job.

    After a missed window it is where coats are still planned; where nobody said how many there
    are, the film may well have had its last.
    """
    window = now.window
    assert window is not None  # noqa: S101 - a piece with a coat has one
    if now.coating_done:
        return False
    return now.planned_coats is not None or window.state is not WindowState.MISSED


def buffed_early(now: PieceNow, piece: Piece, now_ms: int) -> int | None:
    """Return when the film was buffed before its time, on purpose [ms]; None where it was not."""
    last = now.last_coat_at or 0
    early = [
        work.at_ms
        for work in piece.work
        if work.kind is WorkKind.BUFF and work.anyway and last < work.at_ms <= now_ms
    ]
    return max(early, default=None)


def _by_the_film(now: PieceNow, piece: Piece, words: Words, now_ms: int) -> Verdict:
    window = now.window
    assert window is not None  # noqa: S101 - a piece with a coat has one
    if wants_coat(now):
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
    early_ms = buffed_early(now, piece, now_ms)
    if early_ms is not None and stone.name is MilestoneName.BUFF:
        sentence, action = _since_early(stone, early_ms, (action, due), words=words, now_ms=now_ms)
    if not now.coating_done:
        action = f"{action} For another coat: {window.next_action}"
    return sentence + doubt, action, due


def _since_early(
    stone: Milestone, early_ms: int, then: tuple[str, int | None], *, words: Words, now_ms: int
) -> tuple[str, str]:
    """Say how a film stands that was buffed before its time, and from when to judge its gloss."""
    action, due = then
    again = "level and buff once more where it sank."
    said = f"Buffed early, on {words.dated(early_ms, now_ms)}"
    if stone.cautious_at is not None:
        met = words.dated(stone.cautious_at, now_ms)
        return (
            f"{said}; its hours are met since {met}: {_hours(stone)}.",
            f"Judge the gloss; {again}",
        )
    sentence = f"{said}: {_hours(stone)}, so its gloss may still go."
    if due is None:
        return sentence, action
    return sentence, f"Judge the gloss from {words.ahead(due, now_ms)} on; {again}"


def _due(window: RecoatWindow) -> int | None:
    """Return the edge of a window that the next job hangs on [ms]."""
    match window.state:
        case WindowState.OPEN | WindowState.CLOSING:
            return window.closes_at
        case WindowState.IN_MIDDLE:
            return window.reopens_at
        case WindowState.MISSED if window.reopens_at is None and window.scuff_first:
            return window.passed_at
        case WindowState.MISSED:
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
