"""What `piece list`, `piece show` and `piece history` print."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.cli.bench import bench
from curewatch.cli.entry import SAFETY, pieces_named
from curewatch.cli.entry_said import entered_said, entry_said
from curewatch.cli.show import print_json, say, table
from curewatch.cli.standing import (
    say_clocks,
    say_gaps,
    say_milestones,
    say_sink_back,
    window_sentence,
)
from curewatch.cli.why import print_why
from curewatch.shop.assessment import assess, assess_piece
from curewatch.shop.build import the_build
from curewatch.shop.plain import FORMAT, instant, piece_plain
from curewatch.shop.plain_compare import build_plain
from curewatch.shop.plain_entries import entries_plain
from curewatch.shop.words import listed
from curewatch.storage.history_plain import entry_plain

if TYPE_CHECKING:
    import argparse

    from curewatch.cli.bench import Bench
    from curewatch.shop.assessment import PieceNow
    from curewatch.shop.finish import Finish
    from curewatch.shop.piece import Piece
    from curewatch.shop.plain import PlainValue


def list_pieces(args: argparse.Namespace) -> int:
    """Print the pieces with their next jobs."""
    with bench(args) as at:
        now = assess(at.shop(), at.now_ms)
        gone = [p for p in at.store.pieces.load_all(left=True) if p.left_ms is not None]
        gone = gone if args.left else []
    if args.json:
        rows: list[PlainValue] = [piece_plain(piece) for piece in now.pieces]
        left: list[PlainValue] = [
            {"piece": p.tag, "title": p.title, "finish": p.finish, "left_at": instant(p.left_ms)}
            for p in gone
        ]
        print_json({"format": FORMAT, "pieces": rows, **({"left": left} if args.left else {})})
        return 0
    if not now.pieces:
        say("No piece hangs here. Hang one: curewatch piece hang TAG --finish NAME --room ROOM")
    else:
        table(["tag", "room", "coats", "how it stands"], [_row(piece) for piece in now.pieces])
    if gone:
        table(
            ["left the shop", "what", "finish", "when"],
            [(p.tag, p.title, p.finish, at.words.at(p.left_ms or 0, at.now_ms)) for p in gone],
        )
    return 0


def _row(piece: PieceNow) -> tuple[str, ...]:
    coats = str(piece.coats)
    if piece.planned_coats is not None:
        coats += f" of {piece.planned_coats}"
    name = f"{piece.tag}\n{piece.title}" if piece.title else piece.tag
    return (name, piece.room or "not said", coats, f"{piece.sentence} {piece.next_action}")


def show_piece(args: argparse.Namespace) -> int:
    """Print everything about one piece."""
    with bench(args) as at:
        shop = at.shop([args.tag])
        (piece,) = shop.pieces.values()
        finish = shop.finish_of(piece)
        # A piece that left is shown as it stood then: nothing is known of it since.
        now_ms = at.now_ms if piece.left_ms is None else min(piece.left_ms - 1, at.now_ms)
        now = assess_piece(shop, piece, now_ms)
        if args.json:
            on = build_plain(the_build(piece, finish, now_ms, at.words), finish)
            entered = entries_plain(piece, finish)
            print_json({"format": FORMAT, **piece_plain(now), **entered, "build": on})
        else:
            _say_piece(at, now, piece, finish)
            if args.why:
                print_why(piece_plain(now))
    return 0


def _say_piece(at: Bench, now: PieceNow, piece: Piece, finish: Finish) -> None:
    words, now_ms = at.words, at.now_ms
    title = f", {piece.title}" if piece.title else ""
    room = f"in {now.room}" if now.room else "in no room that anybody named"
    say(f"{piece.tag}{title}: {finish.title}, revision {piece.finish_revision}, {room}.")
    if piece.left_ms is not None:
        say(f"It left the shop {words.at(piece.left_ms, now_ms)}; this is how it stood then.")
    if now.part_of is not None:
        say(f"It is joined to {now.part_of}.")
    if now.parts:
        say(f"Joined to it: {listed(now.parts)}.")
    say()
    say(now.sentence)
    say(now.next_action)
    if now.clocks:
        if not now.coating_done:
            say(window_sentence(now, words, now_ms))
        say()
        say_clocks(now)
        say_milestones(now, words, now_ms)
        say_sink_back(now, words, now_ms)
        on = the_build(piece, finish, now_ms, words)
        if on is not None:
            say(on.sentence)
        if now.wood is not None:
            say(now.wood.sentence)
        say_gaps(now, words, now_ms)
    for deed in now.deeds:
        say(f"{words.at(deed.at_ms, now_ms)}: {deed.reason} {deed.next_action}")
    say()
    _say_entries(at, piece)
    if not finish.tried:
        say("Nobody has tried this profile whole: its figures are generic.")
    say(SAFETY)
    say(f"Cautions for this finish: curewatch finish show {finish.name}")


def _say_entries(at: Bench, piece: Piece) -> None:
    words, now_ms = at.words, at.now_ms
    rows = []
    for place, coat in enumerate(piece.coats, start=1):
        told = [] if coat.wet_um is None else [f"{words.film(coat.wet_um)} wet"]
        told += [f"{coat.passes} passes"] if coat.passes > 1 else []
        told += [f"pot {coat.pot}"] if coat.pot else []
        told += [said for said in (coat.note, coat.who) if said]
        rows.append((coat.at_ms, f"coat {place}", ", ".join(told), coat.id))
    for work in piece.work:
        anyway = f"anyway: {work.anyway}" if work.anyway else ""
        told_ = ", ".join(filter(None, [work.note, anyway, work.who]))
        rows.append((work.at_ms, str(work.kind), told_, work.id))
    rows += [(stay.start_ms, "move", f"into {stay.room}", stay.id) for stay in piece.stays]
    for o in piece.outcomes:
        told_ = " ".join(filter(None, [o.finding, o.note, f"({o.who})" if o.who else ""]))
        rows.append((o.at_ms, "outcome", told_, o.id))
    if rows:
        table(
            ["when", "what", "told", "number"],
            [
                (words.at(at_ms, now_ms), what, told, str(n))
                for at_ms, what, told, n in sorted(rows)
            ],
        )


def show_history(args: argparse.Namespace) -> int:
    """Print everything ever entered about a piece, by when it was so; JSON is in order of entry."""
    with bench(args) as at:
        (piece,) = pieces_named(at, [args.tag])
        entries = at.store.pieces.history(piece.tag)
    if args.json:
        rows: list[PlainValue] = [entry_plain(entry) for entry in entries]
        print_json({"format": FORMAT, "piece": piece.tag, "entries": rows})
        return 0
    words, now_ms = at.words, at.now_ms
    entries = tuple(sorted(entries, key=lambda entry: (entry.at_ms, entry.entered_ms)))
    table(
        ["when", "what", "told", "entered", "number"],
        [
            (
                words.at(entry.at_ms, now_ms),
                entry.what,
                entry_said(entry, words, now_ms),
                entered_said(entry, words, now_ms),
                str(entry.id) if entry.id else "",
            )
            for entry in entries
        ],
    )
    for entry in entries:
        if entry.void is not None:
            when = words.at(entry.void.at_ms, now_ms)
            say(f"{entry.what} {entry.id} was voided {when}: {entry.void.why}")
    return 0
