"""Whether a lot stood outside its limits, said on stock, pots and coats."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.assembly import OLDEST_MS, finish_now
from curewatch.room_feed import RoomFeed
from curewatch.shop.book import ClockBook
from curewatch.shop.climate import MINUTE_MS
from curewatch.shop.plain import instant
from curewatch.shop.shop import biases
from curewatch.shop.standings import AIR, MEASURED, entry, of_figure
from curewatch.shop.stock import lot_of, stock_faults
from curewatch.shop.words import span

if TYPE_CHECKING:
    from collections.abc import Iterable

    from curewatch.opened import Opened
    from curewatch.shop.batch import Batch
    from curewatch.shop.finish import Finish
    from curewatch.shop.plain import Plain
    from curewatch.shop.stock import Stock, StockFault
    from curewatch.shop.words import Words

FOLLOWS = "A can follows the air within hours."


def fault_said(words: Words, fault: StockFault, now_ms: int) -> str:
    """Say one fault in a sentence or two."""
    since = f"{words.at(fault.start_ms, now_ms)} to {words.at(fault.stop_ms, now_ms)}"
    worst, limit = words.temp(fault.worst_c), words.temp(fault.limit_c)
    off = f"the sensor may be off by {words.kelvin(fault.bias_k)}"
    was = "was" if fault.sure else "may have been"
    long = f"for {span(fault.hours)} in all ({since}; {off})"
    match fault.side:
        case "frozen":
            return (
                f"The air of {fault.room} {was} below freezing {long}, coldest {worst}. {FOLLOWS} "
                "If it froze it is taken to be ruined (common practice): try it on a panel first."
            )
        case "cold":
            return f"{fault.room} {was} under its {limit} {long}, coldest {worst}. {FOLLOWS}"
        case "hot":
            return f"{fault.room} {was} over its {limit} {long}, hottest {worst}. {FOLLOWS}"


def of_limit(finish: Finish, fault: StockFault) -> Plain:
    """Return where the limit of a fault comes from."""
    limits = finish.storage
    sides = {} if limits is None else {"cold": limits.low_c, "hot": limits.high_c}
    figure = sides.get(fault.side)
    return entry("physics", "water freezes") if figure is None else of_figure(figure)


def fault_plain(fault: StockFault, finish: Finish) -> Plain:
    """Return a fault as plain data."""
    return {
        "side": fault.side,
        "room": fault.room,
        "start": instant(fault.start_ms),
        "stop": instant(fault.stop_ms),
        "hours": fault.hours,
        "worst_c": fault.worst_c,
        "limit_c": fault.limit_c,
        "bias_k": fault.bias_k,
        "sure": fault.sure,
        "standing": {
            "hours": entry(MEASURED, AIR),
            "worst_c": entry(MEASURED, AIR),
            "limit_c": of_limit(finish, fault),
            "bias_k": entry("configured", "the room's sensors, or the default for theirs"),
        },
    }


def book_of(at: Opened, stocks: Iterable[Stock]) -> ClockBook:
    """Return the record of the rooms that lots stood in, from when they came there."""
    stays = [stay for stock in stocks for stay in stock.stays]
    shop = at.without_record()
    shop.book = ClockBook(biases(shop.rooms, shop.sensors))
    if stays:
        start_ms = max(min(stay.start_ms for stay in stays), at.now_ms - OLDEST_MS)
        rooms = sorted({stay.room for stay in stays})
        RoomFeed(at.store, shop).load(start_ms // MINUTE_MS * MINUTE_MS, rooms)
    return shop.book


def lot_said(at: Opened, pot: Batch) -> list[str]:
    """Say what is wrong with the lot a pot was mixed from, as it stood until then."""
    stocks = at.store.stock.all()
    stock = lot_of(stocks, pot.finish, pot.lot)
    told = []
    if stock is not None:
        finish = finish_now(at.settings, at.store, stock.finish)
        faults = stock_faults(stock, finish, book_of(at, [stock]), pot.mixed_at_ms)
        told += [f"Lot {pot.lot}: {fault_said(at.words, f, at.now_ms)}" for f in faults]
    mixed = [(stock, pot.lot)] if stock is not None else []
    mixed += [
        (s, s.lot)
        for s in stocks
        if s.part in ("crosslinker", "catalyst")
        and s.finish == pot.finish
        and s.lot.casefold() == pot.crosslinker_lot.casefold()
    ]
    for one, lot in mixed:
        if one.past_keep(pot.mixed_at_ms) and one.keep_until_ms is not None:
            day = f"{at.words.local(one.keep_until_ms):%Y-%m-%d}"
            told.append(f"Lot {lot} was past its date ({day}) when the pot was mixed.")
    return told
