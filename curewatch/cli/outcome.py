"""Log what you found when testing, sanding, buffing, or looking again months later.

It is kept with the piece, and moves the finish's pace: how long its films really take in this shop.
"""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

from curewatch.assembly import load_finish, load_paces
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
from curewatch.entries.outcomes import FINDINGS, known_finding, log_outcome
from curewatch.errors import BadInput
from curewatch.science.waiting import LEAST_FINE
from curewatch.shop.findings_asked import findings_for
from curewatch.shop.pace import pace_now, pace_plain, pace_sentence
from curewatch.shop.piece import Outcome
from curewatch.shop.plain import FORMAT, instant
from curewatch.shop.proof import SAID as REACH_SAID
from curewatch.shop.proof import Reach, proof_of, proof_plain

if TYPE_CHECKING:
    import argparse
    from collections.abc import Sequence

    from curewatch.cli.bench import Bench
    from curewatch.science.learning import Learnt
    from curewatch.shop.findings import Evidence
    from curewatch.shop.finish import Finish
    from curewatch.shop.piece import Piece
    from curewatch.shop.plain import PlainValue
    from curewatch.shop.shop import Shop

USAGE = """curewatch outcome [add] TAG [TAG ...] FINDING [--at TIME] [--who NAME]
                               [--note TEXT]
       curewatch outcome TAG     (lists the findings; on a terminal asks)
       curewatch outcome void NUMBER --why TEXT"""
LEAST_WORDS_TO_ADD = 3  # add, a tag, a finding: with fewer a piece may be called so


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add the tags, the finding, and what is told about it."""
    parser.usage = USAGE
    told = "; ".join(f"{word}: {meaning}" for word, meaning in FINDINGS.items())
    parser.add_argument(
        "words", nargs="+", metavar="TAG FINDING", help=f"pieces, then the finding. {told}"
    )
    at_argument(parser)
    parser.add_argument("--note", metavar="TEXT", help="your own words")
    parser.add_argument("--who", metavar="NAME", help="who looked")
    parser.add_argument("--why", metavar="TEXT", help="why the entry is voided")


def run(args: argparse.Namespace) -> int:
    """Log or void."""
    if args.words[0].lower() == "add" and len(args.words) >= LEAST_WORDS_TO_ADD:
        args.words = args.words[1:]
    *tags, last = args.words
    if args.words[0].lower() == "void":
        refuse_options(args, "outcome void", "at", "note", "who")
        if len(args.words) != 2:  # noqa: PLR2004 - the word and the number
            raise BadInput("'outcome void' takes one number")
        with bench(args) as at:
            return void(at, args, "outcome", last)
    refuse_options(args, "outcome TAG FINDING", "why")
    if last not in FINDINGS and not tags:
        return _ask(args, last)
    known_finding(last)
    if not tags:
        raise BadInput(f"which piece? Write 'curewatch outcome TAG {last}'")
    with bench(args) as at:
        return _log(at, args, tags, _outcome(at, args, last))


def _outcome(at: Bench, args: argparse.Namespace, finding: str) -> Outcome:
    return Outcome(past_ms(at, args.at), finding, args.note or "", who=args.who or "")


def _ask(args: argparse.Namespace, tag: str) -> int:
    """List the findings that fit where a piece stands; on a terminal ask for one by number."""
    with bench(args) as at:
        piece = at.store.pieces.load(tag)
        stage, words = findings_for(piece, at.now_ms)
        if args.json:
            told: list[PlainValue] = [
                {"number": number, "finding": word, "means": FINDINGS[word]}
                for number, word in enumerate(words, start=1)
            ]
            print_json({"format": FORMAT, "piece": piece.tag, "stage": stage, "findings": told})
            return 0
        say(f"{piece.tag}, {stage}: what did you find?")
        for number, word in enumerate(words, start=1):
            say(f"{number}  {word}: {FINDINGS[word]}", indent=2)
        if not sys.stdin.isatty():
            say(f"Log it: curewatch outcome {piece.tag} FINDING")
            return 0
        print("Number or word (nothing to leave it): ", end="", flush=True)
        said = sys.stdin.readline().strip().lower()
        if not said:
            say("Nothing was logged.")
            return 0
        chosen = words[int(said) - 1] if said.isdecimal() and 0 < int(said) <= len(words) else said
        if chosen not in FINDINGS:
            raise BadInput(f"'{said}' is none of them: give a number or a word of the list")
        return _log(at, args, [piece.tag], _outcome(at, args, chosen))


def _log(at: Bench, args: argparse.Namespace, tags: Sequence[str], outcome: Outcome) -> int:
    with all_or_none(at, tags):
        pieces = pieces_named(at, tags)
    shop = at.without_record()
    for piece in pieces:
        load_finish(at.store, shop, piece)
    load_paces(at.store, shop)
    before = dict(shop.paces)
    ids = [number for _, number in log_outcome(at, tags, outcome)]
    load_paces(at.store, shop)
    if args.json:
        rows: list[PlainValue] = [
            {
                "piece": piece.tag,
                "id": number,
                "finding": outcome.finding,
                "at": instant(outcome.at_ms),
                "note": outcome.note,
                "who": outcome.who,
                **_learnt_plain(shop, piece, number),
            }
            for piece, number in zip(pieces, ids, strict=True)
        ]
        print_json({"format": FORMAT, "outcomes": rows})
        return 0
    when = at.words.at(outcome.at_ms, at.now_ms)
    for piece, number in zip(pieces, ids, strict=True):
        say(
            f"{piece.tag}: {outcome.finding} ({FINDINGS[outcome.finding]}), {when} "
            f"(number {number})."
        )
        said = _said_of(shop, piece, number)
        if said is not None:
            say(said.why, indent=2)
    if proof_of(outcome.finding) is Reach.SURFACE:
        say(REACH_SAID[Reach.SURFACE], indent=2)
    for finish in {(p.finish, p.finish_revision): shop.finish_of(p) for p in pieces}.values():
        _say_change(finish, before.get((finish.name, finish.revision)), shop.learnt_of(finish))
    return 0


def _said_of(shop: Shop, piece: Piece, number: int) -> Evidence | None:
    """Return what was made of one outcome."""
    judged = shop.judged.get(piece.tag)
    said = () if judged is None else judged.said
    return next((each for each in said if each.outcome.id == number), None)


def _learnt_plain(shop: Shop, piece: Piece, number: int) -> dict[str, PlainValue]:
    said, finish = _said_of(shop, piece, number), shop.finish_of(piece)
    return {
        "says": None if said is None else str(said.says),
        "why": None if said is None else said.why,
        "proves": proof_plain(said.outcome.finding) if said is not None else None,
        "pace": pace_plain(pace_now(finish, shop.learnt_of(finish))),
    }


def _say_change(finish: Finish, before: Learnt | None, after: Learnt | None) -> None:
    """Say what an outcome did to a finish's pace."""
    old, new = pace_now(finish, before), pace_now(finish, after)
    if before is after:
        say(f"Nothing new is learnt from it: {finish.name} goes on as before.")
        return
    say(f"{finish.name}: its pace went from {old.median:.2f} to {new.median:.2f} by it.")
    say(pace_sentence(new))
    if new.outcomes < LEAST_FINE:
        say(f"Fewer than {LEAST_FINE} fine films shorten no wait.")
