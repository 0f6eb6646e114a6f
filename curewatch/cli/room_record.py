"""A room's record by hand: typing a reading, filling a gap, listing gaps, voiding a fill."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.assembly import assemble, finish_now
from curewatch.cli.bench import bench
from curewatch.cli.entry import known_room, past_ms, stored_already, void
from curewatch.cli.show import print_json, say, table
from curewatch.errors import BadInput
from curewatch.replay import gated
from curewatch.room_feed import RoomFeed
from curewatch.shop.climate import MINUTE_MS
from curewatch.shop.piece import Fill
from curewatch.shop.plain import FORMAT, instant
from curewatch.shop.plain_what_if import range_plain
from curewatch.shop.reading import Origin, Quantity, Reading
from curewatch.shop.silence import CREDITED, Silence, silence
from curewatch.shop.standings import COVERED, MEASURED, entry
from curewatch.shop.standings_told import law_standing
from curewatch.shop.words import percent, span

if TYPE_CHECKING:
    import argparse

    from curewatch.cli.bench import Bench
    from curewatch.shop.plain import PlainValue
    from curewatch.shop.shop import Shop

HOUR_MS = 3_600_000
LOOKED_BACK_MS = 14 * 24 * HOUR_MS


def record_of(at: Bench, room: str, start_ms: int) -> Shop:
    """Return the shop with this room's record read from `start_ms` [ms] on."""
    shop = assemble(at.settings, at.store, at.now_ms)
    RoomFeed(at.store, shop).load(start_ms, [room])
    return shop


def open_stretches(shop: Shop, room: str, start_ms: int, stop_ms: int) -> list[tuple[int, int]]:
    """Return the stretches of [start, stop) that neither readings nor fills cover [ms].

    The time since the newest reading counts from its first millisecond on.
    """
    frontier = shop.book.frontier_ms(room)
    if frontier is None:
        return [(start_ms, stop_ms)]
    found = shop.book.air_gaps(room, start_ms, stop_ms)
    tail = max(frontier, start_ms)
    if tail < stop_ms:
        if found and found[-1][1] == tail:
            tail = found.pop()[0]
        found.append((tail, stop_ms))
    return found


def type_reading(args: argparse.Namespace) -> int:
    """Store a reading that a person took."""
    given = {
        Quantity.TEMPERATURE: args.temp_c,
        Quantity.HUMIDITY: None if args.rh_pct is None else args.rh_pct / 100.0,
        Quantity.SURFACE_TEMPERATURE: args.surface_c,
    }
    if all(value is None for value in given.values()):
        raise BadInput("which reading? Give --temp-c and --rh-pct, or --surface-c")
    with bench(args) as at:
        room, at_ms = known_room(at.settings, args.room), past_ms(at, args.at)
        sensor = f"typed-{room}"
        readings = [
            Reading(sensor, quantity, at_ms, value, Origin.TYPED)
            for quantity, value in given.items()
            if value is not None
        ]
        kept, refused = gated(readings)
        if refused:
            raise BadInput(f"nothing was stored: {refused[0].detail}")
        with at.store.db.transaction():
            at.store.places.place(sensor, room, 0)
            added = at.store.readings.add(kept, announce=True)
            if added.conflicts:
                raise _conflict(at, room, sensor, at_ms)
        gap_min = assemble(at.settings, at.store, at.now_ms).longest_gap_s(room) / 60.0
        if args.json:
            print_json(_typed_plain(room, sensor, at_ms, given, stored=bool(added.added)))
            return 0
        when = at.words.at(at_ms, at.now_ms)
        if not added.added:
            say(f"{room}: that very reading ({when}) is stored already; nothing was added.")
            return 0
        say(f"{room}: reading of {when} stored, as sensor {sensor}.")
        say(
            f"One reading by itself covers no time: with another within {span(gap_min / 60.0)} "
            "the time between them counts. For a longer gap: curewatch room fill"
        )
        begin, end = _second(at, at_ms)
        say(f"To take it back: curewatch sensor void {sensor} --from {begin} --to {end} --why ...")
    return 0


def _conflict(at: Bench, room: str, sensor: str, at_ms: int) -> BadInput:
    begin, end = _second(at, at_ms)
    return BadInput(
        f"another value was typed for {room} at that very time, and it stays; nothing was stored. "
        f"To correct it: curewatch sensor void {sensor} --from {begin} --to {end} --why ..., "
        "then type it again"
    )


def _second(at: Bench, at_ms: int) -> tuple[str, str]:
    """Return the second that holds an instant [ms], as it is typed."""
    begin, end = (f"{at.words.local(at_ms + later_ms):%Y-%m-%dT%H:%M:%S}" for later_ms in (0, 1000))
    return begin, end


def _typed_plain(
    room: str, sensor: str, at_ms: int, given: dict[Quantity, float | None], *, stored: bool
) -> PlainValue:
    rh = given[Quantity.HUMIDITY]
    return {
        "format": FORMAT,
        "room": room,
        "sensor": sensor,
        "at": instant(at_ms),
        "temp_c": given[Quantity.TEMPERATURE],
        "rh_pct": None if rh is None else rh * 100.0,
        "surface_c": given[Quantity.SURFACE_TEMPERATURE],
        "stored": stored,
    }


def fill(args: argparse.Namespace) -> int:
    """Fill what is open of a stretch with an assumed climate."""
    with bench(args) as at:
        room = known_room(at.settings, args.room)
        start_ms = past_ms(at, args.start, option="--from")
        stop_ms = past_ms(at, args.stop, option="--to")
        new = Fill(room, start_ms, stop_ms, args.temp_c, args.rh_pct / 100.0, args.why)
        if stop_ms <= start_ms:
            raise BadInput("--to must lie after --from: the gap to fill is empty")
        shop = record_of(at, room, start_ms - MINUTE_MS)
        still_open = open_stretches(shop, room, start_ms, stop_ms)
        open_h = sum(stop - start for start, stop in still_open) / HOUR_MS
        if not still_open:
            raise BadInput(
                f"readings or an earlier fill cover all of that time in {room}: there is nothing "
                "to fill, and nothing was stored; 'curewatch room gaps' shows what is open"
            )
        number = at.store.fills.add(new, at.entered_ms)
        with stored_already(f"fill {number}"):
            _say_filled(at, args, new, number, open_h)
    return 0


def _say_filled(at: Bench, args: argparse.Namespace, new: Fill, number: int, open_h: float) -> None:
    asked_h = (new.stop_ms - new.start_ms) / HOUR_MS
    if args.json:
        row = fill_plain(new, number)
        print_json({"format": FORMAT, **row, "asked_hours": asked_h, "filled_hours": open_h})
        return
    words, now_ms = at.words, at.now_ms
    say(
        f"{new.room}: {span(open_h)} filled with {words.temp(new.temp_c)} and "
        f"{percent(new.rh_frac)}, between {words.at(new.start_ms, now_ms)} and "
        f"{words.at(new.stop_ms, now_ms)} (number {number})."
    )
    if asked_h - open_h > 1.0 / 60.0:
        say(f"Readings cover the other {span(asked_h - open_h)}; there they go before the fill.")
    say("Hours earned on it rest on this assumption; its reason stays in the record.")


def fill_plain(one: Fill, number: int) -> dict[str, PlainValue]:
    """Return a fill as plain data."""
    return {
        "id": number,
        "room": one.room,
        "start": instant(one.start_ms),
        "stop": instant(one.stop_ms),
        "temp_c": one.temp_c,
        "rh_pct": one.rh_frac * 100.0,
        "why": one.why,
    }


def show_gaps(args: argparse.Namespace) -> int:
    """Print the stretches without credit, and the fills that count."""
    with bench(args) as at:
        room = known_room(at.settings, args.room)
        start_ms = at.now_ms - LOOKED_BACK_MS
        if args.start is not None:
            start_ms = past_ms(at, args.start, option="--from")
        shop = record_of(at, room, start_ms - MINUTE_MS)
        found = open_stretches(shop, room, start_ms, at.now_ms)
        silent_ms = found[-1][1] - found[-1][0] if found and found[-1][1] == at.now_ms else 0
        if 0 < silent_ms <= shop.longest_gap_s(room) * 1000.0:
            found.pop()  # not yet longer than the room allows: the next reading bridges it
        fills = [one for one in at.store.fills.for_room(room) if one.stop_ms > start_ms]
        may_have = _may_have(at, shop, room, args.finish, found)
        if args.json:
            rows: list[PlainValue] = [fill_plain(one, one.id) for one in fills]
            since = instant(start_ms)
            gaps = _gaps_plain(at, args.finish, may_have, found)
            print_json({"format": FORMAT, "room": room, "from": since, **gaps, "fills": rows})
            return 0
        _say_gaps(at, room, start_ms, found)
        _say_may_have(at, args.finish, may_have)
        _say_fills(at, fills)
    return 0


def _may_have(
    at: Bench, shop: Shop, room: str, finish: str | None, gaps: list[tuple[int, int]]
) -> list[Silence]:
    """Return what each gap may have earned of a finish; nothing where none is asked about."""
    if finish is None:
        return []
    profile = finish_now(at.settings, at.store, finish)
    return [silence(shop, room, profile, gap) for gap in gaps]


def _gaps_plain(
    at: Bench, finish: str | None, may_have: list[Silence], gaps: list[tuple[int, int]]
) -> dict[str, PlainValue]:
    rows: list[PlainValue] = [
        {"start": instant(a), "stop": instant(b), "hours": (b - a) / HOUR_MS} for a, b in gaps
    ]
    if finish is None:
        return {"gaps": rows}
    told: list[PlainValue] = [
        {
            "start": instant(one.start_ms),
            "stop": instant(one.stop_ms),
            "credited_h": 0.0,
            "may_have_earned_h": range_plain(one.earned_h),
            "why": one.why,
        }
        for one in may_have
    ]
    law = law_standing(finish_now(at.settings, at.store, finish))
    standing: PlainValue = {"gaps": entry(MEASURED, COVERED), "silences": law}
    return {
        "finish": finish,
        "gaps": rows,
        "silences": told,
        "credited": CREDITED,
        "standing": standing,
    }


def _say_may_have(at: Bench, finish: str | None, may_have: list[Silence]) -> None:
    for one in may_have:
        when = f"Since {at.words.at(one.start_ms, at.now_ms)}"
        ends = one.earned_h
        said = (
            f"not known: {one.why}."
            if ends is None
            else f"may have earned {finish} {ends.low:.1f} to {ends.high:.1f} h, {one.why}."
        )
        say(f"{when}: {said}")
    if may_have:
        say(CREDITED)


def _say_gaps(at: Bench, room: str, start_ms: int, found: list[tuple[int, int]]) -> None:
    words, now_ms = at.words, at.now_ms
    since = words.at(start_ms, now_ms)
    if not found:
        say(f"{room}: no gap since {since}.")
        return
    say(f"{room}, since {since}: these stretches earn no piece any hours.")
    for start, stop in found:
        hours = span((stop - start) / HOUR_MS)
        say(f"{words.at(start, now_ms)} to {words.at(stop, now_ms)} ({hours})", indent=2)


def _say_fills(at: Bench, fills: list[Fill]) -> None:
    if not fills:
        return
    words, now_ms = at.words, at.now_ms
    table(
        ["filled from", "to", "with", "because", "number"],
        [
            (
                words.at(one.start_ms, now_ms),
                words.at(one.stop_ms, now_ms),
                f"{words.temp(one.temp_c)}, {percent(one.rh_frac)}",
                one.why,
                str(one.id),
            )
            for one in fills
        ],
    )


def void_fill(args: argparse.Namespace) -> int:
    """Void a fill."""
    with bench(args) as at:
        return void(at, args, "fill", args.number)
