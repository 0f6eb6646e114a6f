"""Look over configuration, storage, daemon, broker, sensors, clock, page and notices.

Every finding is ok, look (it works, but a person should look) or fault, each with its fix. Exit
status: 0 without a fault, 1 with one. It changes nothing, but for a test notice with --send-test.
"""

from __future__ import annotations

import os
import platform
import shutil
import ssl
from dataclasses import dataclass
from enum import StrEnum
from importlib.metadata import version
from typing import TYPE_CHECKING

from curewatch import __version__
from curewatch.assembly import assemble, finish_now, shelf
from curewatch.cli.bench import Bench
from curewatch.cli.show import print_json, say
from curewatch.clock import ClockTrust, SystemClock, system_ms
from curewatch.daemon import broker_access
from curewatch.errors import BadConfig, BadInput, StorageError
from curewatch.intake.trial import try_line
from curewatch.keeping import resumed_gate
from curewatch.outbound.notify import Messenger
from curewatch.settings import Settings, load_settings
from curewatch.shop.clocks import MS_PER_H
from curewatch.shop.sensor_conditions import sensor_conditions
from curewatch.shop.words import span
from curewatch.storage import Store
from curewatch.storage.database import sqlite_version
from curewatch.storage.lock import daemon_of
from curewatch.storage.page_sessions import PASSPHRASE
from curewatch.web.names import is_loopback

if TYPE_CHECKING:
    import argparse
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from curewatch.shop.plain import Plain

MIB = 1024 * 1024
LITTLE_MIB, SCARCE_MIB = 1024, 128
SAFE_SQLITE = (3, 51, 3)  # 3.7.0 to 3.51.2 may corrupt a write-ahead log with two writers
OLD_READING_H = 3.0
PACKAGES = ("apsw", "numpy", "paho-mqtt", "pydantic", "apprise")
TEST_TITLE = "curewatch: a test"
TEST_BODY = "If you can read this, notices from the shop reach you. Nothing else is the matter."


class State(StrEnum):
    """How a finding stands."""

    OK = "ok"
    LOOK = "look"
    FAULT = "fault"


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that was looked at.

    Attributes
    ----------
    area: what it belongs to.
    state: how it stands.
    what: what was found.
    fix: what to do; empty when nothing is to be done.
    """

    area: str
    state: State
    what: str
    fix: str = ""

    def plain(self) -> Plain:
        """Return it as plain data."""
        return {"area": self.area, "state": str(self.state), "what": self.what, "fix": self.fix}


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add whether to send a test notice."""
    parser.add_argument(
        "--send-test", action="store_true", help="send one test notice to every target"
    )


def run(args: argparse.Namespace) -> int:
    """Look, and say everything that was found."""
    found: list[Finding] = []
    for finding in examine(args.config, send_test=args.send_test):
        if not args.json:
            _tell(finding, found)
        found.append(finding)
    faults = sum(finding.state is State.FAULT for finding in found)
    looks = sum(finding.state is State.LOOK for finding in found)
    if args.json:
        print_json(
            {
                "faults": faults,
                "to_look_at": looks,
                "findings": [finding.plain() for finding in found],
            }
        )
    else:
        say()
        say(f"{_count(faults, 'fault')}, {_count(looks, 'thing')} to look at.")
    return 1 if faults else 0


def examine(config: Path | None, *, send_test: bool) -> Iterator[Finding]:
    """Look over everything, in order; what cannot be looked at without the rest comes last."""
    yield from _versions()
    try:
        settings = load_settings(config)
    except BadConfig as error:
        yield from _faults("configuration", error)
        return
    yield from _configuration(settings)
    yield from _storage(settings)
    yield from _daemon(settings)
    yield from _broker(settings)
    yield from _notices(settings, send_test=send_test)


def _count(number: int, what: str) -> str:
    return f"{number or 'no'} {what}{'' if number == 1 else 's'}"


def _tell(finding: Finding, before: list[Finding]) -> None:
    if not before or before[-1].area != finding.area:
        say()
        say(finding.area.upper())
    say(f"{finding.state}: {finding.what}", indent=2)
    if finding.fix:
        say(f"-> {finding.fix}", indent=8)


def _faults(area: str, error: BadConfig) -> Iterator[Finding]:
    for fault in error.faults:
        yield Finding(area, State.FAULT, fault, f"mend it in {error.source}")


def _versions() -> Iterator[Finding]:
    known = ", ".join(f"{name} {version(name)}" for name in PACKAGES)
    yield Finding(
        "versions",
        State.OK,
        f"curewatch {__version__}, Python {platform.python_version()}, {platform.machine()}; "
        f"{known}",
    )
    carried = tuple(int(part) for part in sqlite_version().split(".")[:3])
    safe = carried >= SAFE_SQLITE
    yield Finding(
        "versions",
        State.OK if safe else State.FAULT,
        f"SQLite {sqlite_version()}" + ("" if safe else " may damage a database with two writers"),
        "" if safe else "install a newer apsw, which carries a newer SQLite",
    )


def _configuration(settings: Settings) -> Iterator[Finding]:
    area = "configuration"
    if settings.source is None:
        yield Finding(
            area,
            State.LOOK,
            "there is no file; defaults are used, without a room or a sensor",
            "write one after config/curewatch.toml and name it with --config",
        )
    else:
        rooms, sensors = len(settings.rooms()), len(settings.sensors())
        what = f"{settings.source}: {_count(rooms, 'room')}, {_count(sensors, 'sensor')}"
        yield Finding(area, State.OK if rooms else State.LOOK, what)
    for warning in settings.warnings:
        yield Finding(area, State.LOOK, warning)
    yield from _secrets(settings)
    try:
        own = sorted(shelf(settings))
    except (BadConfig, BadInput, OSError) as error:
        yield _shelf_fault(error)
        return
    for name in own:
        try:
            finish_now(settings, None, name)
        except (BadConfig, BadInput) as error:
            yield _shelf_fault(error)
        else:
            yield Finding(area, State.OK, f"finish profile {name} of the shop's own can be read")


def _shelf_fault(error: Exception) -> Finding:
    said = " ".join(str(error).split())
    return Finding("configuration", State.FAULT, said, "mend the finish profile it names")


def _secrets(settings: Settings) -> Iterator[Finding]:
    ask: tuple[Callable[[], object], ...] = (settings.broker_password, settings.notify_urls)
    for secret in ask:
        try:
            secret()
        except BadConfig as error:
            yield from _faults("configuration", error)


def _storage(settings: Settings) -> Iterator[Finding]:
    area, path = "storage", settings.storage.path
    yield from _disk(path)
    if not path.exists():
        yield Finding(area, State.LOOK, f"there is no database at {path} yet", "curewatch run")
        yield Finding("clock", *_clock(settings, None))
        return
    try:
        with Store.open(path) as store:
            store.db.execute("BEGIN IMMEDIATE")
            store.db.execute("ROLLBACK")
            yield Finding(area, State.OK, f"{path}: writable, schema {store.db.schema_number()}")
            wrong = store.db.quick_check()
            if wrong:
                fix = "stop the daemon and restore the newest backup: curewatch restore"
                yield Finding(area, State.FAULT, f"it is damaged: {'; '.join(wrong[:3])}", fix)
                return
            yield Finding(area, State.OK, "SQLite's own check finds nothing wrong")
            yield from _contents(settings, store)
    except StorageError as error:
        yield Finding(area, State.FAULT, str(error))


def _disk(path: Path) -> Iterator[Finding]:
    area, folder = "storage", path.parent
    while not folder.exists() and folder != folder.parent:
        folder = folder.parent
    if not os.access(folder, os.W_OK | os.X_OK):
        yield Finding(
            area,
            State.FAULT,
            f"{folder} cannot be written by this user",
            "run as the daemon's user or one of its group, or correct storage.path",
        )
    free = shutil.disk_usage(folder).free // MIB
    state = State.OK if free >= LITTLE_MIB else State.LOOK if free >= SCARCE_MIB else State.FAULT
    fix = "" if state is State.OK else "make room: on a full disk no reading is kept"
    yield Finding(area, state, f"{free} MiB free at {folder}", fix)


def _contents(settings: Settings, store: Store) -> Iterator[Finding]:
    """Look at what sensors said, and at the clock beside it."""
    newest = store.readings.newest_ms()
    now_ms = system_ms()
    if settings.clock.source == "readings":
        now_ms = newest or now_ms
    if newest is None:
        yield Finding("storage", State.LOOK, "no reading is kept yet", "see to sensors and broker")
    else:
        age_h = (now_ms - newest) / MS_PER_H
        old = age_h > OLD_READING_H
        yield Finding(
            "storage",
            State.LOOK if old else State.OK,
            f"the newest reading is {span(age_h)} old",
            "see to daemon, broker and sensors" if old else "",
        )
    yield Finding("clock", *_clock(settings, newest))
    yield from _sensors(Bench(settings, store, now_ms, system_ms()))
    if settings.page.serve:
        yield _page(settings, locked=store.meta.get(PASSPHRASE) is not None)
    pending = store.notices.pending()
    if pending.failing or pending.given_up:
        said = next((n.error for n in store.notices.recent() if n.error), "")
        yield Finding(
            "notices",
            State.LOOK,
            f"{pending.failing} tried in vain, {pending.given_up} given up: {said}",
            "see whether the target is up: curewatch doctor --send-test",
        )


def _page(settings: Settings, *, locked: bool) -> Finding:
    """Say who may look and who may write, and warn where the network may read."""
    page = settings.page
    where = f"the page listens at {page.host}:{page.port}"
    near = is_loopback(page.host)
    if near and not page.names:
        who = "a passphrase is set" if locked else "nobody may write: no passphrase is set"
        return Finding("page", State.OK, f"{where}, from this computer alone; {who}")
    reach = "through a proxy" if near else "in the network"
    if page.open_reading:
        what = f"{where}, and everybody {reach} may read it: pieces, customers' names, your times"
        return Finding("page", State.LOOK, what, "set page.open_reading = false, if not meant")
    if not locked:
        what = f"{where}, reached {reach}, and no passphrase is set: nobody can come in"
        return Finding("page", State.LOOK, what, "curewatch page passphrase")
    return Finding("page", State.OK, f"{where}, reached {reach}; the passphrase is asked for")


def _clock(settings: Settings, newest_ms: int | None) -> tuple[State, str, str]:
    if settings.clock.source == "readings":
        live = bool(settings.sensors())
        return (
            State.FAULT if live else State.LOOK,
            "now is the newest reading's time, for a record: silent sensors would stop the clock",
            'set clock.source = "system"',
        )
    match SystemClock(newest_stored_ms=newest_ms).trust():
        case ClockTrust.SET:
            return (State.OK, "the system clock is set and kept right", "")
        case ClockTrust.UNKNOWN:
            return (
                State.LOOK,
                "whether the system clock is kept right cannot be known here; it is plausible",
                "see that a time service runs, such as systemd-timesyncd",
            )
        case ClockTrust.NOT_SET:
            return (
                State.FAULT,
                "the system clock is not set: readings wait and nothing is raised",
                "see that a time service runs and reaches the network",
            )


def _sensors(opened: Bench) -> Iterator[Finding]:
    shop = assemble(opened.settings, opened.store, opened.now_ms)
    gate = resumed_gate(opened.store)
    topics = {mapping.sensor: mapping.topic for mapping in opened.settings.mappings()}
    chips = {poll.sensor: poll.kernel for poll in opened.settings.polls()}
    for sensor in shop.sensors:
        since = gate.frozen_since_ms(sensor.id)
        if since is not None:
            shop.frozen_since[sensor.id] = since
        heard = shop.last_heard_ms(sensor.id, opened.now_ms)
        if heard is None:
            where = topics.get(sensor.id) or f"chip {chips[sensor.id]}"
            what = f"sensor {sensor.id} in {sensor.room} was never heard on {where}"
            fix = "compare its topic with what it publishes"
            if sensor.id in chips:
                fix = "compare its chip with what 'curewatch sensor scan' lists"
            yield Finding("sensors", State.LOOK, what, fix)
            continue
        wrong = sensor_conditions(shop, sensor, opened.now_ms)
        for condition in wrong:
            yield Finding("sensors", State.LOOK, condition.reason, condition.next_action)
        if not wrong:
            when = opened.words.at(heard, opened.now_ms)
            what = f"sensor {sensor.id} in {sensor.room}: last heard {when}"
            yield Finding("sensors", State.OK, what)


def _daemon(settings: Settings) -> Iterator[Finding]:
    try:
        process = daemon_of(settings.storage.path)
    except OSError as error:
        fix = "run as the daemon's user or one of its group"
        yield Finding("daemon", State.LOOK, f"its lock cannot be read: {error.strerror}", fix)
        return
    if process is None:
        yield Finding(
            "daemon",
            State.LOOK,
            "it is not running: nothing is kept and nobody is told",
            "curewatch run, or where it is a service: systemctl start curewatch",
        )
    else:
        yield Finding("daemon", State.OK, f"it runs as process {process}")


def _broker(settings: Settings) -> Iterator[Finding]:
    area = "broker"
    try:
        access = broker_access(settings)
    except BadConfig:
        return  # told with the secrets
    except (BadInput, OSError, ssl.SSLError) as error:
        yield Finding(area, State.FAULT, str(error), "correct the [broker] table")
        return
    topics = [mapping.topic for mapping in settings.mappings()]
    trial = try_line(access, topics, site=settings.site.name)
    if not trial.accepted:
        yield Finding(area, State.FAULT, f"{access.place} is of no use: {trial.trouble}")
        return
    who = "no user name" if access.username is None else f"user {access.username}"
    yield Finding(area, State.OK, f"{access.place} takes us ({who}, MQTT {access.protocol})")
    for refusal in trial.refusals:
        fix = "let this user read it in the broker's access list"
        yield Finding(area, State.FAULT, f"it does not grant {refusal}", fix)
    if trial.round_trip_s is None:
        yield Finding(area, State.FAULT, trial.trouble)
    else:
        way = f"curewatch/{settings.site.name}/doctor"
        yield Finding(
            area, State.OK, f"a message on {way} came back in {trial.round_trip_s * 1000:.0f} ms"
        )


def _notices(settings: Settings, *, send_test: bool) -> Iterator[Finding]:
    area = "notices"
    try:
        urls = settings.notify_urls()
        messenger = Messenger(urls)
    except BadConfig as error:
        yield from _faults(area, error)
        return
    if not urls:
        yield Finding(
            area, State.LOOK, "nobody is told: no address is configured", "set notify.urls_file"
        )
        return
    if not send_test:
        named = ", ".join(messenger.targets)
        yield Finding(area, State.OK, f"notices go to {named}", "to try it: --send-test")
        return
    for delivery in messenger.send(TEST_TITLE, TEST_BODY):
        if delivery.delivered:
            yield Finding(area, State.OK, f"{delivery.target} took a test notice")
        else:
            what = f"{delivery.target} took none: {delivery.why}"
            yield Finding(area, State.FAULT, what, "correct its address, or see that it is up")
