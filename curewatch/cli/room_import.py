"""`room import`: take a logger's file into a room's record; a second import adds nothing."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from curewatch.assembly import assemble
from curewatch.cli.bench import bench
from curewatch.cli.entry import known_room
from curewatch.cli.show import print_json, say
from curewatch.entries.times import SLACK_MS
from curewatch.errors import BadInput
from curewatch.intake import read_log
from curewatch.replay import gated
from curewatch.room_feed import RoomFeed
from curewatch.settings.values import plain_name
from curewatch.shop.plain import FORMAT, instant
from curewatch.shop.words import listed

if TYPE_CHECKING:
    import argparse

    from curewatch.cli.bench import Bench
    from curewatch.intake import Log
    from curewatch.shop.plain import PlainValue
    from curewatch.shop.reading import Rejected
    from curewatch.storage.readings import Added

SHOWN_ROWS = 5


def import_log(args: argparse.Namespace) -> int:
    """Read the file, gate it, store what is new."""
    with bench(args) as at:
        room = known_room(at.settings, args.room)
        sensor = _sensor_name(args.sensor, room)
        zone = args.zone or at.settings.site.timezone
        log = read_log(
            Path(args.file),
            time=args.time,
            temp=args.temp,
            rh=args.rh,
            surface=args.surface,
            zone=zone,
            temp_unit=args.temp_unit,
            rh_unit=args.rh_unit,
        )
        _check_past(at, log, zone)
        kept, refused = gated(log.readings(sensor))
        with at.store.db.transaction():
            _check_place(at, sensor, room)
            heard = [r.at_ms for key, r in at.store.readings.latest().items() if key[0] == sensor]
            added = at.store.readings.add(kept, announce=True)
            # A refusal counts once: one of a stretch that was imported before was counted then.
            known_to = max(heard, default=-1)
            at.store.rejections.add([r for r in refused if r.received_ms > known_to])
        found = Imported(room, sensor, zone, log, added, refused)
        if args.json:
            print_json(found.plain())
        else:
            found.say(at)
    return 0


def _sensor_name(asked: str | None, room: str) -> str:
    if asked is None:
        return f"log-{room}"
    try:
        return plain_name(asked)
    except ValueError as error:
        raise BadInput(f"--sensor: {error}") from None


def _check_past(at: Bench, log: Log, zone: str) -> None:
    """Refuse a file that runs ahead: it would carry the whole shop into the future."""
    limit_ms = max(at.now_ms, at.entered_ms) + SLACK_MS
    ahead = log.times_ms[log.times_ms > limit_ms]
    if ahead.size:
        raise BadInput(
            f"{ahead.size} of {log.times_ms.size} rows lie ahead of now, the last at "
            f"{instant(int(ahead[-1]))}: check the column of times and --zone (read in {zone}); "
            "nothing was stored"
        )


def _check_place(at: Bench, sensor: str, room: str) -> None:
    """Hang the logger in the room, for good; refuse one that hung elsewhere."""
    hung = RoomFeed(at.store, assemble(at.settings, at.store, at.now_ms)).rooms_of(sensor)
    if not hung:
        at.store.places.place(sensor, room, 0)
    elif hung != {room}:
        raise BadInput(
            f"sensor {sensor} has hung in {listed(hung)}, so its readings would count there: "
            f"import under a name of its own, such as --sensor log-{room}; nothing was stored"
        )


@dataclass(frozen=True, slots=True)
class Imported:
    """What became of a file."""

    room: str
    sensor: str
    zone: str
    log: Log
    added: Added
    refused: tuple[Rejected, ...]

    def plain(self) -> dict[str, PlainValue]:
        """Return it as plain data."""
        reasons = Counter(str(r.reason) for r in self.refused)
        rows: list[PlainValue] = [
            {"line": row.line, "reason": row.reason} for row in self.log.skipped
        ]
        return {
            "format": FORMAT,
            "room": self.room,
            "sensor": self.sensor,
            "zone": self.zone,
            "rows": self.log.rows,
            "first": instant(int(self.log.times_ms[0])),
            "last": instant(int(self.log.times_ms[-1])),
            "added": len(self.added.added),
            "kept_before": len(self.added.duplicates),
            "conflicts": len(self.added.conflicts),
            "refused": {**reasons},
            "skipped": rows,
            "rh_unit": self.log.rh_unit,
        }

    def say(self, at: Bench) -> None:
        """Print it."""
        words, now_ms, log, added = at.words, at.now_ms, self.log, self.added
        first, last = (words.at(int(log.times_ms[i]), now_ms) for i in (0, -1))
        say(
            f"{self.room}: {len(added.added)} readings added from {log.rows} rows, {first} to "
            f"{last}, as sensor {self.sensor}."
        )
        if not added.added:
            say("Nothing is new: all of it was kept before.")
        elif added.duplicates:
            say(f"{len(added.duplicates)} were kept before and stay as they are.")
        if added.conflicts:
            say(
                f"{len(added.conflicts)} contradict what is kept for the same moment; what is "
                "kept stays. To correct it: curewatch sensor void, then import again."
            )
        if self.refused:
            counts = Counter(str(r.reason) for r in self.refused)
            told = ", ".join(f"{count} {reason}" for reason, count in sorted(counts.items()))
            say(f"Refused: {told}; the first: {self.refused[0].detail}.")
        if log.skipped:
            say(f"Rows or cells not read: {len(log.skipped)}")
            for row in log.skipped[:SHOWN_ROWS]:
                say(f"line {row.line}: {row.reason}", indent=2)
        say(f"Times without an offset were read in {self.zone}; humidity as {log.rh_unit}.")
        if log.doubled or log.shifted:
            say(
                f"At the clock changes {log.doubled} times could mean two hours (told by the "
                f"file's order) and {log.shifted} do not exist (moved past the change)."
            )
