"""Hold everything of a lot, everything from a pot, or one piece, until it is released.

A held piece keeps its clocks; it is not called ready, and its next job is to wait.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.cli.bench import bench
from curewatch.cli.entry import Forms, at_argument, past_ms
from curewatch.cli.figures import whole
from curewatch.cli.show import print_json, say, table
from curewatch.entries import holds
from curewatch.shop.plain import FORMAT, instant
from curewatch.shop.quarantine import SAID, Quarantine
from curewatch.shop.words import listed

if TYPE_CHECKING:
    import argparse

    from curewatch.cli.bench import Bench
    from curewatch.shop.plain import Plain, PlainValue
    from curewatch.shop.quarantine import What

FORMS: dict[str, What] = {"lot": "lot", "pot": "batch", "piece": "piece"}


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add the forms."""
    forms = Forms(parser)
    for name, what in (
        ("lot", "every piece with this lot in a pot it was sprayed from"),
        ("pot", "every piece sprayed from this pot"),
        ("piece", "this piece"),
    ):
        hold = forms.add(name, _hold, f"hold {what}")
        hold.add_argument("target", metavar=name.upper())
        hold.add_argument("--why", required=True, metavar="TEXT", help="what is wrong")
        hold.add_argument("--who", default="", metavar="NAME", help="who holds it")
        at_argument(hold)
    found = forms.add("list", _list, "what is held, and the pieces it touches")
    found.add_argument("--all", action="store_true", help="what was released as well")
    release = forms.add("release", _release, "lift a hold")
    release.add_argument("number", type=whole, metavar="N", help="its number, from the list")
    release.add_argument("--why", required=True, metavar="TEXT", help="what was found")
    release.add_argument("--who", default="", metavar="NAME", help="who releases it")


def run(args: argparse.Namespace) -> int:
    """Carry out the form."""
    status: int = args.do(args)
    return status


def _hold(args: argparse.Namespace) -> int:
    with bench(args) as at:
        what = FORMS[args.form]
        asked = Quarantine(what, args.target, args.why, past_ms(at, args.at), args.who)
        hold, number = holds.hold(at, asked)
        tags = holds.touched(at, hold)
        if args.json:
            print_json({"format": FORMAT, **_plain(hold, number, tags)})
            return 0
        named = f"{SAID[what].capitalize()} {hold.target}"
        say(f"{named} is held from {at.words.at(hold.at_ms, at.now_ms)} on (number {number}).")
        say(_touches(tags))
        say(f"To lift it: curewatch quarantine release {number} --why ...")
    return 0


def _touches(tags: list[str]) -> str:
    return f"It touches {listed(tags)}." if tags else "It touches no piece yet."


def _list(args: argparse.Namespace) -> int:
    with bench(args) as at:
        found = at.store.quarantines.all() if args.all else at.store.quarantines.standing()
        rows = [(hold, holds.touched(at, hold)) for hold in found]
        if args.json:
            told: list[PlainValue] = [_plain(hold, hold.id, tags) for hold, tags in rows]
            print_json({"format": FORMAT, "holds": told})
        elif not rows:
            say("Nothing is held.")
        else:
            table(
                ["number", "what", "why", "since", "pieces"],
                [_row(at, hold, tags) for hold, tags in rows],
            )
    return 0


def _row(at: Bench, hold: Quarantine, tags: list[str]) -> tuple[str, ...]:
    why = f"{hold.why} ({hold.who})" if hold.who else hold.why
    if hold.released_ms is not None:
        when = at.words.at(hold.released_ms, at.now_ms)
        why += f"; released {when}: {hold.released_why}"
    since = at.words.at(hold.at_ms, at.now_ms)
    return (str(hold.id), f"{SAID[hold.what]} {hold.target}", why, since, ", ".join(tags) or "none")


def _release(args: argparse.Namespace) -> int:
    with bench(args) as at:
        hold = holds.release(at, args.number, args.why, who=args.who)
        tags = holds.touched(at, hold)
        if args.json:
            print_json({"format": FORMAT, "released": args.number, "pieces": [*tags]})
        else:
            say(f"{SAID[hold.what].capitalize()} {hold.target} is released: {args.why}")
            say(f"Free of it are {listed(tags)}." if tags else "It touched no piece.")
    return 0


def _plain(hold: Quarantine, number: int, tags: list[str]) -> Plain:
    return {
        "id": number,
        "what": SAID[hold.what],
        "target": hold.target,
        "why": hold.why,
        "who": hold.who,
        "at": instant(hold.at_ms),
        "released_at": instant(hold.released_ms),
        "released_why": hold.released_why,
        "released_by": hold.released_by,
        "pieces": [*tags],
    }
