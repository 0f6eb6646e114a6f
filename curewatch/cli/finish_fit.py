"""Figures of a finish from a weighed witness panel: `finish panel`.

A panel of glass or foil is sprayed with one coat beside the work and left on a scale. Its mass says
how much water the coat held, how fast it left, and how what the film retains moves through it and
off its surface. The fit runs in a short-lived child process.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from pydantic import ValidationError

from curewatch.assembly import finish_now
from curewatch.cli.bench import bench
from curewatch.cli.entry import TIME_FORMS, known_room, past_ms
from curewatch.cli.figures import number
from curewatch.cli.finish_write import rewritten, say_changes, write_arguments, written_plain
from curewatch.cli.show import print_json, say, table
from curewatch.errors import BadInput
from curewatch.fits import fit_apart
from curewatch.intake import read_log
from curewatch.intake.csv_mass import read_masses
from curewatch.intake.units import MassUnit
from curewatch.panel import SUPPORTS, Panel, faults_of, refuse_support
from curewatch.panel_figures import learnt_figures
from curewatch.panel_record import room_of_log, weighings
from curewatch.replay import gated
from curewatch.room_feed import RoomFeed
from curewatch.science.evaporation import AIR_SPEED_M_S
from curewatch.science.humid_air import pressure_at_altitude_pa
from curewatch.settings import load_settings
from curewatch.shop.book import ClockBook
from curewatch.shop.plain import FORMAT, instant
from curewatch.shop.reading import Quantity
from curewatch.shop.room import Room
from curewatch.shop.shop import biases
from curewatch.times import instant_ms

if TYPE_CHECKING:
    import argparse
    from collections.abc import Sequence

    from curewatch.cli.bench import Bench
    from curewatch.cli.entry import Forms
    from curewatch.panel import Estimate, PanelFit
    from curewatch.settings import Settings
    from curewatch.shop.climate import Floats, Times
    from curewatch.shop.finish import Finish
    from curewatch.shop.plain import PlainValue
    from curewatch.shop.shop import Shop

FITTED = {
    "water_load_g_m2": ("what left while the film was wet", "g/m2"),
    "drying_rate_g_m2_h": ("its rate at the reference climate", "g/m2 h"),
    "retained_g_m2": ("what the film retained", "g/m2"),
    "volatile_frac": ("that, as a share of the dry film", ""),
    "diffusivity_um2_h": ("D, its way through the film", "um2/h"),
    "transfer_um_h": ("k, its way off the surface", "um/h"),
}
LOG_ROOM, LOG_SENSOR = "the file's room", "file"
FROM_A_SCALE = ("sensor", "start", "stop")
FROM_A_FILE = ("csv", "time", "mass")


def panel_arguments(forms: Forms) -> None:
    """Add the form."""
    form = forms.add("panel", panel, "a finish's figures from a weighed witness panel")
    form.add_argument("name", metavar="NAME")
    form.add_argument(
        "--kind", metavar="WHAT", help=f"what was sprayed: {', '.join(SUPPORTS)} (never wood)"
    )
    form.add_argument("--area-cm2", type=number, metavar="A", help="sprayed area [cm2]")
    form.add_argument("--dry-um", type=number, metavar="D", help="dry film, measured after [um]")
    form.add_argument(
        "--dry-um-error", type=number, default=0.0, metavar="E", help="its error [um]"
    )
    form.add_argument(
        "--wet-um", type=number, metavar="W", help="its wet film (default: the usual)"
    )
    form.add_argument(
        "--density", type=number, default=1.0, metavar="R", help="of what it retains [g/cm3]"
    )
    scale = form.add_argument_group("from a scale that reports here")
    scale.add_argument("--sensor", metavar="SCALE", help="a sensor with the quantity mass")
    scale.add_argument("--from", dest="start", metavar="TIME", help=f"sprayed at: {TIME_FORMS}")
    scale.add_argument("--to", dest="stop", metavar="TIME", help="the last weighing")
    scale.add_argument("--room", metavar="ROOM", help="where it dried (default: the scale's)")
    log = form.add_argument_group("from a file")
    log.add_argument("--csv", type=Path, metavar="FILE", help="the scale's file; --from: the coat")
    log.add_argument("--time", metavar="COL", help="column of the time")
    log.add_argument("--mass", metavar="COL", help="column of the mass")
    log.add_argument("--mass-unit", default="g", choices=list(MassUnit))
    log.add_argument("--temp", metavar="COL", help="column of the temperature, else --room")
    log.add_argument("--rh", metavar="COL", help="column of relative humidity")
    log.add_argument("--zone", help="IANA zone of times without an offset (default: the site's)")
    log.add_argument("--air", default="still", choices=list(AIR_SPEED_M_S))
    write_arguments(form)


@dataclass(frozen=True, slots=True)
class Record:
    """A panel's weighings, and the room whose record runs its clocks."""

    shop: Shop
    room: str
    coat_ms: int
    times_ms: Times
    mass_g: Floats
    where: str


def panel(args: argparse.Namespace) -> int:
    """Fit a panel and tell what it says of the finish."""
    settings = load_settings(args.config)
    finish = finish_now(settings, None, args.name)
    _check_asked(args)
    record = _from_scale(args) if args.csv is None else _from_file(args, settings)
    given = _panel(args, finish, record)
    fit = fit_apart(given)
    changes, remarks = learnt_figures(
        finish,
        given,
        fit,
        thicker=1.0 if args.wet_um is None else args.wet_um / finish.drying.wet_film_um.value,
        source=_source(args, settings, record, fit),
    )
    done = rewritten(args, settings, changes)
    said = (*fit.cautions, *remarks)
    if args.json:
        print_json(_answer(args, record, fit, said) | written_plain(changes, done))
        return 0
    say(f"{args.name}, one coat on {args.kind}, {fit.readings} weighings {record.where}.")
    table(
        ["from the panel", "value", "standard error", "nine in ten between"],
        [_row(name, getattr(fit, name)) for name in FITTED],
    )
    say(f"Scatter about the fit: {1000.0 * fit.misfit_g:.2g} mg.")
    for remark in said:
        say(f"- {remark}")
    say_changes(args.name, changes, done)
    if done.film_decides:
        say(
            "With D and k known the film decides beside the clock: buffing is called ready only "
            "when both agree."
        )
    return 0


def _panel(args: argparse.Namespace, finish: Finish, record: Record) -> Panel:
    """Return the panel as it is fitted."""
    weighed = weighings(
        record.shop,
        finish,
        room=record.room,
        coat_ms=record.coat_ms,
        times_ms=record.times_ms,
        mass_g=record.mass_g,
    )
    try:
        return Panel(
            support=args.kind,
            area_cm2=args.area_cm2,
            dry_um=args.dry_um,
            dry_um_error=args.dry_um_error,
            volatile_density_g_cm3=args.density,
            readings=weighed,
        )
    except ValidationError as error:
        raise BadInput(f"The panel cannot be fitted. {faults_of(error)}") from error


def _answer(
    args: argparse.Namespace, record: Record, fit: PanelFit, said: Sequence[str]
) -> dict[str, PlainValue]:
    return {
        "format": FORMAT,
        "finish": args.name,
        "kind": args.kind,
        "from": instant(record.coat_ms),
        "to": instant(int(record.times_ms[-1])),
        "readings": fit.readings,
        "misfit_g": fit.misfit_g,
        "fit": {name: _plain(getattr(fit, name)) for name in FITTED},
        "cautions": [*said],
    }


def _check_asked(args: argparse.Namespace) -> None:
    """Refuse what cannot be fitted before anything is read."""
    if args.kind is None:
        raise BadInput(f"what was sprayed? Say --kind, one of {', '.join(SUPPORTS)}")
    refuse_support(args.kind)
    for option, value in (("--area-cm2", args.area_cm2), ("--dry-um", args.dry_um)):
        if value is None:
            raise BadInput(f"{option} is missing: a panel's mass says nothing without it")
    if args.wet_um is not None and not 1.0 <= args.wet_um <= 2000.0:  # noqa: PLR2004 - as profiles
        raise BadInput(f"--wet-um {args.wet_um:g}: give the wet film in um, 1 to 2000")
    needed = FROM_A_SCALE if args.csv is None else FROM_A_FILE
    missing = [name for name in needed if getattr(args, name) is None]
    if missing:
        names = {"start": "from", "stop": "to"}
        told = ", ".join(f"--{names.get(name, name)}" for name in missing)
        how = "--sensor SCALE --from T --to T, or --csv FILE --time COL --mass COL"
        raise BadInput(f"{told} missing: a record comes from {how}")
    if args.csv is not None and args.sensor is not None:
        raise BadInput("--sensor and --csv are two records: give one of them")


def _from_scale(args: argparse.Namespace) -> Record:
    with bench(args) as at:
        start_ms, stop_ms = (
            past_ms(at, args.start, option="--from"),
            past_ms(at, args.stop, option="--to"),
        )
        if stop_ms <= start_ms:
            raise BadInput(f"--to {args.stop} is not after --from {args.start}")
        times, mass = at.store.readings.series(args.sensor, Quantity.MASS, start_ms, stop_ms + 1)
        if not times.size:
            raise BadInput(
                f"{args.sensor} has no mass on record between {args.start} and {args.stop}: a "
                "scale is a [[sensor]] with mass = '/...' in the configuration; 'curewatch sensor "
                "list' shows what was heard"
            )
        room = _room_of(at, args.sensor, start_ms) if args.room is None else args.room
        shop = _past(at, known_room(at.settings, room), start_ms, stop_ms)
        where = f"on {args.sensor} in {room}, {_span(at.settings, start_ms, int(times[-1]))}"
        return Record(shop, room, start_ms, times, mass, where)


def _room_of(at: Bench, sensor: str, at_ms: int) -> str:
    """Return the room a scale stood in."""
    places = at.store.places.history().get(sensor, ())
    before = [room for from_ms, room in places if from_ms <= at_ms]
    rooms = [*before[-1:], *(room for _, room in places[:1])]
    rooms += [one.room for one in at.settings.sensors() if one.id == sensor]
    if not rooms:
        raise BadInput(f"where {sensor} stood is not known: say --room ROOM")
    return rooms[0]


def _past(at: Bench, room: str, start_ms: int, stop_ms: int) -> Shop:
    """Return a shop that knows one room's record over a span."""
    shop = at.without_record()
    shop.book = ClockBook(biases(shop.rooms, shop.sensors))
    RoomFeed(at.store, shop).load(start_ms, [room], stop_ms=stop_ms)
    return shop


def _from_file(args: argparse.Namespace, settings: Settings) -> Record:
    zone = args.zone or settings.site.timezone
    masses = read_masses(args.csv, time=args.time, mass=args.mass, unit=args.mass_unit, zone=zone)
    first_ms, last_ms = int(masses.times_ms[0]), int(masses.times_ms[-1])
    coat_ms = first_ms
    if args.start is not None:
        coat_ms = instant_ms(args.start, zone=settings.zone, now_ms=last_ms)
    if args.stop is not None:
        last_ms = instant_ms(args.stop, zone=settings.zone, now_ms=last_ms)
    inside = masses.times_ms <= last_ms
    times, mass = masses.times_ms[inside], masses.mass_g[inside]
    if not times.size or last_ms <= coat_ms:
        raise BadInput(f"{args.csv} has no weighing between --from and --to")
    where = f"in {args.csv.name}, {_span(settings, coat_ms, int(times[-1]))}"
    if args.temp is None or args.rh is None:
        if args.room is None:
            raise BadInput(
                "the room's climate is missing: name its columns with --temp COL --rh COL, or the "
                "room whose record it is with --room ROOM"
            )
        with bench(args) as at:
            shop = _past(at, known_room(at.settings, args.room), coat_ms, last_ms)
        return Record(shop, args.room, coat_ms, times, mass, where)
    log = read_log(args.csv, time=args.time, temp=args.temp, rh=args.rh, zone=zone)
    kept, _ = gated(log.readings(LOG_SENSOR))
    pressure_pa = float(pressure_at_altitude_pa(settings.site.altitude_m))
    room = Room(LOG_ROOM, air=args.air, pressure_pa=pressure_pa)
    return Record(room_of_log(kept, room, from_ms=coat_ms), LOG_ROOM, coat_ms, times, mass, where)


def _source(args: argparse.Namespace, settings: Settings, record: Record, fit: PanelFit) -> str:
    sprayed = settings.words().local(record.coat_ms)
    wet = "" if args.wet_um is None else f", wet film {args.wet_um:g} um"
    return (
        f"learnt here: a witness panel of {args.kind}, {args.area_cm2:g} cm2, dry film "
        f"{args.dry_um:g} um{wet}, sprayed {sprayed:%Y-%m-%d %H:%M} and weighed {fit.readings} "
        f"times {record.where.split(', ')[0]}"
    )


def _span(settings: Settings, start_ms: int, stop_ms: int) -> str:
    words = settings.words()
    return f"{words.local(start_ms):%d %b %Y %H:%M} to {words.local(stop_ms):%d %b %Y %H:%M}"


def _plain(one: Estimate) -> PlainValue:
    return {
        "value": one.value,
        "standard_error": one.standard_error,
        "low": one.low,
        "high": one.high,
        "why": one.why or None,
    }


def _row(name: str, one: Estimate) -> tuple[str, ...]:
    what, unit = FITTED[name]
    if one.value is None or one.standard_error is None or one.low is None or one.high is None:
        return what, "not determined", "-", "-"
    return (
        what,
        f"{one.value:.4g} {unit}".rstrip(),
        f"{one.standard_error:.2g}",
        f"{one.low:.4g} to {one.high:.4g}",
    )
