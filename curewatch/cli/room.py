"""Rooms: how they stand, gaps in their record, readings typed or imported, what they will do."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.cli import room_ahead, room_record, room_seasons
from curewatch.cli.bench import bench
from curewatch.cli.entry import SAFETY, TIME_FORMS, Forms, at_argument, known_room
from curewatch.cli.figures import add_figure, really_argument
from curewatch.cli.room_import import import_log
from curewatch.cli.show import print_json, say, table
from curewatch.cli.why import add_why, print_why
from curewatch.shop.assessment import assess_room
from curewatch.shop.plain import FORMAT, room_plain
from curewatch.shop.typed import AIR, HUMIDITY, SURFACE
from curewatch.shop.words import listed, percent

if TYPE_CHECKING:
    import argparse

    from curewatch.cli.bench import Bench
    from curewatch.shop.assessment import RoomNow
    from curewatch.shop.plain import PlainValue
    from curewatch.shop.shop import Shop


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add the forms."""
    forms = Forms(parser)
    forms.add("list", _list, "the rooms and their climate")
    show = forms.add("show", _show, "one room: climate, wood, cover, whether it is fit to spray")
    _room(show)
    add_why(show)
    typed = forms.add("reading", room_record.type_reading, "enter a reading taken by hand")
    _room(typed)
    add_figure(typed, "--temp-c", AIR, of="air temperature [degC]")
    add_figure(typed, "--rh-pct", HUMIDITY, of="relative humidity [%%]")
    add_figure(typed, "--surface-c", SURFACE, of="a piece's temperature [degC]")
    really_argument(typed)
    at_argument(typed)
    _import(forms)
    fill = forms.add("fill", room_record.fill, "fill a gap with an assumed climate")
    _room(fill)
    fill.add_argument("--from", dest="start", required=True, metavar="TIME", help=TIME_FORMS)
    fill.add_argument("--to", dest="stop", required=True, metavar="TIME")
    add_figure(fill, "--temp-c", AIR, of="assumed [degC]", required=True)
    add_figure(fill, "--rh-pct", HUMIDITY, of="assumed [%%]", required=True)
    really_argument(fill)
    fill.add_argument("--why", required=True, metavar="TEXT", help="what it is assumed from")
    gaps = forms.add("gaps", room_record.show_gaps, "the stretches without credit, and the fills")
    _room(gaps)
    gaps.add_argument("--from", dest="start", metavar="TIME", help="since when (default: 14 days)")
    gaps.add_argument("--finish", metavar="NAME", help="and what each may have earned it")
    year = forms.add("seasons", room_seasons.run, "what a day was worth here, month by month")
    _room(year)
    room_seasons.arguments(year)
    coming = forms.add("ahead", room_ahead.ahead, "what it is planned to do, and likely will")
    _room(coming)
    room_ahead.arguments(coming)
    undo = forms.add("void-fill", room_record.void_fill, "a fill no longer counts")
    undo.add_argument("number", metavar="NUMBER", help="as 'room gaps' shows it")
    undo.add_argument("--why", required=True, metavar="TEXT", help="what was wrong with it")


def _import(forms: Forms) -> None:
    log = forms.add("import", import_log, "take in a logger's CSV file")
    _room(log)
    log.add_argument("file", metavar="FILE.csv")
    log.add_argument("--time", required=True, metavar="COL", help="column of the time")
    log.add_argument("--temp", required=True, metavar="COL", help="column of the temperature")
    log.add_argument("--rh", required=True, metavar="COL", help="column of relative humidity")
    log.add_argument("--surface", metavar="COL", help="column of a piece's temperature")
    log.add_argument("--zone", help="IANA zone of times without an offset (default: the shop's)")
    log.add_argument("--temp-unit", default="C", choices=["C", "F", "K"])
    log.add_argument("--rh-unit", default="auto", choices=["auto", "percent", "fraction"])
    log.add_argument("--sensor", metavar="ID", help="what to call the logger (default: log-ROOM)")


def _room(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("room", metavar="ROOM")


def run(args: argparse.Namespace) -> int:
    """Carry out the form."""
    status: int = args.do(args)
    return status


def _list(args: argparse.Namespace) -> int:
    with bench(args) as at:
        shop = at.shop()
        rooms = [assess_room(shop, name, at.now_ms) for name in shop.rooms]
        if args.json:
            rows: list[PlainValue] = [room_plain(room) for room in rooms]
            print_json({"format": FORMAT, "rooms": rows})
        elif not rooms:
            say("No room is configured: add a [[room]] to the configuration.")
        else:
            table(
                ["room", "climate", "dew point", "heard", "pieces"],
                [_row(at, shop, room) for room in rooms],
            )
    return 0


def _row(at: Bench, shop: Shop, room: RoomNow) -> tuple[str, ...]:
    climate, words = room.climate, at.words
    pieces = [piece.tag for piece in shop.pieces_in(room.name, at.now_ms)]
    if climate is None:
        return (room.name, "never heard", "-", "-", listed(pieces))
    rh = "humidity not known" if climate.rh_frac is None else percent(climate.rh_frac)
    heard = words.at(climate.at_ms, at.now_ms) + ("" if room.fresh else " (silent since)")
    dew = "-" if room.dew_point_c is None else words.temp(room.dew_point_c)
    return (room.name, f"{words.temp(climate.temp_c)}, {rh}", dew, heard, listed(pieces))


def _show(args: argparse.Namespace) -> int:
    with bench(args) as at:
        name = known_room(at.settings, args.room)
        shop = at.shop(rooms=[name])
        room = assess_room(shop, name, at.now_ms)
        pieces = [piece.tag for piece in shop.pieces_in(name, at.now_ms)]
        if args.json:
            told: list[PlainValue] = [*pieces]
            print_json({"format": FORMAT, **room_plain(room), "pieces": told, "safety": SAFETY})
        else:
            for line in filter(None, _sentences(at, room, pieces)):
                say(line)
            _say_sensors(at, room)
            _say_checks(room)
            say(SAFETY)
            if args.why:
                print_why(room_plain(room))
    return 0


def _sentences(at: Bench, room: RoomNow, pieces: list[str]) -> list[str]:
    words, climate = at.words, room.climate
    hang = f"{listed(pieces)} {'hangs' if len(pieces) == 1 else 'hang'} here." if pieces else ""
    if climate is None:
        why = room.unmeasured or "nothing was ever heard from it, so nothing is known"
        return [f"{room.name}: {why}.", hang]
    rh = "humidity not known" if climate.rh_frac is None else f"{percent(climate.rh_frac)} humidity"
    heard = words.at(climate.at_ms, at.now_ms)
    said = [f"{room.name}, air {room.moves}: {words.temp(climate.temp_c)}, {rh}, heard {heard}."]
    if room.unmeasured:
        said.append(f"{room.unmeasured}; what it said last decides nothing.")
    elif not room.fresh:
        said.append("It has been silent since: too old to decide anything by.")
    if room.dew_point_c is not None:
        dew = f"Dew point {words.temp(room.dew_point_c)}: keep every surface 3 K above."
        over = room.surface_over_dew_k
        said.append(
            f"{dew} Surface not measured."
            if over is None
            else f"{dew} The surface is {words.kelvin(over)} above."
        )
    if room.wood_emc_pct is not None:
        said.append(f"Wood left in this air settles at {room.wood_emc_pct:.1f} % moisture.")
    said.append(f"Readings cover {room.coverage_24h_pct:.0f} % of the last 24 h.")
    return [*said, at.clock_note, hang]


def _say_sensors(at: Bench, room: RoomNow) -> None:
    for sensor in room.sensors:
        heard = sensor.last_heard_at
        when = "never heard" if heard is None else f"last heard {at.words.at(heard, at.now_ms)}"
        refused = sum(row.count for row in sensor.refused)
        say(f"Sensor {sensor.id}: {when}" + (f", {refused} refused." if refused else "."))


def _say_checks(room: RoomNow) -> None:
    if not room.sprays:
        say("No piece hangs in the shop; 'curewatch check' asks for any finish.")
        return
    say()
    say("To spray now:")
    for answer in room.sprays:
        say(f"{answer.now.finish}: {answer.sentence}", indent=2)
        for note in answer.now.notes:
            say(note, indent=4)
    say()
