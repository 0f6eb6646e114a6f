"""Log a coat on one or several pieces, list a piece's coats, or void one.

The answer says how the coat stood against the recoat window and when the window opens and closes
next. Several tags at once are one entry: all of them are stored or none.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.cli.bench import bench
from curewatch.cli.entry import (
    TIME_FORMS,
    at_argument,
    past_ms,
    pieces_named,
    refuse_options,
    stored_already,
    void,
)
from curewatch.cli.figures import number, whole
from curewatch.cli.show import print_json, say, table
from curewatch.entries.coat_answer import Answer
from curewatch.entries.coats import log_coat
from curewatch.errors import BadInput
from curewatch.shop.piece import Coat
from curewatch.shop.plain import FORMAT, instant

if TYPE_CHECKING:
    import argparse

    from curewatch.cli.bench import Bench
    from curewatch.shop.plain import Plain
    from curewatch.storage.history import Entry

USAGE = """curewatch coat TAG [TAG ...] [--at TIME] [--wet-um N] [--passes N]
                            [--pot NAME | --no-pot | --mixed-at TIME]
                            [--who NAME] [--note TEXT] [--really]
       curewatch coat list TAG
       curewatch coat void NUMBER --why TEXT"""
COAT_OPTIONS = ("at", "wet_um", "passes", "pot", "no_pot", "mixed_at", "who", "note", "really")


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add the tags and what is told about the coat."""
    parser.usage = USAGE
    parser.add_argument("words", nargs="+", metavar="TAG", help="pieces; or 'list' or 'void'")
    at_argument(parser)
    parser.add_argument("--wet-um", type=number, metavar="N", help="wet film laid, all passes [um]")
    parser.add_argument("--passes", type=whole, metavar="N", help="passes of the gun (default 1)")
    pot = parser.add_mutually_exclusive_group()
    pot.add_argument("--pot", metavar="NAME", help="the pot it came from: 'curewatch pot mix'")
    pot.add_argument(
        "--no-pot", action="store_const", const=True, help="it came from none that was entered"
    )
    pot.add_argument("--mixed-at", metavar="TIME", help=f"the pot was mixed at: {TIME_FORMS}")
    parser.add_argument("--who", metavar="NAME", help="who laid it")
    parser.add_argument("--note", metavar="TEXT", help="your own words")
    parser.add_argument(
        "--really",
        action="store_const",
        const=True,
        help="it is another coat, however soon after the last",
    )
    parser.add_argument("--why", metavar="TEXT", help="why the coat is voided")


def run(args: argparse.Namespace) -> int:
    """Log, list or void."""
    form, *rest = args.words
    if form.lower() not in ("void", "list"):
        refuse_options(args, "coat TAG", "why")
        with bench(args) as shop:
            return _log(shop, args)
    refuse_options(args, f"coat {form}", *COAT_OPTIONS)
    if len(rest) != 1:
        raise BadInput(f"'coat {form}' takes one {'number' if form == 'void' else 'tag'}")
    with bench(args) as shop:
        if form.lower() == "void":
            return void(shop, args, "coat", rest[0])
        refuse_options(args, "coat list", "why")
        return _list(shop, args, rest[0])


def _log(at: Bench, args: argparse.Namespace) -> int:
    at_ms = past_ms(at, args.at)
    mixed_ms = None
    if args.mixed_at is not None:
        mixed_ms = past_ms(at, args.mixed_at, option="--mixed-at")
    coat = Coat(
        at_ms,
        args.wet_um,
        1 if args.passes is None else args.passes,
        mixed_ms,
        args.note or "",
        who=args.who or "",
    )
    logged = log_coat(at, args.words, coat, pot=args.pot, really=bool(args.really))
    tags = [piece.tag for piece, _ in logged]
    with stored_already(f"the coat on {', '.join(tags)}"):
        shop = at.shop(tags)
        answers = [
            Answer(at, shop, piece, number, no_pot=bool(args.no_pot))
            for piece, (_, number) in zip(shop.pieces.values(), logged, strict=True)
        ]
        if args.json:
            print_json({"format": FORMAT, "coats": [answer.plain() for answer in answers]})
            return 0
        for answer in answers:
            first, *rest = answer.sentences()
            say(first)
            for line in rest:
                say(line, indent=2)
    return 0


def _list(at: Bench, args: argparse.Namespace, tag: str) -> int:
    (piece,) = pieces_named(at, [tag])
    entries = [e for e in at.store.pieces.history(tag) if e.what == "coat"]
    entries.sort(key=lambda entry: (entry.at_ms, entry.id))
    if args.json:
        rows: list[Plain] = [
            {
                "id": entry.id,
                "at": instant(entry.at_ms),
                "wet_um": entry.facts["wet_um"],
                "passes": entry.facts["passes"],
                "pot": entry.facts["pot"],
                "mixed_at": instant(_whole(entry.facts["mixed_at_ms"])),
                "who": entry.facts["who"],
                "note": entry.facts["note"],
                "void": None if entry.void is None else entry.void.why,
            }
            for entry in entries
        ]
        print_json({"format": FORMAT, "piece": piece.tag, "coats": [*rows]})
        return 0
    if not entries:
        say(f"No coat is logged on {piece.tag}.")
        return 0
    order = {coat.id: str(place) for place, coat in enumerate(piece.coats, start=1)}
    table(
        ["coat", "laid", "wet film", "passes", "note", "number"],
        [
            (
                order.get(entry.id, "void"),
                at.words.at(entry.at_ms, at.now_ms),
                "usual" if entry.facts["wet_um"] is None else f"{entry.facts['wet_um']:g} µm",
                str(entry.facts["passes"]),
                _told(entry),
                str(entry.id),
            )
            for entry in entries
        ],
    )
    return 0


def _told(entry: Entry) -> str:
    if entry.void is not None:
        return f"void: {entry.void.why}"
    pot = f"pot {entry.facts['pot']}" if entry.facts["pot"] else ""
    return ". ".join(filter(None, (str(entry.facts["note"]), pot, str(entry.facts["who"]))))


def _whole(value: float | str | None) -> int | None:
    return value if isinstance(value, int) else None
