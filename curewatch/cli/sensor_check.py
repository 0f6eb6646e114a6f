"""Checking a sensor by command: `sensor calibrate`, `sensor checks`, `sensor uncheck`."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from curewatch.cli.bench import bench
from curewatch.cli.entry import TIME_FORMS, past_ms
from curewatch.cli.figures import number, really_argument
from curewatch.cli.show import print_json, say, table
from curewatch.entries.sensor_checks import (
    WAIT,
    Beside,
    Kept,
    Standing,
    beside,
    called,
    hang,
    keep,
    measured_by_it_alone,
    put_in,
    recorded_from,
    renew,
    sensor_named,
    standing,
    take_back,
)
from curewatch.errors import BadInput
from curewatch.room_feed import RoomFeed
from curewatch.shop.calibration import CHECKABLE
from curewatch.shop.plain import FORMAT, instant
from curewatch.shop.plain_sensor_check import (
    check_plain,
    correction_plain,
    settling_plain,
    trusted_plain,
)
from curewatch.shop.reading import Quantity
from curewatch.shop.salt_jar import BENCH_SALTS, JAR_STEPS
from curewatch.shop.trust import counts_from_ms
from curewatch.shop.words import listed

if TYPE_CHECKING:
    import argparse

    from curewatch.cli.bench import Bench
    from curewatch.shop.calibration import Check, Correction, Jar
    from curewatch.shop.plain import Plain, PlainValue
    from curewatch.shop.shop import Shop

REPLACE: Final = 1
"""Exit status where a sensor was found too far off to be corrected."""
NEXT_SALT: Final = "Another salt, or hung again: --salt SALT, or --back once it hangs in its room."


def calibrate_arguments(parser: argparse.ArgumentParser) -> None:
    """Add what can be said of a check; nothing said shows where it stands."""
    parser.add_argument("sensor", metavar="ID")
    deed = parser.add_mutually_exclusive_group()
    deed.add_argument("--salt", choices=list(BENCH_SALTS), help="it is in a jar over this now")
    deed.add_argument("--record", action="store_true", help="it has settled: keep the check")
    deed.add_argument(
        "--beside", type=number, metavar="DEGC", help="a trusted thermometer beside it shows this"
    )
    deed.add_argument("--back", action="store_true", help="it hangs in its room again")
    deed.add_argument("--renewed", action="store_true", help="another one hangs in its place")
    parser.add_argument(
        "--error", type=number, metavar="K", help="what that thermometer may be off by"
    )
    parser.add_argument("--surface", action="store_true", help="the probe on the piece is meant")
    parser.add_argument("--at", metavar="TIME", help=f"when: {TIME_FORMS}")
    parser.add_argument(
        "--from", dest="start", metavar="TIME", help="corrected since when (default: the check)"
    )
    parser.add_argument("--who", metavar="NAME", help="who did it")
    parser.add_argument("--note", metavar="TEXT", help="what to know of it")
    really_argument(parser)


def checks_arguments(parser: argparse.ArgumentParser) -> None:
    """Add which sensor."""
    parser.add_argument("sensor", metavar="ID", nargs="?", help="only of this one")


def uncheck_arguments(parser: argparse.ArgumentParser) -> None:
    """Add which check, and why."""
    parser.add_argument("number", metavar="NUMBER", help="of the check, as 'sensor checks' shows")
    parser.add_argument("--why", required=True, metavar="TEXT", help="what was wrong with it")


def run_calibrate(args: argparse.Namespace) -> int:
    """Carry out one step of a check, or say where it stands."""
    _check_options(args)
    with bench(args) as at:
        who = args.who or ""
        from_ms = None if args.start is None else past_ms(at, args.start, option="--from")
        if args.record:
            note = args.note or ""
            return _tell_kept(args, at, keep(at, args.sensor, from_ms=from_ms, who=who, note=note))
        if args.beside is not None:
            shown = Beside(args.beside, args.error, surface=args.surface, really=args.really)
            return _tell_kept(args, at, beside(at, args.sensor, shown, from_ms=from_ms, who=who))
        if args.salt is not None:
            put_in(at, args.sensor, args.salt, past_ms(at, args.at), who=who)
        if args.back:
            at_ms = past_ms(at, args.at)
            return _tell_back(args, at, hang(at, args.sensor, at_ms), at_ms)
        if args.renewed:
            renew(at, args.sensor, past_ms(at, args.at), who=who)
        return _tell_standing(args, at, standing(at, args.sensor))


def _check_options(args: argparse.Namespace) -> None:
    keeps = args.record or args.beside is not None
    refused = {
        "--from": args.start is not None and not keeps,
        "--note": args.note is not None and not args.record,
        "--at": args.at is not None and not (args.salt or args.back or args.renewed),
        "--error": args.error is not None and args.beside is None,
        "--surface": args.surface and args.beside is None,
    }
    for option, wrong in refused.items():
        if wrong:
            raise BadInput(f"{option} goes with another step: leave it out. Nothing was stored")
    if args.beside is not None and args.error is None:
        raise BadInput("--beside needs --error K: what that thermometer may be off by")


def run_checks(args: argparse.Namespace) -> int:
    """Show the checks, void ones too, and what corrects each sensor now."""
    with bench(args) as at:
        if args.sensor is not None:
            sensor_named(at, args.sensor)
        kept, voids = at.store.sensor_checks.all(voided=True), at.store.sensor_checks.voids()
        shop = trusted(at)
    if args.json:
        print_json(trusted_plain(shop, at.now_ms, kept, voids, sensor=args.sensor))
        return 0
    checks = [check for check in kept if args.sensor in (None, check.sensor)]
    ruled = {
        key: found
        for key in sorted(shop.trust.made)
        if args.sensor in (None, key[0])
        and (found := shop.trust.ruling(*key, at.now_ms)) is not None
    }
    if not checks:
        say("No sensor was checked yet: curewatch sensor calibrate ID shows how.")
        return 0
    table(
        ["check", "sensor", "against", "kept", "read", "since", "who"],
        [_row(at, check, voids.get(check.id)) for check in checks],
    )
    for (sensor, quantity), one in ruled.items():
        say(f"{sensor}, {quantity.word.replace('_', ' ')}: {correction_said(one, quantity)}")
    return 0


def trusted(at: Bench) -> Shop:
    """Return the shop with what is known of its sensors, without any room's record."""
    shop = at.without_record()
    RoomFeed(at.store, shop)
    shop.heard = at.store.readings.latest()
    return shop


def run_uncheck(args: argparse.Namespace) -> int:
    """Take a check back: the track is what it was without it."""
    shown = args.number.removeprefix("#")
    if not shown.isdecimal():
        raise BadInput(f"'{args.number}' is not the number of a check: 'sensor checks' shows them")
    with bench(args) as at:
        gone = take_back(at, int(shown), args.why)
        if args.json:
            print_json({"format": FORMAT, "voided": check_plain(gone, void_why=args.why)})
            return 0
        say(f"Check {gone.id} of {gone.sensor} no longer counts: {args.why}")
        say("It stays in the record with the reason; readings are as they were without it.")
    return 0


def _row(at: Bench, check: Check, void_why: str | None) -> tuple[str, ...]:
    words = at.words
    humid = check.quantity is Quantity.HUMIDITY
    shown = [
        f"{100.0 * value:.1f} %" if humid else words.temp(value)
        for value in (check.reference, check.read)
    ]
    if not check.reference_error:  # a new sensor was held against nothing
        shown = ["-", "-"]
    against = called(check.against) if void_why is None else f"void: {void_why}"
    return (
        *(f"#{check.id}", check.sensor, against, *shown),
        *(words.at(check.from_ms, at.now_ms), check.who or "-"),
    )


def correction_said(one: Correction, quantity: Quantity) -> str:
    """Return what corrects a quantity, as a sentence."""
    humid = quantity is Quantity.HUMIDITY
    scale, unit = (100.0, "points") if humid else (1.0, "K")
    if one.replace:
        return f"replace the sensor: {one.replace}. Nothing is corrected."
    if not one.reads:
        return "new, and not checked yet."
    at = " and ".join(
        f"{shift * scale:+.1f} {unit} where it says {read * scale:.1f}{' %' if humid else ' °C'}"
        for read, shift in zip(one.reads, one.shifts, strict=True)
    )
    more = "" if one.two_points or not humid else "; one point says little of the rest"
    return f"corrected by {at}, known to {one.error * scale:.1f} {unit}{more}."


def _tell_kept(args: argparse.Namespace, at: Bench, kept: Kept) -> int:
    check, made = kept.check, kept.made
    status = REPLACE if made.replace else 0
    if args.json:
        told = correction_plain(made, check.quantity)
        print_json({"format": FORMAT, "check": check_plain(check), "correction": told})
        return status
    since = at.words.at(check.from_ms, at.now_ms)
    say(f"Check {check.id} of {check.sensor} against {called(check.against)} is kept.")
    say(f"Since {since}: {correction_said(made, check.quantity)}")
    if check.quantity is Quantity.HUMIDITY:
        say(NEXT_SALT)
    return status


def _tell_back(args: argparse.Namespace, at: Bench, jar: Jar, at_ms: int) -> int:
    """Say that a sensor hangs again, what its jar gave, and since when its readings count."""
    if args.json:
        return _tell_standing(args, at, standing(at, args.sensor))
    back_ms = max(at_ms, jar.start_ms)
    kept = [f"check {check.id} against {called(check.against)}" for check in recorded_from(at, jar)]
    what = f"{listed(kept)} came from this jar" if kept else "nothing was recorded from this jar"
    counts = at.words.at(counts_from_ms(jar.start_ms, back_ms), at.now_ms)
    say(
        f"{jar.sensor} hangs in its room again since {at.words.at(back_ms, at.now_ms)}; {what}. "
        f"Its readings count from {counts}: until then it may have the jar's air in it."
    )
    return 0


def _tell_standing(args: argparse.Namespace, at: Bench, here: Standing) -> int:
    if args.json:
        print_json({"format": FORMAT, **standing_plain(here)})
        return 0
    name = here.sensor.id
    for line in standing_said(at, here):
        say(line)
    if here.jar is None:
        say(f"To check it over a salt: curewatch sensor calibrate {name} --salt SALT, with one of")
        for word, salt in BENCH_SALTS.items():
            say(f"{word}: {salt.called} ({salt.mind})", indent=2)
        for step in JAR_STEPS:
            say(f"- {step}", indent=2)
        say(
            "Beside a trusted thermometer: "
            f"curewatch sensor calibrate {name} --beside 20.4 --error 0.2"
        )
    return 0


def standing_said(at: Bench, here: Standing) -> list[str]:
    """Return where the check of a sensor stands, in sentences."""
    name, said = here.sensor.id, []
    if here.made is not None:
        said.append(f"{name}, humidity: {correction_said(here.made, Quantity.HUMIDITY)}")
    if here.jar is None or here.seen is None:
        return [*said, f"{name} is in no jar."]
    since = at.words.at(here.jar.start_ms, at.now_ms)
    said.append(
        f"{name} is over {called(here.jar.salt)} since {since}; while it is there its readings "
        "are of no room."
    )
    alone = measured_by_it_alone(at, name)
    if alone:
        said.append(
            f"{alone} has no other sensor for its humidity: no verdict there until it is back."
        )
    seen = here.seen
    if seen.read is not None:
        keeps = "" if seen.keeps is None else f"; the salt keeps {100.0 * seen.keeps:.1f} %"
        said.append(f"It says {100.0 * seen.read:.1f} %{keeps}.")
    said.append(f"{WAIT[seen.stage][0].upper()}{WAIT[seen.stage][1:]}.")
    if here.check is not None:
        said.append(f"To keep the check: curewatch sensor calibrate {name} --record")
    return said


def standing_plain(here: Standing) -> Plain:
    """Return where the check of a sensor stands, as plain data."""
    jar: PlainValue = None
    if here.jar is not None:
        jar = {"salt": here.jar.salt, "since": instant(here.jar.start_ms)}
    return {
        "sensor": here.sensor.id,
        "jar": jar,
        "settling": None if here.seen is None else settling_plain(here.seen),
        "ready": here.check is not None,
        "correction": None if here.made is None else correction_plain(here.made, Quantity.HUMIDITY),
        "steps": [*JAR_STEPS],
        "salts": {word: salt.called for word, salt in BENCH_SALTS.items()},
        "measures": [quantity.word for quantity in CHECKABLE if quantity in here.sensor.measures],
    }
