"""Scan: the chips and probes at this machine, and the configuration lines that take them in."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

from curewatch.cli.show import print_json, say, table
from curewatch.errors import BadInput
from curewatch.intake.kernel import SYSFS, Found, Measured, scan
from curewatch.shop.plain import FORMAT

if TYPE_CHECKING:
    import argparse
    from collections.abc import Iterator, Sequence

    from curewatch.shop.plain import PlainValue

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
        default=SYSFS,
        help="where the kernel's tree of devices is (default: %(default)s)",
    )


def run_scan(args: argparse.Namespace) -> int:
    """List what the kernel can read, each read once."""
    root: Path = args.sysfs
    if not root.is_dir():
        raise BadInput(f"--sysfs {root}: there is no such directory; the kernel's own is {SYSFS}")
    found = scan(root)
    if args.json:
        chips: list[PlainValue] = [_plain(one) for one in found]
        print_json({"format": FORMAT, "sysfs": str(root), "chips": chips})
        return 0
    outside = [one for one in found if not one.machine]
    if outside:
        table(["chip", "where", "quantity", "says"], [_row(one) for one in outside])
        for one in outside:
            if one.fault is not None:
                say(f"{one.place}, {one.quantity}: {one.reason}: {one.fault}")
    else:
        say(f"The kernel lists no chip for a room's air below {root}.")
    own = [f"{one.chip} {_said(one)}" for one in found if one.machine]
    if own:
        say(f"The machine itself, of no use for a room: {', '.join(own)}.")
    _propose(outside)
    return 0


def proposals(found: Sequence[Found]) -> Iterator[str]:
    """Return a [[sensor]] table for each of the chips in `found` that gives what a room needs."""
    useful = [one for one in found if one.quantity is not Measured.PRESSURE and not one.machine]
    ids: set[str] = set()
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
                yield _table(_id(said[0], ids), kernel, said)


def _table(name: str, kernel: str, said: Sequence[Found]) -> str:
    reads = ", ".join(f'"{one.quantity}"' for one in said)
    air = any(one.quantity is Measured.HUMIDITY for one in said)
    also = "" if air else '  # "surface_temperature" on an off-cut'
    lines = (
        "[[sensor]]",
        f'id = "{name}"',
        'room = "ROOM"',
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


def _propose(outside: Sequence[Found]) -> None:
    tables = list(proposals(outside))
    if tables:
        say("To take them in, put these lines into the configuration, with the room's name for")
        say("ROOM and an id of your liking:")
        print("\n" + "\n\n".join(tables) + "\n")
        say(
            "Hang a chip away from the machine: beside a warm board it tells of the board. "
            "docs/configuration.md says more, under 'Chips at this machine'."
        )
    say(
        "A chip that is missing may be one the kernel was not told of. On a Raspberry Pi that is a "
        "line in /boot/firmware/config.txt and a restart (from memory; the overlay README that "
        "comes with its firmware rules):"
    )
    print("\n" + _OVERLAYS, end="")


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
    }


def _row(one: Found) -> tuple[str, str, str, str]:
    return (one.chip, _file(one), str(one.quantity), _said(one))


def _said(one: Found) -> str:
    return f"nothing: {one.reason}" if one.value is None else f"{one.value:.2f} {one.unit}"
