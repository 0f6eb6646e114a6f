"""Scan: chips at this machine, sensors heard at the broker, and the lines that take them in."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

from curewatch.cli.figures import number
from curewatch.cli.sensor_heard import Asked, Lines, hear
from curewatch.cli.show import print_json, say, table
from curewatch.errors import BadConfig, BadInput
from curewatch.intake.kernel import SYSFS, Found, Measured, scan
from curewatch.intake.mapping import topic_fault
from curewatch.settings import load_settings
from curewatch.shop.plain import FORMAT

if TYPE_CHECKING:
    import argparse
    from collections.abc import Iterator, Sequence

    from curewatch.settings import Settings
    from curewatch.shop.plain import PlainValue

LISTEN_S = 10.0
LONGEST_S = 86_400
NO_ROOM = "ROOM"
_NOT_IN_NAME = re.compile(r"[^A-Za-z0-9_-]+", re.ASCII)
_OVERLAYS = """\
dtoverlay=w1-gpio            # one-wire probes, on GPIO 4
dtparam=i2c_arm=on           # chips on I2C ...
dtoverlay=i2c-sensor,CHIP    # ... with your chip's parameter for CHIP
"""


def scan_arguments(form: argparse.ArgumentParser) -> None:
    """Add what the form takes."""
    form.add_argument(
        "--sysfs",
        metavar="ROOT",
        type=Path,
        help=f"look at the kernel's tree of devices there, and not at the broker (usually {SYSFS})",
    )
    form.add_argument(
        "--listen",
        metavar="SECONDS",
        type=number,
        help=f"listen at the configured broker for so long, or until Ctrl-C (default: {LISTEN_S:g} "
        "where a configuration is found; 0: not at all)",
    )
    form.add_argument(
        "--topic",
        metavar="FILTER",
        action="append",
        help="listen there only; may be given several times (default: everywhere)",
    )
    form.add_argument("--room", metavar="ROOM", help="the room to write into what is proposed")


def run_scan(args: argparse.Namespace) -> int:
    """List what the kernel can read, each read once, and what is heard at the broker."""
    settings, trouble = _settings(args)
    root: Path = args.sysfs or (SYSFS if settings is None else settings.kernel.sysfs)
    if args.sysfs is not None and not root.is_dir():
        raise BadInput(f"--sysfs {root}: there is no such directory; the kernel's own is {SYSFS}")
    found = scan(root)
    heard = None if settings is None else hear(settings, _asked(args, settings))
    rooms = [] if settings is None else [table.name for table in settings.room]
    lines = _lines(args, settings, rooms)
    taken = set() if settings is None else {table.id for table in settings.sensor}
    outside = [one for one in found if not one.machine]
    tables = [*proposals(outside, lines.room, taken=taken)]
    if heard is not None:
        tables += heard.tables(lines.room, taken)
    if args.json:
        chips: list[PlainValue] = [_plain(one) for one in found]
        print_json(
            {
                "format": FORMAT,
                "sysfs": str(root),
                "chips": chips,
                "broker": None if heard is None else heard.plain(),
                "not_asked": trouble or None,
                "proposed": lines.text(tables),
            }
        )
        return 0
    _tell_chips(found, root)
    _hints(outside)
    if trouble:
        say(f"The broker was not asked: {trouble}")
    if heard is not None:
        heard.tell()
    _propose(tables, lines, rooms)
    return 0


def _lines(args: argparse.Namespace, settings: Settings | None, rooms: Sequence[str]) -> Lines:
    """Return the room to propose: the one asked for, the only one there is, or none yet."""
    room: str = args.room or (rooms[0] if len(rooms) == 1 else NO_ROOM)
    known = settings is not None  # else nobody knows which rooms there are
    return Lines(room, make_room=known and room not in rooms and bool(args.room or not rooms))


def _settings(args: argparse.Namespace) -> tuple[Settings | None, str]:
    """Return the configuration where the broker is to be asked, or why it cannot be."""
    if args.listen is not None and not args.listen >= 0:
        raise BadInput(f"--listen {args.listen:g}: give seconds, 0 for not at all")
    wanted = args.listen is None or args.listen > 0
    if not wanted or (args.sysfs is not None and args.listen is None):
        return None, ""
    try:
        settings = load_settings(args.config)
    except BadConfig as error:
        if args.listen is not None or args.config is not None:
            raise
        return None, f"{error}"
    if settings.source is None and args.listen is None:
        return None, "no configuration was found that names one."
    return settings, ""


def _asked(args: argparse.Namespace, settings: Settings) -> Asked:
    seconds = LISTEN_S if args.listen is None else args.listen
    if not seconds <= LONGEST_S:
        raise BadInput(f"--listen {seconds:g}: {LONGEST_S} s, a day, at most")
    filters = tuple(args.topic or ("#",))
    for topic in filters:
        fault = topic_fault(topic)
        if fault:
            raise BadInput(f"--topic {fault}")
    return Asked(seconds, filters, f"curewatch/{settings.site.name}/")


def _tell_chips(found: Sequence[Found], root: Path) -> None:
    outside = [one for one in found if not one.machine]
    if outside:
        table(["chip", "where", "quantity", "says"], [_row(one) for one in outside])
        for one in outside:
            if one.fault is not None:
                say(f"{one.place}, {one.quantity}: {one.reason}: {one.fault}")
            if one.also is not None:
                say(f"{_file(one)}: the kernel has it as {one.also.name} too; it is one chip.")
            if one.bridged:
                say(
                    f"{_file(one)}: these are numbers handed on from another of the kernel's "
                    "interfaces, so this may be a chip that is listed already; take the other."
                )
    else:
        say(f"The kernel lists no chip for a room's air below {root}.")
    own = [f"{one.chip} {_said(one)}" for one in found if one.machine]
    if own:
        say(f"The machine itself, of no use for a room: {', '.join(own)}.")


def proposals(
    found: Sequence[Found], room: str = NO_ROOM, *, taken: set[str] | None = None
) -> Iterator[str]:
    """Return a [[sensor]] table for each of the chips in `found` that gives what a room needs.

    The ids that are proposed are added to those `taken`.
    """
    useful = [
        one
        for one in found
        if one.quantity is not Measured.PRESSURE and not one.machine and not one.bridged
    ]
    ids = set() if taken is None else taken
    for device in dict.fromkeys(one.device for one in useful):
        ours = [one for one in useful if one.device == device]
        by_place = all(
            [one] == [o for o in useful if o.quantity is one.quantity and o.is_called(one.place)]
            for one in ours
        )
        whole = [(ours[0].place, ours)]
        for kernel, group in whole if by_place else [(_file(one), [one]) for one in ours]:
            said = [one for one in group if one.fault is None]
            if said:
                yield _table(_id(said[0], ids), room, kernel, said)


def _table(name: str, room: str, kernel: str, said: Sequence[Found]) -> str:
    reads = ", ".join(f'"{one.quantity}"' for one in said)
    air = any(one.quantity is Measured.HUMIDITY for one in said)
    also = "" if air else '  # "surface_temperature" on an off-cut'
    lines = (
        "[[sensor]]",
        f'id = "{name}"',
        f'room = "{_escaped(room)}"',
        f'kernel = "{_escaped(kernel)}"',
        f"reads = [{reads}]{also}",
    )
    return "\n".join(lines)


def _file(one: Found) -> str:
    return f"{one.place}/{one.path.name}"


def _id(one: Found, taken: set[str]) -> str:
    """Return an id no other proposal has, made of what the kernel calls the chip."""
    stem = _NOT_IN_NAME.sub("-", one.chip).strip("-_")[:48] or "chip"
    name, number = stem, 2
    while name in taken:
        name, number = f"{stem}-{number}", number + 1
    taken.add(name)
    return name


def _escaped(text: str) -> str:
    return text.replace("\\", "\\\\").replace('"', '\\"')


def _propose(tables: Sequence[str], lines: Lines, rooms: Sequence[str]) -> None:
    if not tables:
        return
    say(
        "To take them in, put these lines into the configuration, with an id of your liking. Look "
        "at each: what a number means is guessed from its name, its unit and its size."
    )
    if lines.room == NO_ROOM and not lines.make_room:
        names = f": {', '.join(rooms)}" if rooms else ""
        say(f"For {NO_ROOM} write where each of them hangs{names}.")
    print("\n" + lines.text(tables) + "\n")


def _hints(outside: Sequence[Found]) -> None:
    if outside:
        say(
            "Hang a chip away from the machine: beside a warm board it tells of the board. "
            "docs/configuration.md says more, under 'Chips at this machine'."
        )
    say(
        "A chip that is missing may be one the kernel was not told of. On a Raspberry Pi that is a "
        "line in /boot/firmware/config.txt and a restart (from memory; the overlay README that "
        "comes with its firmware rules):"
    )
    print("\n" + _OVERLAYS)


def _plain(one: Found) -> dict[str, PlainValue]:
    return {
        "chip": one.chip,
        "place": one.place,
        "path": str(one.path),
        "quantity": str(one.quantity),
        "value": one.value,
        "unit": one.unit,
        "fault": one.fault,
        "reason": None if one.reason is None else str(one.reason),
        "machine_itself": one.machine,
        "also": None if one.also is None else str(one.also),
        "handed_on": one.bridged,
    }


def _row(one: Found) -> tuple[str, str, str, str]:
    return (one.chip, _file(one), str(one.quantity), _said(one))


def _said(one: Found) -> str:
    return f"nothing: {one.reason}" if one.value is None else f"{one.value:.2f} {one.unit}"
