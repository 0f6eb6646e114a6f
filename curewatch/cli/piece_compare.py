"""Pieces side by side, and the gates after the buff: `piece compare` and `piece onward`."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.cli.bench import bench
from curewatch.cli.entry import SAFETY
from curewatch.cli.figures import add_figure, really_argument
from curewatch.cli.show import print_json, say, table
from curewatch.errors import BadInput
from curewatch.shop.assessment import assess_piece
from curewatch.shop.onward import COLDEST_C, WARMEST_C, GateNow, onward
from curewatch.shop.plain_compare import comparison_plain, onward_plain
from curewatch.shop.side_by_side import NOT_SEEN, Beside, Comparison, companions, compare
from curewatch.shop.typed import AIR
from curewatch.shop.words import span

if TYPE_CHECKING:
    import argparse

    from curewatch.cli.bench import Bench

SAID = {"test-first": "test first", "not-yet": "not yet", "unknown": "cannot tell"}
GATE = {"fit-up": "fit up", "case": "in its case", "ship": "ship it"}


def compare_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the pieces."""
    parser.add_argument("tag", metavar="TAG", help="the piece asked about")
    parser.add_argument(
        "others",
        nargs="*",
        metavar="OTHER",
        help="what it is set beside (default: its batch-mates, then others of its finish)",
    )


def onward_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the way."""
    way = "the coldest on the way, by forecast [degC]"
    add_figure(parser, "--coldest-c", AIR, of=way, metavar="T")
    really_argument(parser)


def run_compare(args: argparse.Namespace) -> int:
    """Set a piece beside others."""
    with bench(args) as at:
        piece = at.store.pieces.load(args.tag)
        if not piece.coats:
            raise BadInput(f"no coat is logged on {piece.tag}: there is nothing to compare yet")
        pots = {pot.name: pot for pot in at.store.batches.all()}
        if args.others:
            others = tuple(at.store.pieces.load(tag) for tag in dict.fromkeys(args.others))
            _check(piece.tag, piece.finish, others={o.tag: o.finish for o in others})
        else:
            others = companions(piece, at.store.pieces.load_all(left=True), pots, at.now_ms)
        shop = at.shop([piece.tag, *(other.tag for other in others)])
        found = compare(shop, piece, others, pots, at.now_ms)
        if args.json:
            print_json(comparison_plain(found, shop.finish_of(piece)))
        else:
            _tell(found, at)
    return 0


def _check(tag: str, finish: str, *, others: dict[str, str]) -> None:
    """Refuse what cannot be compared."""
    if tag in others:
        raise BadInput(f"{tag} cannot be set beside itself: name others, or none")
    strange = [other for other, its in others.items() if its != finish]
    if strange:
        raise BadInput(
            f"{', '.join(strange)}: sprayed with another finish than {tag} ({finish}), and hours "
            "of two finishes are not alike; boards compare finishes: curewatch test-boards"
        )


def _tell(found: Comparison, at: Bench) -> None:
    say(found.sentence)
    table(
        ["piece", "shares", "judged", "on the wall", "effective", "film", "found"],
        [_row(one, at) for one in (found.asked, *found.others)],
    )
    for hint in found.hints:
        say(f"{hint.says}: {hint.text}", indent=2)
    say("Not recorded, and as likely: " + "; ".join(NOT_SEEN) + ".")


def _row(one: Beside, at: Bench) -> tuple[str, ...]:
    film = None if one.build is None else one.build.film_um
    hours = one.effective_h
    when = at.words.at(one.at_ms, at.now_ms)
    wall = one.history.wall_h
    return (
        one.tag,
        ", ".join(one.shares) or "-",
        "now" if one.judged == "now" else f"{one.judged}, {when}",
        "-" if wall is None else span(wall),
        one.history.why_no_age if hours is None else f"{hours.low:.0f} to {hours.high:.0f} h",
        "not known" if film is None else f"{film.low:.0f} to {film.high:.0f} µm",
        ", ".join(one.findings) or "-",
    )


def run_onward(args: argparse.Namespace) -> int:
    """Say whether a piece can be fitted up, cased, shipped."""
    coldest_c: float | None = args.coldest_c
    if coldest_c is not None and not COLDEST_C <= coldest_c <= WARMEST_C:
        raise BadInput(
            f"--coldest-c {coldest_c:g}: give degrees Celsius between {COLDEST_C:g} and "
            f"{WARMEST_C:g}"
        )
    with bench(args) as at:
        shop = at.shop([args.tag])
        (piece,) = shop.pieces.values()
        now = assess_piece(shop, piece, at.now_ms)
        gates = onward(
            now,
            piece,
            shop.finish_of(piece),
            words=at.words,
            now_ms=at.now_ms,
            coldest_c=coldest_c,
        )
        if args.json:
            print_json(onward_plain(now, gates, now_ms=at.now_ms, coldest_c=coldest_c))
        else:
            _tell_gates(gates)
    return 0


def _tell_gates(gates: tuple[GateNow, ...]) -> None:
    for one in gates:
        say(f"{GATE[one.gate].capitalize()}: {SAID[one.verdict]}. {one.reason}")
        say(one.test, indent=2)
    say()
    say("A piece that is ready to buff is not ready for any of these by that.")
    say(SAFETY)
