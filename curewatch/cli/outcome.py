"""Log what you found when testing, sanding, buffing, or looking again months later.

It is kept with the piece. Nothing is learnt from it yet: no clock changes by it.
"""

from __future__ import annotations

from difflib import get_close_matches
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
from curewatch.shop.piece import Outcome
from curewatch.shop.plain import FORMAT, instant

if TYPE_CHECKING:
    import argparse
    from collections.abc import Sequence

    from curewatch.cli.bench import Bench
    from curewatch.shop.plain import PlainValue

USAGE = """curewatch outcome TAG [TAG ...] FINDING [--at TIME] [--note TEXT]
       curewatch outcome void NUMBER --why TEXT"""
FINDINGS = {
    "powders": "sands to dry powder",
    "loads-paper": "balls up and clogs the paper",
    "nail-dent": "a fingernail leaves a mark",
    "thumbprint": "a thumb pressed on it leaves its print",
    "smell": "still smells of solvent",
    "lint-print": "cloth or a case's lining left its weave",
    "gloss-lost": "the gloss dulled after it was buffed",
    "grain-back": "grain or sanding marks show again: the film sank",
    "fine": "looked for faults, found none",
}


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add the tags, the finding, and what is told about it."""
    parser.usage = USAGE
    told = "; ".join(f"{word}: {meaning}" for word, meaning in FINDINGS.items())
    parser.add_argument(
        "words", nargs="+", metavar="TAG FINDING", help=f"pieces, then the finding. {told}"
    )
    at_argument(parser)
    parser.add_argument("--note", metavar="TEXT", help="your own words")
    parser.add_argument("--why", metavar="TEXT", help="why the entry is voided")


def run(args: argparse.Namespace) -> int:
    """Log or void."""
    *tags, last = args.words
    if args.words[0].lower() == "void":
        refuse_options(args, "outcome void", "at", "note")
        if len(args.words) != 2:  # noqa: PLR2004 - the word and the number
            raise BadInput("'outcome void' takes one number")
        with bench(args) as at:
            return void(at, args, "outcome", last)
    refuse_options(args, "outcome TAG FINDING", "why")
    if last not in FINDINGS:
        near = get_close_matches(last.lower(), FINDINGS, n=1)
        hint = f"did you mean {near[0]}? " if near else ""
        raise BadInput(
            f"'{last}' is no finding: {hint}Name it last, one of {', '.join(FINDINGS)}; "
            "--note takes your own words"
        )
    if not tags:
        raise BadInput(f"which piece? Write 'curewatch outcome TAG {last}'")
    with bench(args) as at:
        return _log(at, args, tags, Outcome(past_ms(at, args.at), last, args.note or ""))


def _log(at: Bench, args: argparse.Namespace, tags: Sequence[str], outcome: Outcome) -> int:
    with all_or_none(at, tags):
        pieces = pieces_named(at, tags)
        ids = [at.store.pieces.outcome(piece.tag, outcome, at.entered_ms) for piece in pieces]
    if args.json:
        rows: list[PlainValue] = [
            {
                "piece": piece.tag,
                "id": number,
                "finding": outcome.finding,
                "at": instant(outcome.at_ms),
                "note": outcome.note,
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
    say("Kept with the piece. Nothing is learnt from it yet: the clocks stay as they are.")
    return 0
