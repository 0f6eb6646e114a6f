"""What a cold night cost: hours lost, what comes later, and films that may be harmed for good.

With ROOM every piece that hung there is told of; with TAG that piece. The stretch is last night,
18:00 to 8:00, unless you say another. Hours are lost against the finish's reference climate, and
against what the room's record up to the start had led one to expect. Time without readings is left
out and said.
"""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

from curewatch.assembly import finish_now, record_start_ms
from curewatch.cli.bench import bench
from curewatch.cli.entry import SAFETY, known_room, past_ms
from curewatch.cli.show import print_json, say
from curewatch.errors import BadInput
from curewatch.room_feed import RoomFeed
from curewatch.shop.finish import ClockName
from curewatch.shop.overnight import coldest_c, lost_hours, piece_lost
from curewatch.shop.overnight_hours import Stretch
from curewatch.shop.overnight_words import (
    Night,
    coverage_sentence,
    night_sentence,
    piece_sentence,
)
from curewatch.shop.piece import Stay
from curewatch.shop.plain import FORMAT
from curewatch.shop.plain_overnight import night_plain

if TYPE_CHECKING:
    import argparse

    from curewatch.cli.bench import Bench
    from curewatch.shop.finish import Finish
    from curewatch.shop.piece import Piece
    from curewatch.shop.shop import Shop

EVENING_H, MORNING_H = 18, 8
LOOK_BACK_MS = 15 * 86_400_000  # what an outlook at the start of the stretch is made from
LONGEST_DAYS = 60
DAY_MS = 86_400_000


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add where, and from when to when."""
    parser.add_argument("where", metavar="ROOM|TAG", help="a room, or a piece by its tag")
    parser.add_argument(
        "--from", dest="start", metavar="TIME", help="'yesterday 18:00' if not said"
    )
    parser.add_argument("--to", dest="stop", metavar="TIME", help="'8:00' if not said")
    parser.add_argument("--finish", metavar="NAME", help="whose clock, in a room without pieces")


def run(args: argparse.Namespace) -> int:
    """Work it out and say it."""
    with bench(args) as at:
        stretch = _stretch(args, at)
        nights = _nights(args, at, stretch)
        words, now_ms = at.words, at.now_ms
    if args.json:
        print_json({"format": FORMAT, "nights": [night_plain(night, words) for night in nights]})
        return 0
    begins, ends = (words.at(one, now_ms) for one in (stretch.start_ms, stretch.stop_ms))
    say(f"From {begins} to {ends}:")
    for night in nights:
        say()
        say(night_sentence(night, words))
        cold = "" if night.coldest_c is None else f" Coldest {words.temp(night.coldest_c)}."
        say(f"{coverage_sentence(night)}{cold}")
        for piece in night.pieces:
            say(f"- {piece_sentence(piece, words)}")
    say()
    say(SAFETY)
    return 0


def last_night(at: Bench) -> Stretch:
    """Return the night that runs now, or else the last one, on the shop's wall clock."""
    now = at.words.local(at.now_ms)
    morning = now.replace(hour=MORNING_H, minute=0, second=0, microsecond=0)
    evening = (morning - timedelta(days=1)).replace(hour=EVENING_H)
    start, stop = (round(one.timestamp() * 1000) for one in (evening, morning))
    return Stretch(start, min(stop, at.now_ms))


def _stretch(args: argparse.Namespace, at: Bench) -> Stretch:
    usual = last_night(at)
    start = usual.start_ms if args.start is None else past_ms(at, args.start, option="--from")
    stop = usual.stop_ms if args.stop is None else past_ms(at, args.stop, option="--to")
    if args.start is not None and args.stop is None and stop <= start:
        stop = at.now_ms  # 'from noon on': the night before is over
    if stop <= start:
        raise BadInput("the stretch would end before it begins: check --from and --to")
    if stop - start > LONGEST_DAYS * DAY_MS:
        raise BadInput(f"ask for {LONGEST_DAYS} days at most: longer than that is no cold spell")
    return Stretch(start, stop)


def _nights(args: argparse.Namespace, at: Bench, stretch: Stretch) -> list[Night]:
    """Return one answer for each finish that hung there."""
    rooms = [table.name for table in at.settings.room]
    if args.where in rooms:
        shop = _shop(at, stretch, None)
        pieces = [piece for piece in shop.pieces.values() if _hung(piece, args.where, stretch)]
        stays: tuple[Stay, ...] = (Stay(args.where, stretch.start_ms, stretch.stop_ms),)
        return [
            _night(shop, args.where, finish, stays, stretch, pieces)
            for finish in _finishes(args, at, shop, pieces)
        ]
    if args.finish is not None:
        known_room(at.settings, args.where)  # --finish goes with a room: say that it is none
    try:
        at.store.pieces.load(args.where)
    except BadInput as error:
        raise BadInput(f"{error}. Rooms are: {', '.join(rooms) or 'none'}") from error
    shop = _shop(at, stretch, args.where)
    (piece,) = shop.pieces.values()
    return [_night(shop, piece.tag, shop.finish_of(piece), piece.stays, stretch, [piece])]


def _shop(at: Bench, stretch: Stretch, tag: str | None) -> Shop:
    """Return the shop with enough of its record for an outlook before the stretch."""
    shop = at.shop(tags=None if tag is None else [tag])
    start_ms = stretch.start_ms - LOOK_BACK_MS
    if start_ms < record_start_ms(shop.pieces.values(), at.now_ms):
        RoomFeed(at.store, shop).load(start_ms // 60_000 * 60_000, sorted(shop.rooms))
    return shop


def _hung(piece: Piece, room: str, stretch: Stretch) -> bool:
    return any(
        stay.room == room
        and stay.start_ms < stretch.stop_ms
        and (stay.stop_ms is None or stay.stop_ms > stretch.start_ms)
        for stay in piece.stays
    )


def _finishes(args: argparse.Namespace, at: Bench, shop: Shop, pieces: list[Piece]) -> list[Finish]:
    """Return the finishes to answer for: those that hung there, or the one that is named."""
    if args.finish is not None:
        return [finish_now(at.settings, at.store, args.finish)]
    here = {(piece.finish, piece.finish_revision): shop.finish_of(piece) for piece in pieces}
    if not here:
        raise BadInput(
            f"nothing hung in {args.where} then: name whose hours you ask for with --finish NAME"
        )
    return [here[key] for key in sorted(here)]


def _night(
    shop: Shop,
    where: str,
    finish: Finish,
    stays: tuple[Stay, ...],
    stretch: Stretch,
    pieces: list[Piece],
) -> Night:
    mine = [piece for piece in pieces if _same(piece, finish)]
    told = [one for piece in mine if (one := piece_lost(shop, piece, stretch)) is not None]
    return Night(
        where=where,
        finish=finish,
        stretch=stretch,
        lost=lost_hours(shop, finish, stays, stretch, clock=ClockName.CURE),
        coldest_c=coldest_c(shop, stays, stretch),
        pieces=tuple(told),
        of_piece=where not in shop.rooms,
    )


def _same(piece: Piece, finish: Finish) -> bool:
    return (piece.finish, piece.finish_revision) == (finish.name, finish.revision)
