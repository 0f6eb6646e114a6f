"""What people log at the page about one piece or several: from what was typed to what was stored.

Everything runs in the daemon's thread, inside one transaction (`entering.once`).
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING, cast

from curewatch.entries.coat_answer import Answer
from curewatch.entries.coats import LikelyTwice, coat_stood, log_coat
from curewatch.entries.hanging import coating_is_done, plan_coats, plan_sentence
from curewatch.entries.moves import leave, move, moved_said
from curewatch.entries.outcomes import FINDINGS, close_follow_up, log_outcome
from curewatch.entries.voids import NOUNS, What, reopened, void
from curewatch.entries.work import judge_work, log_work, stood, when_ready
from curewatch.errors import BadInput
from curewatch.named import pieces_named
from curewatch.shop.deeds import job
from curewatch.shop.piece import Coat, Outcome, Work, WorkKind
from curewatch.shop.typed import MOST_COATS, MOST_PASSES
from curewatch.shop.words import listed
from curewatch.web.entering import Done, done_under, take_back
from curewatch.web.piece_entry import (
    Entry,
    Faulty,
    by_said,
    count_of,
    stop_at_faults,
    tags_said,
    undo_of,
    wet_um_of,
    when_ms,
)
from curewatch.web.piece_ties import TIES
from curewatch.web.speech import say

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from curewatch.opened import Opened
    from curewatch.shop.piece import Piece

FIELDS = (
    *("at", "wet", "passes", "pot", "who", "note", "to", "coats", "anyway", "why", "finding"),
    *("onto", "target"),
)


class AskedTwice(Exception):  # noqa: N818 - it is no error: it is asked about
    """A coat that may be one already logged: what is asked, and the instant to be sent again."""

    def __init__(self, at_ms: int, asked: Sequence[str]) -> None:
        """Keep what is asked of each piece."""
        super().__init__("coat")
        self.asked, self.instant = tuple(asked), _instant(at_ms)


class Unready(Exception):  # noqa: N818 - it is no error: a reason is asked for
    """Work on pieces that are not ready: what the clocks say, and what has to be sent again."""

    def __init__(self, kind: WorkKind, at_ms: int, said: Sequence[tuple[str, str, str]]) -> None:
        """Keep tag, reason and when it will be ready of each piece."""
        super().__init__(str(kind))
        self.kind, self.at_ms, self.said = kind, at_ms, tuple(said)

    @property
    def job(self) -> str:
        """The work as a verb."""
        return job(self.kind)

    @property
    def instant(self) -> str:
        """The instant of the work, to be read back without a doubt."""
        return _instant(self.at_ms)


def carry_out(entry: Entry, at: Opened) -> Done:
    """Enter what the pressed button says.

    Raises
    ------
    BadInput
        When it cannot be; faults of single fields stand in `entry.typed` too.
    Unready
        When work comes before its time and no reason is given.
    AskedTwice
        When a coat may be one that is logged already.
    """
    typed = entry.typed
    for name, deed in _DEEDS.items():
        if typed.given.get("deed") == name or (name in _BY_BUTTON and typed.given.get(name)):
            return deed(entry, at)
    raise BadInput(say("log.what"))


def _coat(entry: Entry, at: Opened) -> Done:
    typed = entry.typed
    at_ms, wet_um, passes = (
        when_ms(entry, at),
        wet_um_of(typed, at.words),
        count_of(typed, "passes", usual=MOST_PASSES),
    )
    stop_at_faults(typed)
    try:
        coat = Coat(
            at_ms,
            wet_um,
            1 if passes is None else passes,
            note=typed.text("note") or "",
            who=entry.by,
        )
    except BadInput as error:
        typed.faults["passes" if "passes" in str(error) else "wet"] = str(error)
        raise Faulty(str(error)) from error
    pot = typed.text("pot")
    try:
        logged = log_coat(at, entry.tags, coat, pot=pot, really=bool(typed.text("really")))
    except LikelyTwice as twice:
        raise AskedTwice(at_ms, twice.asked) from twice
    told = {
        "at": at.words.at(at_ms, at.now_ms),
        "wet": "" if wet_um is None else say("log.wet_said", wet=at.words.film(wet_um)),
        "pot": "" if pot is None else say("log.pot_said", pot=pot),
        "by": by_said(entry),
    }
    undo = undo_of("coat", logged)
    if len(logged) > 1:
        said = say("log.coats_said", tags=tags_said(logged), **told)
        return Done(said, undo, _each_stands(entry, at, logged))
    piece = logged[0][0]
    place = 1 + sum(1 for before in piece.coats if before.at_ms < at_ms)
    said = say("log.coat_said", tag=piece.tag, place=place, **told)
    shop = entry.counter.shop
    known = shop.pieces.get(piece.tag) or shop.parts.get(piece.tag)
    stood_so = "" if known is None else coat_stood(shop, known, at_ms)
    return Done(f"{said} {stood_so}".strip(), undo)


def _each_stands(entry: Entry, at: Opened, logged: Sequence[tuple[Piece, int]]) -> tuple[str, ...]:
    """Say of each of several pieces how its coat stood, and when its window opens and closes."""
    shop = entry.counter.shop
    rows = []
    for before, number in logged:
        if before.tag in shop.pieces or before.tag in shop.parts:
            answer = Answer(at, shop, at.store.pieces.load(before.tag), number)
            rows.append(f"{before.tag}: {answer.brief()}")
    return tuple(rows)


def _work(entry: Entry, at: Opened) -> Done:
    typed = entry.typed
    at_ms = when_ms(entry, at)
    kind, anyway = typed.text("kind") or "", typed.text("anyway") or ""
    if kind not in list(WorkKind):
        raise BadInput(say("log.no_such_work"))
    stop_at_faults(typed)
    work = Work(WorkKind(kind), at_ms, typed.text("note") or "", anyway, who=entry.by)
    shop = entry.counter.shop
    pieces = pieces_named(at, entry.tags, hanging_at_ms=at_ms)
    known = [shop.pieces.get(piece.tag) or shop.parts.get(piece.tag) or piece for piece in pieces]
    judged = judge_work(shop, known, work, at.now_ms)
    early = [one for one in judged if one.deed is not None]
    if early and not anyway:
        rows = [
            (
                one.piece.tag,
                "" if one.deed is None else one.deed.reason,
                when_ready(at.words, at.now_ms, one),
            )
            for one in early
        ]
        raise Unready(work.kind, at_ms, rows)
    ids = log_work(at, [piece.tag for piece in pieces], work)
    undo = undo_of("work", zip(pieces, ids, strict=True))
    when = at.words.at(at_ms, at.now_ms)
    if len(judged) > 1:
        tags = listed(one.piece.tag for one in judged)
        said = say(
            "log.works_said",
            tags=tags,
            work=say(f"work.{kind}").lower(),
            at=when,
            by=by_said(entry),
        )
    else:
        one = judged[0]
        said = say(
            "log.work_said",
            tag=one.piece.tag,
            work=say(f"work.{kind}").lower(),
            at=when,
            by="" if one.deed else by_said(entry),  # then it stands behind the reason
        )
        said += f" {stood(one, work, nobody=say('log.nobody_named'))}"
        said += f" {say('log.is_held', why=one.held)}" if one.held is not None else ""
    return Done(said, undo)


def _move(entry: Entry, at: Opened) -> Done:
    at_ms = when_ms(entry, at)
    to = entry.typed.text("to") or ""
    stop_at_faults(entry.typed)
    moved = move(at, entry.tags, to, at_ms)
    undo = undo_of("move", moved.moving)
    named = {tag.casefold() for tag in entry.tags}
    parts = [piece.tag for piece, _ in moved.moving if piece.tag.casefold() not in named]
    said = []
    if len(moved.moving) == 1:
        piece, number = moved.moving[0]
        said.append(moved_said(at, moved, piece, number).replace(f" (number {number})", ""))
    elif moved.moving:
        when = at.words.at(at_ms, at.now_ms)
        said.append(say("log.moved_said", tags=tags_said(moved.moving), room=moved.room, at=when))
    if parts:
        said.append(say("log.parts_said", tags=listed(parts)))
    if moved.there:
        said.append(say("log.there_said", tags=listed(moved.there), room=moved.room))
    return Done(" ".join(said), undo)


def _outcome(entry: Entry, at: Opened) -> Done:
    typed = entry.typed
    at_ms = when_ms(entry, at)
    stop_at_faults(typed)
    outcome = Outcome(at_ms, typed.text("finding") or "", typed.text("note") or "", who=entry.by)
    logged = log_outcome(at, entry.tags, outcome)
    said = say(
        "log.outcome_said",
        tags=tags_said(logged),
        means=FINDINGS[outcome.finding],
        at=at.words.at(at_ms, at.now_ms),
        by=by_said(entry),
    )
    return Done(said, undo_of("outcome", logged))


def _leave(entry: Entry, at: Opened) -> Done:
    at_ms = when_ms(entry, at)
    stop_at_faults(entry.typed)
    gone = leave(at, entry.tags, at_ms)
    when = at.words.at(at_ms, at.now_ms)
    undo = undo_of("move", gone)
    return Done(say("log.left_said", tags=tags_said(gone), at=when), undo)


def _plan(entry: Entry, at: Opened) -> Done:
    tag, coats = entry.only, count_of(entry.typed, "coats", usual=MOST_COATS)
    if coats is None:
        entry.typed.faults.setdefault("coats", say("form.needed"))
    stop_at_faults(entry.typed)
    piece, number = plan_coats(at, tag, coats or 0)
    said = f"{piece.tag}: {plan_sentence(piece, coats or 0)}"
    return Done(said, (("plan", number),))


def _no_more(entry: Entry, at: Opened) -> Done:
    piece, number = coating_is_done(at, entry.only)
    said = f"{piece.tag}: {plan_sentence(piece, len(piece.coats))}"
    return Done(said, (("plan", number),))


def _close(entry: Entry, at: Opened) -> Done:
    tag, days = entry.only, count_of(entry.typed, "days")
    why = entry.typed.needed("why")
    stop_at_faults(entry.typed)
    piece = close_follow_up(at, tag, days or 0, why)
    return Done(say("log.closed_said", tag=piece.tag, days=days, why=why))


def _undo(entry: Entry, at: Opened) -> Done:
    done = done_under(entry.counter, entry.typed.text("of") or "")
    if done is None:
        raise BadInput(say("log.nothing_to_undo"))
    return take_back(at, done, entry.who)


def _void(entry: Entry, at: Opened) -> Done:
    typed, tag = entry.typed, entry.only
    what, number, why = typed.text("what") or "", count_of(typed, "number"), typed.needed("why")
    stop_at_faults(typed)
    if what not in NOUNS or what == "fill" or number is None:
        raise BadInput(say("log.nothing_to_undo"))
    gone = void(at, cast("What", what), number, why)
    if gone.of.casefold() != tag.casefold():
        raise BadInput(say("log.not_of_this", of=gone.of))  # the transaction undoes it
    when, again = at.words.at(gone.at_ms, at.now_ms), reopened(at, gone)
    return Done(
        say("log.void_said", what=say(f"entry.{what}"), at=when, tag=gone.of, why=why),
        rows=() if again is None else (again.sentence,),
    )


_DEEDS: dict[str, Callable[[Entry, Opened], Done]] = {
    "coat": _coat,
    "leave": _leave,
    "plan": _plan,
    "no-more": _no_more,
    "close": _close,
    **TIES,
    "undo": _undo,
    "void": _void,
    "kind": _work,
    "to": _move,
    "finding": _outcome,
}
_BY_BUTTON = ("kind", "to", "finding")  # what the pressed button itself says


def _instant(at_ms: int) -> str:
    """Return an instant to be read back without a doubt."""
    return datetime.fromtimestamp(at_ms / 1000.0, UTC).isoformat()
