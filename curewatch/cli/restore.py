"""Put a backup in the database's place.

The daemon must be stopped. The backup is checked first: that it is ours, of a schema this program
knows, and whole. A database that is there already is replaced with --force only, and is kept aside
under a dated name.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from curewatch.cli.show import print_json, say
from curewatch.clock import system_ms
from curewatch.settings import load_settings
from curewatch.shop.plain import instant
from curewatch.storage import Store
from curewatch.storage.transfer import restore

if TYPE_CHECKING:
    import argparse

CHECKED = (
    "it belongs to this program",
    "its schema is one this program knows",
    "the copy passes SQLite's own check",
)


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add which, and whether an existing database may be put aside."""
    parser.add_argument("backup", type=Path, metavar="BACKUP", help="the file to put in place")
    parser.add_argument("--force", action="store_true", help="put an existing database aside")


def run(args: argparse.Namespace) -> int:
    """Restore, open the result once, and say what it holds."""
    settings = load_settings(args.config)
    path = settings.storage.path
    kept = restore(args.backup, path, at_ms=system_ms(), force=args.force)
    with Store.open(path) as store:  # brings an older schema up to date
        newest = store.readings.newest_ms()
        pieces = len(store.pieces.load_all())
        schema = store.db.schema_number()
    if args.json:
        print_json(
            {
                "database": str(path),
                "backup": str(args.backup),
                "kept_aside": None if kept is None else str(kept),
                "checked": list(CHECKED),
                "schema": schema,
                "pieces": pieces,
                "newest_reading_at": instant(newest),
            }
        )
        return 0
    words, now_ms = settings.words(), system_ms()
    say(f"{path} is now the state of {args.backup}.")
    say(f"Checked before it took the place: {'; '.join(CHECKED)}.")
    heard = "no reading" if newest is None else f"newest reading {words.at(newest, now_ms)}"
    say(f"It holds {pieces} pieces in the shop, {heard}; schema {schema}.")
    if kept is not None:
        say(f"The old database is kept aside at {kept}; delete it once you are sure.")
    say("Start the daemon again: what sensors sent meanwhile waits at the broker.")
    return 0
