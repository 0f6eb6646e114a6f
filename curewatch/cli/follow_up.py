"""Questions about finished pieces: after 30, 90 and 180 days, or 7 and 30 where it was too early.

An outcome answers a question: curewatch outcome TAG FINDING. Where nobody can look, close it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.cli.bench import bench
from curewatch.cli.entry import Forms
from curewatch.cli.figures import whole
from curewatch.cli.show import print_json, say, table
from curewatch.entries.outcomes import close_follow_up
from curewatch.shop.follow_up import due
from curewatch.shop.plain import FORMAT, instant

if TYPE_CHECKING:
    import argparse

    from curewatch.cli.bench import Bench
    from curewatch.shop.follow_up import FollowUp
    from curewatch.shop.plain import PlainValue


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add the forms."""
    forms = Forms(parser)
    forms.add("list", _list, "the questions that wait for an answer")
    close = forms.add("close", _close, "nobody can answer it any more")
    close.add_argument("tag", metavar="TAG")
    close.add_argument("--days", type=whole, required=True, metavar="N", help="which question")
    close.add_argument("--why", required=True, metavar="TEXT", help="why nobody can look")


def run(args: argparse.Namespace) -> int:
    """Carry out the form."""
    status: int = args.do(args)
    return status


def _list(args: argparse.Namespace) -> int:
    with bench(args) as at:
        pieces = at.store.pieces.load_all(left=True)
        asked = [(one, piece.title) for piece in pieces for one in due(piece, at.now_ms)]
        asked.sort(key=lambda pair: (pair[0].due_ms, pair[0].tag))
        if args.json:
            rows: list[PlainValue] = [
                {
                    "piece": one.tag,
                    "title": title,
                    "days": one.days,
                    "since": instant(one.since_ms),
                    "due_at": instant(one.due_ms),
                    "question": one.question,
                    "anyway": one.anyway,
                }
                for one, title in asked
            ]
            print_json({"format": FORMAT, "follow_ups": rows})
        elif not asked:
            say("No finished piece waits to be looked at again.")
        else:
            table(
                ["piece", "days", "due since", "question"],
                [_row(at, one, title) for one, title in asked],
            )
            say("Answer: curewatch outcome TAG FINDING. Nobody can look: curewatch follow-up close")
    return 0


def _row(at: Bench, one: FollowUp, title: str) -> tuple[str, ...]:
    name = f"{one.tag}\n{title}" if title else one.tag
    return (name, str(one.days), at.words.at(one.due_ms, at.now_ms), one.question)


def _close(args: argparse.Namespace) -> int:
    with bench(args) as at:
        piece = close_follow_up(at, args.tag, args.days, args.why)
        if args.json:
            print_json({"format": FORMAT, "piece": piece.tag, "closed_days": args.days})
        else:
            say(f"{piece.tag}: the question after {args.days} days is closed: {args.why}")
    return 0
