"""Log what was done to a film: scuff, dry-sand, wet-sand, level or buff; or void such an entry.

Work on a piece that is not ready at the cautious end of its clock is refused (exit status 20,
nothing is stored) unless --anyway says why; the reason goes into the record. Several tags at once
are one entry: all of them are stored or none.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from curewatch.cli.bench import bench
from curewatch.cli.entry import (
    all_or_none,
    at_argument,
    past_ms,
    pieces_named,
    refuse_options,
    void,
)
from curewatch.cli.show import print_json, say
from curewatch.errors import BadInput
from curewatch.science.film import FURTHEST_H
from curewatch.shop.assessment import assess_piece
from curewatch.shop.deeds import MILESTONE_OF_WORK, job, work_deed
from curewatch.shop.laws import required_h
from curewatch.shop.milestones import FILM_MILESTONES
from curewatch.shop.piece import Work, WorkKind
from curewatch.shop.plain import FORMAT, deed_plain, instant, milestone_plain
from curewatch.shop.waits import need

if TYPE_CHECKING:
    import argparse
    from collections.abc import Sequence

    from curewatch.cli.bench import Bench
    from curewatch.shop.deeds import Deed
    from curewatch.shop.finish import MilestoneName
    from curewatch.shop.milestones import Milestone
    from curewatch.shop.piece import Piece
    from curewatch.shop.plain import Plain
    from curewatch.shop.shop import Shop
    from curewatch.shop.sink import SinkBack

NOT_READY = 20
USAGE = """curewatch work TAG [TAG ...] KIND [--at TIME] [--note TEXT]
                            [--anyway WHY] [--who NAME]
       curewatch work void NUMBER --why TEXT"""
KINDS = ", ".join(WorkKind)


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add the tags, the kind of work, and what is told about it."""
    parser.usage = USAGE
    parser.add_argument(
        "words", nargs="+", metavar="TAG KIND", help=f"pieces, then the kind: {KINDS}"
    )
    at_argument(parser)
    parser.add_argument("--note", metavar="TEXT", help="your own words")
    parser.add_argument("--anyway", metavar="WHY", help="log it though it is not ready, and why")
    parser.add_argument("--who", metavar="NAME", help="who did it")
    parser.add_argument("--why", metavar="TEXT", help="why the entry is voided")


def run(args: argparse.Namespace) -> int:
    """Log or void."""
    *tags, last = args.words
    if args.words[0].lower() == "void":
        refuse_options(args, "work void", "at", "note", "anyway", "who")
        if len(args.words) != 2:  # noqa: PLR2004 - the word and the number
            raise BadInput("'work void' takes one number")
        with bench(args) as at:
            return void(at, args, "work", last)
    refuse_options(args, "work TAG KIND", "why")
    if last not in list(WorkKind):
        raise BadInput(f"'{last}' is no kind of work: name it last, one of {KINDS}")
    if not tags:
        raise BadInput(f"which piece? Write 'curewatch work TAG {last}'")
    if args.anyway is not None and not args.anyway.strip():
        raise BadInput("--anyway needs the reason in words: it goes into the piece's record")
    with bench(args) as at:
        work = Work(
            WorkKind(last),
            past_ms(at, args.at),
            args.note or "",
            (args.anyway or "").strip(),
            who=args.who or "",
        )
        return _log(at, args, tags, work)


@dataclass(frozen=True, slots=True)
class Judged:
    """A piece, what the clocks say of the work on it, and the milestone it waits for.

    `asks_more` says what asks for more hours than its rule does, '' where nothing does; `held` why
    no work should be done on it.
    """

    piece: Piece
    deed: Deed | None
    stone: Milestone | None
    asks_more: str = ""
    held: str | None = None


def _log(at: Bench, args: argparse.Namespace, tags: Sequence[str], work: Work) -> int:
    pieces = pieces_named(at, tags, hanging_at_ms=work.at_ms)
    judged = _judge(at, pieces, work)
    if not work.anyway and any(one.deed is not None for one in judged):
        _refuse(at, args, judged, work)
        return NOT_READY
    with all_or_none(at, tags):
        ids = [at.store.pieces.work(one.piece.tag, work, at.entered_ms) for one in judged]
    if args.json:
        rows = [_plain(one, work, number) for one, number in zip(judged, ids, strict=True)]
        print_json({"format": FORMAT, "work": [*rows], "refused": []})
        return 0
    when = at.words.at(work.at_ms, at.now_ms)
    for one, number in zip(judged, ids, strict=True):
        say(f"{one.piece.tag}: {work.kind} logged, {when} (number {number}). {_said(one, work)}")
        if one.held is not None:
            say(f"It is held, and no work should be done on it: {one.held}", indent=2)
    return 0


def _judge(at: Bench, pieces: Sequence[Piece], work: Work) -> list[Judged]:
    shop = at.shop([piece.tag for piece in pieces])
    name = MILESTONE_OF_WORK.get(work.kind)
    found = []
    for piece in shop.pieces.values():
        deed = work_deed(piece, shop, work, cautious=True)
        now = assess_piece(shop, piece, max(at.now_ms, work.at_ms))
        if name is None:
            found.append(Judged(piece, deed, None, held=now.held))
        else:
            more = _asks_more(shop, piece, name, now.sink_back)
            found.append(Judged(piece, deed, now.milestone(name), more, held=now.held))
    return found


def _asks_more(shop: Shop, piece: Piece, name: MilestoneName, sink: SinkBack | None) -> str:
    """Say what asks for more hours than the rule: the film, what was found here, or both."""
    finish = shop.finish_of(piece)
    rule_h = required_h(finish, name, piece.coats)
    if rule_h is None:
        return ""
    film_h = 0.0
    if sink is not None and name in FILM_MILESTONES:
        film_h = FURTHEST_H if sink.under_tolerance_h is None else sink.under_tolerance_h
    learnt = need(finish, name, piece.coats, rule_h=rule_h, learnt=shop.learnt_of(finish))
    film, found = film_h > rule_h, float(learnt.at(0.0)) > rule_h
    rests = "the film has not come to rest by what is known of it"
    asks = "what was found on earlier pieces asks for more hours"
    return " and ".join([rests] * film + [asks] * found)


def _refuse(at: Bench, args: argparse.Namespace, judged: Sequence[Judged], work: Work) -> None:
    ready = [one.piece.tag for one in judged if one.deed is None]
    if args.json:
        rows = [_plain(one, work, None) for one in judged if one.deed is not None]
        print_json({"format": FORMAT, "work": [], "refused": [*rows]})
        return
    for one in judged:
        if one.deed is not None:
            say(f"{one.piece.tag}: {one.deed.reason}")
            say(_when_ready(at, one.stone, one.asks_more), indent=2)
    say()
    say(f"Nothing was logged. To log it all the same: --anyway 'why you {job(work.kind)} now'.")
    if ready:
        say(f"Ready, and not logged either: {', '.join(ready)}; name them by themselves.")


def _when_ready(at: Bench, stone: Milestone | None, asks_more: str) -> str:
    if stone is None or (stone.eta is None and stone.cautious_at is None):
        return (
            "When it will be ready cannot be told: the room earns next to nothing, or is not heard."
        )
    if stone.cautious_at is not None:
        return f"It has been ready since {at.words.at(stone.cautious_at, at.now_ms)}."
    plan = ", if the room goes as planned" if stone.planned else ""
    if stone.reached_at is not None:
        late = asks_more or "with what the hours may be off by it is not"
        sure = at.words.ahead(stone.eta_cautious_at or at.now_ms, at.now_ms)
        return f"The rule itself is met; {late}. Ready {sure} to be sure{plan}."
    assert stone.eta is not None  # noqa: S101 - only then was it not told above
    return f"Expect {at.words.expect(stone.eta, at.now_ms)}{plan}."


def _said(one: Judged, work: Work) -> str:
    if one.deed is not None:
        by = f" ({work.who})" if work.who else " (nobody is named for it: --who NAME)"
        return (
            f"{one.deed.reason} Logged anyway: {work.anyway.rstrip('. ')}{by}. "
            f"{one.deed.next_action} You are asked after 7 and 30 days whether it held."
        )
    if not one.piece.coats_until(work.at_ms):
        return "No coat was on it by then, so nothing was judged."
    if work.kind is WorkKind.SCUFF:
        return "A scuff lifts the closing of the recoat window, never a forbidden middle."
    if one.stone is None or one.stone.required_hours is None:
        return "No clock judges this for its finish: test where it does not show."
    return "It was ready."


def _plain(one: Judged, work: Work, number: int | None) -> Plain:
    return {
        "piece": one.piece.tag,
        "id": number,
        "kind": str(work.kind),
        "at": instant(work.at_ms),
        "note": work.note,
        "anyway": work.anyway,
        "who": work.who,
        "held": one.held,
        "deed": None if one.deed is None else deed_plain(one.deed),
        "milestone": None if one.stone is None else milestone_plain(one.stone),
    }
