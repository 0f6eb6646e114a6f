"""Hang, show, list, finish or take down a piece; plan its coats; read its whole history."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.cli import joined, piece_compare, piece_suspects, piece_views, rejudge
from curewatch.cli.bench import bench
from curewatch.cli.entry import Forms, at_argument, past_ms
from curewatch.cli.figures import whole
from curewatch.cli.show import print_json, say
from curewatch.cli.why import add_why
from curewatch.entries.hanging import (
    NewPiece,
    check_tags,
    coating_is_done,
    hang,
    plan_coats,
    plan_sentence,
)
from curewatch.entries.moves import leave
from curewatch.entries.undo import take_back
from curewatch.shop.plain import FORMAT, instant

if TYPE_CHECKING:
    import argparse

    from curewatch.cli.bench import Bench
    from curewatch.shop.finish import Finish
    from curewatch.shop.piece import Piece
    from curewatch.shop.plain import PlainValue


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add the forms."""
    forms = Forms(parser)
    new = forms.add("hang", _hang, "tag new pieces and hang them")
    new.add_argument("tags", nargs="+", metavar="TAG")
    new.add_argument("--finish", required=True, metavar="NAME", help="its finish profile")
    new.add_argument("--room", metavar="ROOM", help="where it hangs")
    new.add_argument("--title", default="", metavar="TEXT", help="what it is, in your words")
    new.add_argument("--coats", type=whole, metavar="N", help="how many coats it is to get")
    at_argument(new)
    listed = forms.add("list", piece_views.list_pieces, "the pieces in the shop")
    listed.add_argument("--left", action="store_true", help="those that left the shop as well")
    show = forms.add("show", piece_views.show_piece, "how one piece stands, whole")
    one(show)
    add_why(show)
    white = forms.add("suspects", piece_suspects.run, "why did a coat go white")
    one(white)
    piece_suspects.arguments(white)
    beside = forms.add("compare", piece_compare.run_compare, "one beside others of its finish")
    piece_compare.compare_arguments(beside)
    after = forms.add("onward", piece_compare.run_onward, "may it be fitted up, cased, shipped")
    one(after)
    piece_compare.onward_arguments(after)
    one(forms.add("done", _done, "it gets no more coats"))
    plan = forms.add("plan", _plan, "how many coats it is to get")
    one(plan)
    plan.add_argument("coats", type=whole, metavar="N")
    taken = forms.add("leave", _leave, "pieces leave the shop")
    taken.add_argument("tags", nargs="+", metavar="TAG")
    at_argument(taken)
    void = forms.add("void", _void, "it was hung by mistake, and nothing else is entered on it")
    one(void)
    void.add_argument("--why", required=True, metavar="TEXT", help="what was wrong with it")
    join = forms.add("join", joined.join, "it was joined onto another, as a neck to its body")
    one(join)
    join.add_argument("--onto", required=True, metavar="TAG", help="the piece it is joined onto")
    join.add_argument("--note", default="", metavar="TEXT", help="your own words")
    at_argument(join)
    unjoin = forms.add("unjoin", joined.unjoin, "it came off, or was never joined")
    one(unjoin)
    unjoin.add_argument("--why", required=True, metavar="TEXT", help="why, for its record")
    again = forms.add("rejudge", rejudge.run, "judge it by the newest profile of its finish")
    one(again)
    again.add_argument("--why", metavar="TEXT", help="why, for its record")
    one(forms.add("history", piece_views.show_history, "everything entered, voided or not"))


def one(parser: argparse.ArgumentParser) -> None:
    """Add one tag."""
    parser.add_argument("tag", metavar="TAG")


def run(args: argparse.Namespace) -> int:
    """Carry out the form."""
    status: int = args.do(args)
    return status


def _hang(args: argparse.Namespace) -> int:
    check_tags(args.tags)
    with bench(args) as at:
        at_ms = past_ms(at, args.at)
        new = NewPiece(args.finish, at_ms, args.title, args.room, args.coats)
        finish = hang(at, args.tags, new)
        if args.json:
            print_json(
                {"format": FORMAT, "hung": [_hung(args, tag, finish, at_ms) for tag in args.tags]}
            )
        else:
            _say_hung(at, args, finish, at_ms)
    return 0


def _hung(args: argparse.Namespace, tag: str, finish: Finish, at_ms: int) -> PlainValue:
    return {
        "piece": tag,
        "title": args.title,
        "finish": finish.name,
        "finish_revision": finish.revision,
        "tried": finish.tried,
        "room": args.room,
        "at": instant(at_ms),
        "planned_coats": args.coats,
    }


def _say_hung(at: Bench, args: argparse.Namespace, finish: Finish, at_ms: int) -> None:
    where = f" in {args.room}" if args.room is not None else ""
    planned = f", {args.coats} coats planned" if args.coats is not None else ""
    say(
        f"{', '.join(args.tags)}: hung{where} {at.words.at(at_ms, at.now_ms)}, "
        f"{finish.title}{planned}. Judged by revision {finish.revision} of this profile."
    )
    if not finish.tried:
        say("Nobody has tried this profile whole: put your data sheet's figures in its place.")
    if args.room is None:
        say(
            "No room is said, so it earns no hours yet: curewatch move "
            f"{args.tags[0]} ROOM --at {at.words.local(at_ms):%Y-%m-%dT%H:%M}"
        )
    say(f"Next: log its first coat: curewatch coat {args.tags[0]}")


def _done(args: argparse.Namespace) -> int:
    with bench(args) as at:
        piece, _ = coating_is_done(at, args.tag)
        return _planned(args, piece, len(piece.coats))


def _plan(args: argparse.Namespace) -> int:
    with bench(args) as at:
        piece, _ = plan_coats(at, args.tag, args.coats)
        return _planned(args, piece, args.coats)


def _planned(args: argparse.Namespace, piece: Piece, planned: int) -> int:
    told = plan_sentence(piece, planned)
    if args.json:
        print_json(
            {
                "format": FORMAT,
                "piece": piece.tag,
                "planned_coats": planned,
                "planned_before": piece.planned_coats,
                "coats": len(piece.coats),
                "told": told,
            }
        )
    else:
        say(f"{piece.tag}: {told}")
    return 0


def _leave(args: argparse.Namespace) -> int:
    with bench(args) as at:
        at_ms = past_ms(at, args.at)
        tags = [piece.tag for piece, _ in leave(at, args.tags, at_ms)]
        if args.json:
            print_json({"format": FORMAT, "left": [*tags], "at": instant(at_ms)})
        else:
            say(f"{', '.join(tags)}: left the shop {at.words.at(at_ms, at.now_ms)}.")
            say("The record stays: curewatch piece history TAG. A move brings a piece back.")
    return 0


def _void(args: argparse.Namespace) -> int:
    with bench(args) as at:
        tag = at.store.pieces.load(args.tag).tag
        take_back(at, ("piece", tag), args.why, who="")
        if args.json:
            told: dict[str, PlainValue] = {"what": "piece", "piece": tag, "why": args.why}
            print_json({"format": FORMAT, "voided": told})
        else:
            say(f"{tag} no longer counts: {args.why}")
            say("It stays in the record with the reason, and the tag is free again.")
    return 0
