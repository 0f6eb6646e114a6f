"""Stock: where cans stand, whether they froze or stood too warm there, and how long they keep.

A lot is judged by the air of its room, as far as a sensor hears it; a can follows within hours.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from curewatch.assembly import finish_now
from curewatch.cli.bench import bench
from curewatch.cli.entry import Forms, at_argument, known_room, past_ms
from curewatch.cli.figures import whole
from curewatch.cli.show import print_json, say, table
from curewatch.cli.stock_said import say_unseen
from curewatch.entries.holds import lot_held
from curewatch.entries.lots import book_of, fault_plain, fault_said
from curewatch.errors import BadInput
from curewatch.shop.plain import FORMAT, instant
from curewatch.shop.quarantine import aside_said
from curewatch.shop.stock import PARTS, Stock, StockEntry, StockFault, stock_faults, unseen_h

if TYPE_CHECKING:
    import argparse

    from curewatch.cli.bench import Bench
    from curewatch.shop.plain import Plain, PlainValue


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add the forms."""
    forms = Forms(parser)
    add = forms.add("add", _add, "enter a can or a drum")
    add.add_argument("finish", metavar="FINISH", help="its finish profile, or the one it goes into")
    _lot(add)
    add.add_argument("--room", required=True, metavar="ROOM", help="where it stands")
    add.add_argument("--opened", metavar="TIME", help="when it was opened")
    add.add_argument("--keep-until", metavar="DATE", help="date on the can, as 2026-08-31")
    add.add_argument("--note", default="", metavar="TEXT", help="your own words")
    at_argument(add)
    move = forms.add("move", _move, "it stands in another room, or was opened")
    _lot(move)
    move.add_argument("--room", required=True, metavar="ROOM", help="where it stands now")
    move.add_argument("--opened", metavar="TIME", help="when it was opened")
    at_argument(move)
    gone = forms.add("gone", _gone, "it is used up or thrown away")
    _lot(gone)
    at_argument(gone)
    listed = forms.add("list", _list, "what stands where, and what was wrong there")
    listed.add_argument("--gone", action="store_true", help="what is used up as well")
    void = forms.add("void", _void, "an entry was a mistake")
    void.add_argument("number", type=whole, metavar="N", help="its number, from the list")
    void.add_argument("--why", required=True, metavar="TEXT", help="what was wrong with it")


def _lot(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--lot", required=True, metavar="LOT", help="lot number on the can")
    parser.add_argument(
        "--part", default="finish", choices=PARTS, help="what it is (default: finish)"
    )


def run(args: argparse.Namespace) -> int:
    """Carry out the form."""
    status: int = args.do(args)
    return status


def _add(args: argparse.Namespace) -> int:
    with bench(args) as at:
        finish_now(at.settings, at.store, args.finish)  # refuses a finish nobody knows
        if any(
            s.lot.casefold() == args.lot.casefold() and s.part == args.part
            for s in at.store.stock.all()
        ):
            raise BadInput(
                f"lot {args.lot} ({args.part}) is entered already: 'curewatch stock move' says "
                "where it stands now"
            )
        entry = StockEntry(
            finish=args.finish,
            lot=args.lot,
            part=args.part,
            room=known_room(at.settings, args.room),
            at_ms=past_ms(at, args.at),
            opened_ms=_opened(at, args),
            keep_until_ms=None if args.keep_until is None else _day_ms(at, args.keep_until),
            note=args.note,
        )
        return _enter(at, args, entry)


def _move(args: argparse.Namespace) -> int:
    with bench(args) as at:
        stock = at.store.stock.get(args.lot, args.part)
        room = known_room(at.settings, args.room)
        entry = StockEntry(
            *(stock.finish, stock.lot, stock.part, room, past_ms(at, args.at)),
            opened_ms=_opened(at, args),
        )
        return _enter(at, args, entry)


def _gone(args: argparse.Namespace) -> int:
    with bench(args) as at:
        stock = at.store.stock.get(args.lot, args.part)
        entry = StockEntry(stock.finish, stock.lot, stock.part, None, past_ms(at, args.at))
        return _enter(at, args, entry)


def _opened(at: Bench, args: argparse.Namespace) -> int | None:
    return None if args.opened is None else past_ms(at, args.opened, option="--opened")


def _day_ms(at: Bench, text: str) -> int:
    """Return the end of a day on the shop's calendar [ms]."""
    try:
        day = datetime.strptime(text.strip(), "%Y-%m-%d").replace(tzinfo=at.words.zone)
    except ValueError:
        raise BadInput(f"--keep-until {text}: write the day as 2026-08-31") from None
    return round((day + timedelta(days=1)).timestamp() * 1000) - 1


def _enter(at: Bench, args: argparse.Namespace, entry: StockEntry) -> int:
    number = at.store.stock.add(entry, at.entered_ms)
    stock = at.store.stock.get(entry.lot, entry.part)
    faults = _faults(at, [stock])[0]
    if args.json:
        print_json({"format": FORMAT, "id": number, **_plain(at, stock, faults)})
        return 0
    when = at.words.at(entry.at_ms, at.now_ms)
    where = "gone" if entry.room is None else f"in {entry.room}"
    say(f"{_named(stock)}: {where} from {when} on (number {number}).")
    for line in _told(at, stock, faults):
        say(line)
    return 0


def _faults(at: Bench, stocks: list[Stock]) -> list[tuple[StockFault, ...]]:
    """Return how each lot stood outside its limits, by the profile as it lies on the shelf."""
    book = book_of(at, stocks)
    return [
        stock_faults(stock, finish_now(at.settings, at.store, stock.finish), book, at.now_ms)
        for stock in stocks
    ]


def _named(stock: Stock) -> str:
    part = "" if stock.part == "finish" else f", {stock.part}"
    return f"{stock.finish}{part}, lot {stock.lot}"


def _told(at: Bench, stock: Stock, faults: tuple[StockFault, ...]) -> list[str]:
    why = lot_held(at, stock.lot)
    told = [] if why is None else [aside_said(why)]
    told += [fault_said(at.words, fault, at.now_ms) for fault in faults]
    if stock.past_keep(at.now_ms) and stock.keep_until_ms is not None:
        told.append(f"Past its date: keep until {at.words.local(stock.keep_until_ms):%Y-%m-%d}.")
    return told


def _list(args: argparse.Namespace) -> int:
    with bench(args) as at:
        stocks = [s for s in at.store.stock.all() if args.gone or s.gone_ms is None]
        faults = _faults(at, stocks) if stocks else []
        book = book_of(at, stocks)
        unseen = {stock.number: unseen_h(stock, book, at.now_ms) for stock in stocks}
        if args.json:
            rows: list[PlainValue] = [
                {**_plain(at, stock, found), "unseen_hours": unseen[stock.number]}
                for stock, found in zip(stocks, faults, strict=True)
            ]
            print_json({"format": FORMAT, "stock": rows})
            return 0
        if not stocks:
            say("No stock is entered: curewatch stock add FINISH --lot L --room R")
            return 0
        table(
            ["what", "stands in", "opened", "keep until", "number"],
            [_row(at, stock) for stock in stocks],
        )
        for stock, found in zip(stocks, faults, strict=True):
            for line in _told(at, stock, found):
                say(f"{_named(stock)}: {line}")
        for stock in stocks:
            say_unseen(_named(stock), unseen[stock.number])
    return 0


def _row(at: Bench, stock: Stock) -> tuple[str, ...]:
    words, now_ms = at.words, at.now_ms
    gone = None if stock.gone_ms is None else f"gone {words.at(stock.gone_ms, now_ms)}"
    where, keep = gone or stock.stays[-1].room, stock.keep_until_ms
    return (
        _named(stock),
        where if lot_held(at, stock.lot) is None else f"{where}, set aside",
        "-" if stock.opened_ms is None else words.at(stock.opened_ms, now_ms),
        "-" if keep is None else f"{words.local(keep):%Y-%m-%d}",
        str(stock.number),
    )


def _plain(at: Bench, stock: Stock, faults: tuple[StockFault, ...]) -> Plain:
    finish = finish_now(at.settings, at.store, stock.finish)
    return {
        "finish": stock.finish,
        "lot": stock.lot,
        "part": stock.part,
        "room": stock.stays[-1].room if stock.gone_ms is None and stock.stays else None,
        "opened_at": instant(stock.opened_ms),
        "keep_until": instant(stock.keep_until_ms),
        "past_keep": stock.past_keep(at.now_ms),
        "gone_at": instant(stock.gone_ms),
        "held": lot_held(at, stock.lot),
        "number": stock.number,
        "faults": [fault_plain(fault, finish) for fault in faults],
    }


def _void(args: argparse.Namespace) -> int:
    with bench(args) as at:
        at.store.stock.void(args.number, args.why, at.entered_ms)
        if args.json:
            told: dict[str, PlainValue] = {"what": "stock", "id": args.number, "why": args.why}
            print_json({"format": FORMAT, "voided": told})
        else:
            say(f"Entry {args.number} of the stock book no longer counts: {args.why}")
    return 0
