"""What people log at the page about one piece or several: from what was typed to what was stored.

Everything runs in the daemon's thread, inside one transaction (`entering.once`).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING, cast

from curewatch.entries.coats import coat_stood, log_coat
from curewatch.entries.hanging import coating_is_done, plan_coats, plan_sentence
from curewatch.entries.moves import leave, move, moved_said
from curewatch.entries.outcomes import FINDINGS, close_follow_up, log_outcome
from curewatch.entries.times import past_ms
from curewatch.entries.voids import NOUNS, What, void
from curewatch.entries.work import judge_work, log_work, stood, when_ready
from curewatch.errors import BadInput
from curewatch.named import pieces_named
from curewatch.shop.deeds import job
from curewatch.shop.piece import Coat, Outcome, Work, WorkKind
from curewatch.shop.words import UM_PER_MIL, listed
from curewatch.web.entering import Done, done_under, take_back
from curewatch.web.plainly import without_commands
from curewatch.web.speech import say

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from curewatch.opened import Opened
    from curewatch.shop.piece import Piece
    from curewatch.shop.words import Words
    from curewatch.web.desk import Counter
    from curewatch.web.forms import Typed

MINUTE_MS = 60_000
MOST = 2**53  # the largest number that means the same everywhere
EARLIER_MIN = (0, 10, 30, 60)
_WET = re.compile(r"(\d+(?:[.,]\d+)?)\s*(mil|mils|um|µm|μm|)", re.IGNORECASE)
FIELDS = ("at", "wet", "passes", "pot", "who", "note", "to", "coats", "anyway", "why", "finding")


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
        return datetime.fromtimestamp(self.at_ms / 1000.0, UTC).isoformat()


class Faulty(BadInput):
    """Something that was typed cannot be read; the faults stand at their fields."""


@dataclass(frozen=True, slots=True)
class Entry:
    """What is entered: what was typed, of which pieces, by whom; `counter` is the daemon's."""

    typed: Typed
    tags: tuple[str, ...]
    who: str
    counter: Counter

    @property
    def only(self) -> str:
        """The piece, where what is entered can be of one alone."""
        if len(self.tags) != 1:
            raise BadInput(say("log.one_alone"))
        return self.tags[0]

    @property
    def by(self) -> str:
        """Who did it: as typed, else the visitor."""
        return self.typed.text("who") or self.who


def carry_out(entry: Entry, at: Opened) -> Done:
    """Enter what the pressed button says.

    Raises
    ------
    BadInput
        When it cannot be; faults of single fields stand in `entry.typed` too.
    Unready
        When work comes before its time and no reason is given.
    """
    typed = entry.typed
    for name, deed in _DEEDS.items():
        if typed.given.get("deed") == name or (name in _BY_BUTTON and typed.given.get(name)):
            return deed(entry, at)
    raise BadInput(say("log.what"))


def _coat(entry: Entry, at: Opened) -> Done:
    typed = entry.typed
    at_ms, wet_um, passes = _when_ms(entry, at), _wet_um(typed, at.words), count_of(typed, "passes")
    _stop_at_faults(typed)
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
    logged = log_coat(at, entry.tags, coat, pot=pot)
    told = {
        "at": at.words.at(at_ms, at.now_ms),
        "wet": "" if wet_um is None else say("log.wet_said", wet=at.words.film(wet_um)),
        "pot": "" if pot is None else say("log.pot_said", pot=pot),
        "by": _by(entry),
    }
    undo = _undo_of("coat", logged)
    if len(logged) > 1:
        return Done(say("log.coats_said", tags=_tags(logged), **told), undo)
    piece = logged[0][0]
    place = 1 + sum(1 for before in piece.coats if before.at_ms < at_ms)
    said = say("log.coat_said", tag=piece.tag, place=place, **told)
    shop = entry.counter.shop
    known = shop.pieces.get(piece.tag) or shop.parts.get(piece.tag)
    stood_so = "" if known is None else coat_stood(shop, known, at_ms)
    return Done(f"{said} {stood_so}".strip(), undo)


def _work(entry: Entry, at: Opened) -> Done:
    typed = entry.typed
    at_ms = _when_ms(entry, at)
    kind, anyway = typed.text("kind") or "", typed.text("anyway") or ""
    if kind not in list(WorkKind):
        raise BadInput(say("log.no_such_work"))
    _stop_at_faults(typed)
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
    undo = _undo_of("work", zip(pieces, ids, strict=True))
    when = at.words.at(at_ms, at.now_ms)
    if len(judged) > 1:
        tags = listed(one.piece.tag for one in judged)
        said = say(
            "log.works_said", tags=tags, work=say(f"work.{kind}").lower(), at=when, by=_by(entry)
        )
    else:
        one = judged[0]
        said = say(
            "log.work_said",
            tag=one.piece.tag,
            work=say(f"work.{kind}").lower(),
            at=when,
            by="" if one.deed else _by(entry),  # then it stands behind the reason
        )
        said += f" {stood(one, work, nobody=say('log.nobody_named'))}"
        said += f" {say('log.is_held', why=one.held)}" if one.held is not None else ""
    return Done(said, undo)


def _move(entry: Entry, at: Opened) -> Done:
    at_ms = _when_ms(entry, at)
    to = entry.typed.text("to") or ""
    _stop_at_faults(entry.typed)
    moved = move(at, entry.tags, to, at_ms)
    undo = _undo_of("move", moved.moving)
    named = {tag.casefold() for tag in entry.tags}
    parts = [piece.tag for piece, _ in moved.moving if piece.tag.casefold() not in named]
    said = []
    if len(moved.moving) == 1:
        piece, number = moved.moving[0]
        said.append(moved_said(at, moved, piece, number).replace(f" (number {number})", ""))
    elif moved.moving:
        when = at.words.at(at_ms, at.now_ms)
        said.append(say("log.moved_said", tags=_tags(moved.moving), room=moved.room, at=when))
    if parts:
        said.append(say("log.parts_said", tags=listed(parts)))
    if moved.there:
        said.append(say("log.there_said", tags=listed(moved.there), room=moved.room))
    return Done(" ".join(said), undo)


def _outcome(entry: Entry, at: Opened) -> Done:
    typed = entry.typed
    at_ms = _when_ms(entry, at)
    _stop_at_faults(typed)
    outcome = Outcome(at_ms, typed.text("finding") or "", typed.text("note") or "", who=entry.by)
    logged = log_outcome(at, entry.tags, outcome)
    said = say(
        "log.outcome_said",
        tags=_tags(logged),
        means=FINDINGS[outcome.finding],
        at=at.words.at(at_ms, at.now_ms),
        by=_by(entry),
    )
    return Done(said, _undo_of("outcome", logged))


def _leave(entry: Entry, at: Opened) -> Done:
    at_ms = _when_ms(entry, at)
    _stop_at_faults(entry.typed)
    gone = leave(at, entry.tags, at_ms)
    when = at.words.at(at_ms, at.now_ms)
    undo = _undo_of("move", gone)
    return Done(say("log.left_said", tags=_tags(gone), at=when), undo)


def _plan(entry: Entry, at: Opened) -> Done:
    tag, coats = entry.only, count_of(entry.typed, "coats")
    if coats is None:
        entry.typed.faults.setdefault("coats", say("form.needed"))
    _stop_at_faults(entry.typed)
    piece = plan_coats(at, tag, coats or 0)
    return Done(f"{piece.tag}: {plan_sentence(piece, coats or 0)}")


def _no_more(entry: Entry, at: Opened) -> Done:
    piece = coating_is_done(at, entry.only)
    return Done(f"{piece.tag}: {plan_sentence(piece, len(piece.coats))}")


def _close(entry: Entry, at: Opened) -> Done:
    tag, days = entry.only, count_of(entry.typed, "days")
    why = entry.typed.needed("why")
    _stop_at_faults(entry.typed)
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
    _stop_at_faults(typed)
    if what not in NOUNS or what == "fill" or number is None:
        raise BadInput(say("log.nothing_to_undo"))
    gone = void(at, cast("What", what), number, why)
    if gone.of.casefold() != tag.casefold():
        raise BadInput(say("log.not_of_this", of=gone.of))  # the transaction undoes it
    when = at.words.at(gone.at_ms, at.now_ms)
    return Done(say("log.void_said", what=say(f"entry.{what}"), at=when, tag=gone.of, why=why))


_DEEDS: dict[str, Callable[[Entry, Opened], Done]] = {
    "coat": _coat,
    "leave": _leave,
    "plan": _plan,
    "no-more": _no_more,
    "close": _close,
    "undo": _undo,
    "void": _void,
    "kind": _work,
    "to": _move,
    "finding": _outcome,
}
_BY_BUTTON = ("kind", "to", "finding")  # what the pressed button itself says


def _when_ms(entry: Entry, at: Opened) -> int:
    """Return when it was [ms]: what was typed, else so many minutes ago."""
    typed = entry.typed
    said = typed.text("at")
    if said is None:
        ago = typed.text("ago") or "0"
        minutes = int(ago) if ago.isdecimal() and int(ago) in EARLIER_MIN else 0
        return at.now_ms - minutes * MINUTE_MS
    try:
        return past_ms(at, said)
    except BadInput as error:
        typed.faults["at"] = without_commands(str(error).removeprefix("--at ").strip())
        raise Faulty(str(error)) from error


def _wet_um(typed: Typed, words: Words) -> float | None:
    """Return the wet film [um]; a bare number is in the shop's unit."""
    said = typed.text("wet")
    if said is None:
        return None
    found = _WET.fullmatch(said)
    if found is None:
        typed.faults["wet"] = say("log.no_film", said=said)
        return None
    in_mil = found[2].lower().startswith("mil") if found[2] else words.imperial
    return float(found[1].replace(",", ".")) * (UM_PER_MIL if in_mil else 1.0)


def count_of(typed: Typed, name: str) -> int | None:
    """Return a field's whole number; what nobody can mean is a fault."""
    number = typed.whole(name)
    if number is not None and abs(number) > MOST:
        typed.faults.setdefault(name, say("log.too_many"))
        return None
    return number


def _stop_at_faults(typed: Typed) -> None:
    if typed.faults:
        raise Faulty("; ".join(typed.faults.values()))


def _by(entry: Entry) -> str:
    return say("log.by_said", who=entry.by) if entry.by else ""


def _tags(logged: Iterable[tuple[Piece, int]]) -> str:
    return listed(piece.tag for piece, _ in logged)


def _undo_of(what: What, logged: Iterable[tuple[Piece, int]]) -> tuple[tuple[What, int], ...]:
    return tuple((what, number) for _, number in logged)
