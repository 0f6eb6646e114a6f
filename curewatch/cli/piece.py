"""Hang, show, list, finish or take down a piece; plan its coats; read its whole history."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.assembly import finish_text
from curewatch.cli import joined, piece_suspects, piece_views, rejudge
from curewatch.cli.bench import bench
from curewatch.cli.entry import (
    RESERVED_TAGS,
    Forms,
    all_or_none,
    at_argument,
    known_room,
    past_ms,
    pieces_named,
)
from curewatch.cli.joined import with_parts
from curewatch.cli.show import print_json, say
from curewatch.cli.why import add_why
from curewatch.errors import BadInput
from curewatch.finish_files import load_text
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
    hang = forms.add("hang", _hang, "tag new pieces and hang them")
    hang.add_argument("tags", nargs="+", metavar="TAG")
    hang.add_argument("--finish", required=True, metavar="NAME", help="its finish profile")
    hang.add_argument("--room", metavar="ROOM", help="where it hangs")
    hang.add_argument("--title", default="", metavar="TEXT", help="what it is, in your words")
    hang.add_argument("--coats", type=int, metavar="N", help="how many coats it is to get")
    at_argument(hang)
    listed = forms.add("list", piece_views.list_pieces, "the pieces in the shop")
    listed.add_argument("--left", action="store_true", help="those that left the shop as well")
    show = forms.add("show", piece_views.show_piece, "how one piece stands, whole")
    one(show)
    add_why(show)
    white = forms.add("suspects", piece_suspects.run, "why did a coat go white")
    one(white)
    piece_suspects.arguments(white)
    one(forms.add("done", _done, "it gets no more coats"))
    plan = forms.add("plan", _plan, "how many coats it is to get")
    one(plan)
    plan.add_argument("coats", type=int, metavar="N")
    leave = forms.add("leave", _leave, "pieces leave the shop")
    leave.add_argument("tags", nargs="+", metavar="TAG")
    at_argument(leave)
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
    for tag in args.tags:
        if tag.lower() in RESERVED_TAGS:
            raise BadInput(
                f"'{tag}' cannot be a tag: it is a word of the commands; choose another tag"
            )
    with bench(args) as at:
        at_ms = past_ms(at, args.at)
        if args.room is not None:
            known_room(at.settings, args.room)
        text = finish_text(at.settings, args.finish)
        with all_or_none(at, args.tags):
            revision = at.store.finishes.keep(args.finish, text, at.entered_ms)
            for tag in args.tags:
                at.store.pieces.hang(
                    tag,
                    args.finish,
                    revision,
                    title=args.title,
                    at_ms=at_ms,
                    entered_ms=at.entered_ms,
                    room=args.room,
                    planned_coats=args.coats,
                )
        finish = load_text(text, source=args.finish, revision=revision)
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
        (piece,) = pieces_named(at, [args.tag])
        if not piece.coats:
            raise BadInput(
                f"no coat is logged on {piece.tag}: log its coats first: curewatch coat {piece.tag}"
            )
        at.store.pieces.plan_coats(piece.tag, len(piece.coats), at.entered_ms)
        return _planned(args, piece, len(piece.coats))


def _plan(args: argparse.Namespace) -> int:
    with bench(args) as at:
        (piece,) = pieces_named(at, [args.tag])
        at.store.pieces.plan_coats(piece.tag, args.coats, at.entered_ms)
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


def plan_sentence(piece: Piece, planned: int) -> str:
    """Say what a number of coats makes of a piece, and what it turns round."""
    laid, before = len(piece.coats), piece.planned_coats
    was_done = before is not None and laid >= before
    counted = f"{laid} coat" + ("s" if laid != 1 else "")
    if laid < planned:
        again = "coating is open again, and sanding and buffing wait: " if was_done else ""
        return f"{again}{laid} of {planned} coats are on."
    over = laid - planned
    more = "" if not over else f", {over} more than planned now"
    if was_done:
        return f"coating stays done with {counted}{more}."
    return f"coating done with {counted}{more}; from here it waits for sanding and buffing."


def _leave(args: argparse.Namespace) -> int:
    with bench(args) as at:
        at_ms = past_ms(at, args.at)
        with all_or_none(at, args.tags):
            pieces = with_parts(at, pieces_named(at, args.tags, hanging_at_ms=at.now_ms), at.now_ms)
            tags = [piece.tag for piece in pieces]
            for piece in pieces:
                at.store.pieces.leave(piece.tag, at_ms, at.entered_ms)
                later = [stay for stay in piece.stays if stay.start_ms > at_ms]
                if later:
                    raise BadInput(
                        f"{piece.tag} came into {later[-1].room} after that "
                        f"({at.words.at(later[-1].start_ms, at.now_ms)}): give a later --at, or "
                        f"void that move: curewatch move void {later[-1].id} --why ..."
                    )
        if args.json:
            print_json({"format": FORMAT, "left": [*tags], "at": instant(at_ms)})
        else:
            say(f"{', '.join(tags)}: left the shop {at.words.at(at_ms, at.now_ms)}.")
            say("The record stays: curewatch piece history TAG. A move brings a piece back.")
    return 0
