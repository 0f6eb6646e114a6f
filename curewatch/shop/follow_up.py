"""Follow-ups: looking again at a finished piece months later, and sooner at one done too early.

A piece is asked about 30, 90 and 180 days after it was buffed, or after it left the shop where it
never was; after work done anyway it is asked 7 and 30 days later whether that held. An outcome
logged within a question's span answers it; so does closing it with a reason. After a year more it
lapses.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from curewatch.shop.alert import AlertKind
from curewatch.shop.conditions import Condition
from curewatch.shop.piece import WorkKind
from curewatch.shop.reading import Urgency

if TYPE_CHECKING:
    from curewatch.shop.piece import Piece

DAY_MS = 86_400_000
DAYS = (30, 90, 180)  # the trade's habit of looking again, no source
DAYS_ANYWAY = (7, 30)  # our own: what was buffed too early shows within weeks
LAPSES_MS = 365 * DAY_MS  # what nobody looked at for so long is not asked any more
_FOR_EVER_MS = 2**62
TOLD_MS = 30 * DAY_MS  # so long an alert speaks of one; the list has it until it lapses
EARLY_BY_MS = 2 * DAY_MS  # an outcome so much before the day answers its question too


@dataclass(frozen=True, slots=True)
class FollowUp:
    """A question about a piece that nobody has answered yet.

    Attributes
    ----------
    tag: which piece.
    days: how many days after `since_ms` it is asked.
    since_ms, due_ms: what it counts from, and when it came due [ms].
    question: in words.
    anyway: the reason given for the work done unready; '' where there was none.
    """

    tag: str
    days: int
    since_ms: int
    due_ms: int
    question: str
    anyway: str = ""


def due(piece: Piece, now_ms: int) -> tuple[FollowUp, ...]:
    """Return the questions about a piece that wait for an answer at `now_ms` [ms].

    Of each line of questions only the last one due is asked: what was not looked at after 30
    days cannot be looked at any more once 90 have passed.
    """
    found: dict[int, FollowUp] = {}
    for since_ms, days, anyway in _lines(piece, now_ms):
        asked = _asked(piece, now_ms, since_ms=since_ms, days=days, anyway=anyway)
        if asked is not None:
            found.setdefault(asked.days, asked)
    return tuple(sorted(found.values(), key=lambda one: one.due_ms))


def may_be_asked(piece: Piece) -> bool:
    """Return whether there will ever be a question about a piece as it is."""
    return bool(_lines(piece, _FOR_EVER_MS))


def next_change_ms(piece: Piece, now_ms: int) -> int | None:
    """Return when the next question comes due, grows old or lapses after `now_ms` [ms]."""
    due_ms = [
        since_ms + day * DAY_MS
        for since_ms, days, _ in _lines(piece, _FOR_EVER_MS)
        for day in (0, *days)
    ]
    ahead = [at for due in due_ms for at in (due, due + TOLD_MS, due + LAPSES_MS) if at > now_ms]
    return min(ahead, default=None)


def follow_up_conditions(piece: Piece, now_ms: int) -> list[Condition]:
    """Return what is to be told of a piece's open questions, those come due of late."""
    return [
        Condition(
            AlertKind.FOLLOW_UP,
            f"follow-up:{piece.tag}#{one.days}",
            Urgency.NOTE,
            f"{piece.tag}: {one.question}",
            f"Look, and log what you find: curewatch outcome {piece.tag} FINDING; if nobody can "
            f"look: curewatch follow-up close {piece.tag} --days {one.days} --why ...",
        )
        for one in due(piece, now_ms)
        if now_ms - one.due_ms < TOLD_MS
    ]


def _lines(piece: Piece, now_ms: int) -> list[tuple[int, tuple[int, ...], str]]:
    """Return what questions count from, after how many days they come, and why they come soon."""
    done = [work for work in piece.work if work.at_ms <= now_ms]
    lines: list[tuple[int, tuple[int, ...], str]] = [
        (work.at_ms, DAYS_ANYWAY, work.anyway) for work in done if work.anyway
    ]
    buffed = [work.at_ms for work in done if work.kind is WorkKind.BUFF]
    last_coat_ms = max((coat.at_ms for coat in piece.coats), default=None)
    if buffed and (last_coat_ms is None or buffed[-1] > last_coat_ms):
        lines.append((buffed[-1], DAYS, ""))
    elif piece.left_ms is not None and last_coat_ms is not None:
        lines.append((piece.left_ms, DAYS, ""))
    return lines


def _asked(
    piece: Piece, now_ms: int, *, since_ms: int, days: tuple[int, ...], anyway: str
) -> FollowUp | None:
    """Return the last question due of a line, None where it is answered, closed or none is due."""
    passed = [day for day in days if since_ms + day * DAY_MS <= now_ms]
    if not passed or passed[-1] in piece.closed_days:
        return None
    due_ms = since_ms + passed[-1] * DAY_MS
    looked = any(due_ms - EARLY_BY_MS <= found.at_ms <= now_ms for found in piece.outcomes)
    if looked or now_ms - due_ms >= LAPSES_MS:
        return None
    if anyway:
        question = f"done before it was ready {passed[-1]} days ago ({anyway}): did it hold?"
    else:
        question = f"finished {passed[-1]} days ago: has it sunk, dulled or marked?"
    return FollowUp(piece.tag, passed[-1], since_ms, due_ms, question, anyway)
