"""Log what was done to a film: scuff, dry-sand, wet-sand, level or buff; or void such an entry.

Work on a piece that is not ready at the cautious end of its clock is refused (exit status 20,
nothing is stored) unless --anyway says why; the reason goes into the record. Several tags at once
are one entry: all of them are stored or none.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.cli.bench import bench
from curewatch.cli.entry import (
    at_argument,
    past_ms,
    pieces_named,
    refuse_options,
    void,
)
from curewatch.cli.show import print_json, say
from curewatch.entries.work import judge_work, log_work, stood, when_ready
from curewatch.errors import BadInput
from curewatch.shop.deeds import job
from curewatch.shop.piece import Work, WorkKind
from curewatch.shop.plain import FORMAT, deed_plain, instant, milestone_plain

if TYPE_CHECKING:
    import argparse
    from collections.abc import Sequence

    from curewatch.cli.bench import Bench
    from curewatch.entries.work import Judged
    from curewatch.shop.plain import Plain

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


def _log(at: Bench, args: argparse.Namespace, tags: Sequence[str], work: Work) -> int:
    pieces = pieces_named(at, tags, hanging_at_ms=work.at_ms)
    shop = at.shop([piece.tag for piece in pieces])
    judged = judge_work(shop, shop.pieces.values(), work, at.now_ms)
    if not work.anyway and any(one.deed is not None for one in judged):
        _refuse(at, args, judged, work)
        return NOT_READY
    ids = log_work(at, [one.piece.tag for one in judged], work)
    if args.json:
        rows = [_plain(one, work, number) for one, number in zip(judged, ids, strict=True)]
        print_json({"format": FORMAT, "work": [*rows], "refused": []})
        return 0
    when = at.words.at(work.at_ms, at.now_ms)
    for one, number in zip(judged, ids, strict=True):
        say(f"{one.piece.tag}: {work.kind} logged, {when} (number {number}). {_said(one, work)}")
        if one.held is not None:
            why = one.held.rstrip(". ")
            say(f"But it is held: {why}. Logged all the same; no more until release.", indent=2)
    return 0


def _refuse(at: Bench, args: argparse.Namespace, judged: Sequence[Judged], work: Work) -> None:
    ready = [one.piece.tag for one in judged if one.deed is None]
    if args.json:
        rows = [_plain(one, work, None) for one in judged if one.deed is not None]
        print_json({"format": FORMAT, "work": [], "refused": [*rows]})
        return
    for one in judged:
        if one.deed is not None:
            say(f"{one.piece.tag}: {one.deed.reason}")
            say(when_ready(at.words, at.now_ms, one), indent=2)
    say()
    say(f"Nothing was logged. To log it all the same: --anyway 'why you {job(work.kind)} now'.")
    if ready:
        say(f"Ready, and not logged either: {', '.join(ready)}; name them by themselves.")


def _said(one: Judged, work: Work) -> str:
    return stood(one, work, nobody="nobody is named for it: --who NAME")


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
