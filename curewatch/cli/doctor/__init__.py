"""Look over configuration, storage, disk, daemon, broker, sensors, clock, page, mirror and notices.

Every finding is ok, look (it works, but a person should look) or fault, each with its fix. It
changes nothing, but for a test notice with --send-test, messages on a topic of its own, and the
help packet with --packet: one file with the findings and what a helper needs, without secrets.

Exit status: 0 without a fault, 1 with one, 2 where the packet's file is in the way. With --packet
it is 0 once the packet is written, whatever was found.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from curewatch.cli.bench import is_there
from curewatch.cli.doctor import (
    broker,
    clock,
    configuration,
    daemon,
    disk,
    mirror,
    notices,
    page,
    permissions,
    sensors,
    storage,
    versions,
)
from curewatch.cli.doctor.finding import Finding, Open, State, count, faults
from curewatch.cli.show import print_json, say
from curewatch.clock import system_ms
from curewatch.errors import BadConfig, StorageError
from curewatch.settings import Settings, load_settings
from curewatch.shop.plain import FORMAT
from curewatch.storage import Store

if TYPE_CHECKING:
    import argparse
    from collections.abc import Iterator

    from curewatch.shop.plain import Plain


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add what it may do beside looking."""
    parser.add_argument(
        "--send-test", action="store_true", help="send one test notice to every target"
    )
    parser.add_argument(
        "--try-queue",
        action="store_true",
        help="let 1500 small messages wait at the broker, and count what it kept",
    )
    parser.add_argument(
        "--packet",
        type=Path,
        metavar="FILE",
        help="write a help packet (.tar.gz or .zip) without secrets and names",
    )
    parser.add_argument(
        "--with-names",
        action="store_true",
        help="leave pieces' titles and people's names in the packet",
    )
    parser.add_argument(
        "--force", action="store_true", help="write over a packet that is there already"
    )


def run(args: argparse.Namespace) -> int:
    """Look, and say everything that was found, or put it into a packet."""
    looking = examine(args.config, send_test=args.send_test, try_queue=args.try_queue)
    if args.packet is not None:
        from curewatch.cli.doctor.packet import write_packet  # noqa: PLC0415 - rarely wanted

        return write_packet(args, list(looking))
    found: list[Finding] = []
    for finding in looking:
        if not args.json:
            _tell(finding, found)
        found.append(finding)
    answer = answer_of(found)
    if args.json:
        print_json(answer)
    else:
        say()
        say(f"{count(number(found, State.FAULT), 'fault')}, "
            f"{count(number(found, State.LOOK), 'thing')} to look at.")  # fmt: skip
    return 1 if number(found, State.FAULT) else 0


def answer_of(found: list[Finding]) -> Plain:
    """Return the answer as plain data (docs/schemas/doctor.schema.json)."""
    return {
        "format": FORMAT,
        "faults": number(found, State.FAULT),
        "to_look_at": number(found, State.LOOK),
        "findings": [finding.plain() for finding in found],
    }


def number(found: list[Finding], state: State) -> int:
    """Return how many findings stand so."""
    return sum(finding.state is state for finding in found)


def examine(
    config: Path | None, *, send_test: bool = False, try_queue: bool = False
) -> Iterator[Finding]:
    """Look over everything, in order; what cannot be looked at without the rest comes last."""
    yield from versions.findings()
    try:
        settings = load_settings(config)
    except BadConfig as error:
        yield from faults("configuration", error)
        return
    path = settings.storage.path
    yield from configuration.findings(settings)
    yield from permissions.findings(settings)
    yield from disk.space(path)
    yield from disk.wearing(path, settings.kernel.sysfs)
    yield from _stored(settings)
    yield daemon.finding(path)
    yield from broker.findings(settings, try_queue=try_queue, now_ms=system_ms())
    yield from notices.targets(settings, send_test=send_test)


def _stored(settings: Settings) -> Iterator[Finding]:
    """Look at the database and what hangs on it."""
    path = settings.storage.path
    try:
        if not is_there(path):
            yield storage.absent(path)
            yield clock.finding(settings, None)
            return
        with Store.open(path) as store:
            sound = True
            for finding in storage.whole(store):
                sound = sound and finding.state is not State.FAULT
                yield finding
            if sound:
                yield from _contents(settings, store)
    except StorageError as error:
        yield Finding("storage", State.FAULT, str(error), "see what it names, then try again")


def _contents(settings: Settings, store: Store) -> Iterator[Finding]:
    """Look at what is kept."""
    newest_ms = store.readings.newest_ms()
    wall_ms = system_ms()
    now_ms = wall_ms
    if settings.clock.source == "readings":
        now_ms = newest_ms or wall_ms
    opened = Open(settings, store, now_ms, wall_ms)
    yield storage.newest(opened)
    yield from storage.backups(wall_ms)
    yield from disk.growth(opened)
    yield clock.finding(settings, newest_ms)
    yield from sensors.findings(opened)
    yield from page.findings(opened, running=daemon.runs(settings.storage.path))
    yield from mirror.findings(opened)
    yield from notices.undelivered(opened)


def _tell(finding: Finding, before: list[Finding]) -> None:
    if not before or before[-1].area != finding.area:
        say()
        say(finding.area.upper())
    say(f"{finding.state}: {finding.what}", indent=2)
    if finding.fix:
        say(f"-> {finding.fix}", indent=8)
