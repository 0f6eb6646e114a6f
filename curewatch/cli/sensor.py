"""Sensors: when each was last heard, what was refused of it; voiding readings that are wrong.

Voided readings stay in the record with the reason and count no more; corrected ones may then be
typed or imported in their place.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.assembly import gone_sensors
from curewatch.cli import sensor_beside, sensor_check, sensor_scan
from curewatch.cli.bench import bench
from curewatch.cli.entry import TIME_FORMS, Forms, past_ms
from curewatch.cli.show import print_json, say, table
from curewatch.errors import BadInput
from curewatch.keeping import resumed_gate
from curewatch.presences import newcomers_kept
from curewatch.shop.assessment import SensorNow
from curewatch.shop.plain import FORMAT, instant, sensor_plain
from curewatch.shop.reading import IN_THE_AIR, Quantity
from curewatch.shop.shop import Refusals, Shop
from curewatch.shop.standings import sensor_standings
from curewatch.shop.standings_told import counts_standings
from curewatch.shop.unmeasured import not_measured
from curewatch.shop.words import percent

if TYPE_CHECKING:
    import argparse
    from collections.abc import Mapping

    from curewatch.cli.bench import Bench
    from curewatch.intake.families import Newcomer
    from curewatch.shop.plain import PlainValue

BESIDE = tuple(quantity for quantity in Quantity if quantity not in IN_THE_AIR)
QUANTITIES = {quantity.word: quantity for quantity in Quantity}


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add the forms."""
    forms = Forms(parser)
    forms.add("list", _list, "last heard, values, what was refused and why")
    found = forms.add("scan", sensor_scan.run_scan, "chips here, sensors heard at the broker")
    sensor_scan.scan_arguments(found)
    beside = forms.add("beside", sensor_beside.run_beside, "two sensors that hang side by side")
    sensor_beside.beside_arguments(beside)
    salt = forms.add("salt", sensor_beside.run_salt, "one in a jar over a salt")
    sensor_beside.salt_arguments(salt)
    checked = forms.add("calibrate", sensor_check.run_calibrate, "check one, step by step")
    sensor_check.calibrate_arguments(checked)
    checks = forms.add("checks", sensor_check.run_checks, "what was checked, and what corrects it")
    sensor_check.checks_arguments(checks)
    uncheck = forms.add("uncheck", sensor_check.run_uncheck, "a check counts no more")
    sensor_check.uncheck_arguments(uncheck)
    undo = forms.add("void", _void, "readings of a sensor count no more")
    undo.add_argument("sensor", metavar="ID")
    undo.add_argument("--from", dest="start", required=True, metavar="TIME", help=TIME_FORMS)
    undo.add_argument("--to", dest="stop", required=True, metavar="TIME", help="until before then")
    undo.add_argument("--why", required=True, metavar="TEXT", help="why they cannot be true")
    undo.add_argument(
        "--quantity",
        choices=list(QUANTITIES),
        metavar="WHICH",
        help=f"only this, of {', '.join(QUANTITIES)} (default: all)",
    )


def run(args: argparse.Namespace) -> int:
    """Carry out the form."""
    status: int = args.do(args)
    return status


def _list(args: argparse.Namespace) -> int:
    with bench(args) as at:
        sensors, counts = sensors_now(at), at.store.readings.counts()
        beside: dict[str, dict[Quantity, float]] = {}
        for (sensor_id, quantity), reading in at.store.readings.latest().items():
            if quantity in BESIDE:
                beside.setdefault(sensor_id, {})[quantity] = reading.value
        configured = {sensor.id for sensor in at.settings.sensors()}
        gone = gone_sensors(at.store, configured)
        newcomers = newcomers_kept(at.store)
        shop = sensor_check.trusted(at)
        shop.gone = gone
    if args.json:
        rows: list[PlainValue] = [
            {
                **sensor_plain(sensor),
                "mass_g": beside.get(sensor.id, {}).get(Quantity.MASS),
                "air_speed_m_s": beside.get(sensor.id, {}).get(Quantity.AIR_SPEED),
                "fan_on": _switched(beside.get(sensor.id, {}).get(Quantity.FAN_ON)),
                "gone_since": instant(gone.get(sensor.id)),
                "configured": sensor.id in configured,
                "taken_in": counts.get(sensor.id, 0),
                "standing": {**sensor_standings(), **counts_standings("taken_in")},
            }
            for sensor in sensors
        ]
        new: list[PlainValue] = [_newcomer_plain(one) for one in newcomers]
        print_json({"format": FORMAT, "sensors": rows, "without_place": new})
        return 0
    for one in newcomers:
        say(
            f"Heard without a place: '{one.name}', of kind {one.kind}, last "
            f"{at.words.at(one.last_ms, at.now_ms)} on {one.topic}. Nothing it says is kept until "
            f'a [[sensor]] with kind = "{one.kind}" gives it a room.'
        )
    if not sensors:
        say("No sensor is configured, and none was heard: add a [[sensor]] to the configuration.")
        return 0
    table(
        ["sensor", "room", "last heard", "says", "taken in", "refused"],
        [_row(at, s, counts.get(s.id, 0), beside=beside.get(s.id, {})) for s in sensors],
    )
    for name, since in gone.items():
        say(f"{name} is gone: the broker was told so {at.words.at(since, at.now_ms)}.")
    _tell_unmeasured(at, shop, sensors)
    for sensor in sensors:
        for refused in sensor.refused:
            when = at.words.at(refused.last_ms, at.now_ms)
            often = "once" if refused.count == 1 else f"{refused.count} times"
            say(f"{sensor.id}: refused {often} as {refused.reason}, last {when}:")
            say(refused.detail, indent=2)
    return 0


def _tell_unmeasured(at: Bench, shop: Shop, sensors: list[SensorNow]) -> None:
    """Say which rooms are not measured because their sensors are in jars."""
    for room in dict.fromkeys(sensor.room for sensor in sensors if sensor.room):
        if why := not_measured(shop, room, at.now_ms):
            say(f"{room}: {why}.")


def sensors_now(at: Bench) -> list[SensorNow]:
    """Return every sensor, configured or only heard, as it stands."""
    heard, refused = at.store.readings.latest(), at.store.rejections.summary()
    gate = resumed_gate(at.store)
    rooms = {sensor.id: sensor.room for sensor in at.settings.sensors()}
    for sensor, places in at.store.places.history().items():
        rooms.setdefault(sensor, places[-1][1])
    names = [*rooms, *(name for name, _ in heard), *(row.sensor for row in refused)]
    found = []
    for name in dict.fromkeys(names):
        newest = {quantity: r for (sensor, quantity), r in heard.items() if sensor == name}
        values = {quantity: reading.value for quantity, reading in newest.items()}
        found.append(
            SensorNow(
                id=name,
                room=rooms.get(name, ""),
                last_heard_at=max((r.at_ms for r in newest.values()), default=None),
                temp_c=values.get(Quantity.TEMPERATURE),
                rh_frac=values.get(Quantity.HUMIDITY),
                surface_c=values.get(Quantity.SURFACE_TEMPERATURE),
                frozen_since=gate.frozen_since_ms(name),
                refused=tuple(
                    Refusals(row.reason, row.count, row.last_ms, row.detail)
                    for row in refused
                    if row.sensor == name
                ),
            )
        )
    return found


def _newcomer_plain(one: Newcomer) -> PlainValue:
    return {
        "kind": one.kind,
        "name": one.name,
        "topic": one.topic,
        "first_heard_at": instant(one.first_ms),
        "last_heard_at": instant(one.last_ms),
        "messages": one.messages,
    }


def _switched(value: float | None) -> bool | None:
    return None if value is None else value > 0.0


def _said_beside(beside: Mapping[Quantity, float]) -> list[str]:
    """Say what a sensor tells that is no part of a room's climate."""
    said = []
    if Quantity.MASS in beside:
        said.append(f"{beside[Quantity.MASS]:.3f} g")
    if Quantity.AIR_SPEED in beside:
        said.append(f"air at {beside[Quantity.AIR_SPEED]:.2f} m/s")
    if Quantity.FAN_ON in beside:
        said.append("fan runs" if beside[Quantity.FAN_ON] else "fan stands")
    return said


def _row(
    at: Bench, sensor: SensorNow, taken_in: int, *, beside: Mapping[Quantity, float]
) -> tuple[str, ...]:
    heard = sensor.last_heard_at
    said = [] if sensor.temp_c is None else [at.words.temp(sensor.temp_c)]
    said += [] if sensor.rh_frac is None else [percent(sensor.rh_frac)]
    said += [] if sensor.surface_c is None else [f"surface {at.words.temp(sensor.surface_c)}"]
    said += _said_beside(beside)
    said += [] if sensor.frozen_since is None else ["the same pair for six hours"]
    return (
        sensor.id,
        sensor.room or "none",
        "never" if heard is None else at.words.at(heard, at.now_ms),
        ", ".join(said) or "-",
        str(taken_in),
        str(sum(row.count for row in sensor.refused)),
    )


def _void(args: argparse.Namespace) -> int:
    quantity = None if args.quantity is None else QUANTITIES[args.quantity]
    with bench(args) as at:
        start_ms = past_ms(at, args.start, option="--from")
        stop_ms = past_ms(at, args.stop, option="--to")
        with at.store.db.transaction():
            count = at.store.readings.void(
                args.sensor, start_ms, stop_ms, args.why, at.entered_ms, quantity=quantity
            )
            if not count:
                raise BadInput(
                    f"sensor {args.sensor} has no such reading between {args.start} and "
                    f"{args.stop}: nothing was voided"
                )
        if args.json:
            print_json(
                {
                    "format": FORMAT,
                    "sensor": args.sensor,
                    "quantity": args.quantity,
                    "from": instant(start_ms),
                    "to": instant(stop_ms),
                    "voided": count,
                    "why": args.why,
                }
            )
            return 0
        words, now_ms = at.words, at.now_ms
        noun = "reading" if count == 1 else "readings"
        say(
            f"{args.sensor}: {count} {noun} from {words.at(start_ms, now_ms)} until before "
            f"{words.at(stop_ms, now_ms)} voided: {args.why}"
        )
        say("They stay in the record with the reason. Corrected ones may be typed or imported now.")
    return 0
