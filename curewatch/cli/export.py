"""Everything that is kept, as CSV (the default) or JSON, one noun at a time.

Instants are UTC epoch milliseconds (`at_ms` and the like). Of readings: `quantity` is temperature,
humidity, surface_temperature or mass; temperatures are degC, humidity is a fraction from 0 to 1,
masses are g, as stored; `flags` 1 marks a frozen pair, 2 an unknown time. Entries that a person
voided come too, with the reason. --from and --to limit by the noun's own first instant; pieces by
when they were hung.
"""

from __future__ import annotations

import csv
import json
import os
import sys
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, TextIO

from curewatch.cli.bench import bench
from curewatch.errors import BadInput
from curewatch.storage.export import NOUNS, export_rows
from curewatch.times import instant_ms

if TYPE_CHECKING:
    import argparse
    from collections.abc import Iterable, Iterator

    from curewatch.storage.export import Plain

# A noun's own instant: the first of these it has.
INSTANTS = ("at_ms", "since_ms", "start_ms", "hung_ms", "mixed_at_ms", "entered_ms")
FAR_MS = 2**62


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add the noun, the range and the form."""
    parser.add_argument("noun", choices=NOUNS, metavar="NOUN", help=", ".join(NOUNS))
    parser.add_argument("--from", dest="start", metavar="T", help="from this time on")
    parser.add_argument("--to", dest="stop", metavar="T", help="until before this time")
    parser.add_argument("--csv", action="store_true", help="as CSV with a header (the default)")
    parser.add_argument("--output", type=Path, metavar="FILE", help="write here, once it is whole")


def run(args: argparse.Namespace) -> int:
    """Write the rows as they come; a long record is never held in memory."""
    if args.csv and args.json:
        raise BadInput("--csv and --json exclude each other: choose one")
    write = write_json if args.json else write_csv
    with bench(args) as opened:
        zone, now_ms = opened.settings.zone, opened.now_ms
        start_ms = 0 if args.start is None else instant_ms(args.start, zone=zone, now_ms=now_ms)
        stop_ms = FAR_MS if args.stop is None else instant_ms(args.stop, zone=zone, now_ms=now_ms)
        if stop_ms <= start_ms:
            raise BadInput("--to must lie after --from")
        rows = export_rows(opened.store, args.noun, start_ms=start_ms, stop_ms=stop_ms)
        if args.noun != "readings":
            rows = _within(rows, start_ms, stop_ms)
        if args.output is None:
            count = write(rows, sys.stdout)
            sys.stdout.flush()
        else:
            with _new_file(args.output) as file:
                count = write(rows, file)
    if args.output is not None or not count:
        print(f"curewatch: {count} rows of {args.noun}", file=sys.stderr)
    return 0


def write_csv(rows: Iterable[Plain], to: TextIO) -> int:
    """Write rows as CSV (RFC 4180) with a header; return how many there were."""
    count, writer = 0, csv.writer(to)
    for row in rows:
        if not count:
            writer.writerow(row)
        writer.writerow("" if value is None else value for value in row.values())
        count += 1
    return count


def write_json(rows: Iterable[Plain], to: TextIO) -> int:
    """Write rows as one JSON array, an object a line; return how many there were."""
    count = 0
    to.write("[")
    for row in rows:
        to.write(",\n" if count else "\n")
        to.write(json.dumps(row, ensure_ascii=False, allow_nan=False))
        count += 1
    to.write("\n]\n" if count else "]\n")
    return count


def _within(rows: Iterable[Plain], start_ms: int, stop_ms: int) -> Iterator[Plain]:
    for row in rows:
        name = next(name for name in INSTANTS if name in row)
        if start_ms <= int(row[name] or 0) < stop_ms:
            yield row


@contextmanager
def _new_file(path: Path) -> Iterator[TextIO]:
    """Give a file beside `path` to write to; it takes the name once it is whole."""
    part = path.with_name(f"{path.name}.part")
    try:
        with part.open("w", encoding="utf-8", newline="") as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
        part.replace(path)
    except OSError as error:
        raise BadInput(
            f"{path} cannot be written: {error.strerror}: give another --output, or make room"
        ) from error
    finally:
        with suppress(OSError):  # in place already, or never made
            part.unlink()
