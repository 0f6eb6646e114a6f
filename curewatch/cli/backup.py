"""Copy the database while it is in use. The copy is checked before it takes its name.

A copy on the same disk is no backup: carry it to another machine. `curewatch restore` puts one
back.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from curewatch.cli.bench import bench
from curewatch.cli.show import print_json, say
from curewatch.errors import BadInput
from curewatch.storage.transfer import backup

if TYPE_CHECKING:
    import argparse

MIB = 1024.0 * 1024.0


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add where to."""
    parser.add_argument("path", type=Path, metavar="PATH", help="the file to write")


def run(args: argparse.Namespace) -> int:
    """Copy and say how much."""
    if args.path.is_dir():
        raise BadInput(f"{args.path} is a directory: name a file in it, such as shop-backup.db")
    with bench(args, makes=False) as opened:
        size = backup(opened.store.db, args.path)
        database = opened.settings.storage.path
    if args.json:
        print_json({"database": str(database), "backup": str(args.path), "bytes": size})
    else:
        say(f"{args.path}: {size / MIB:.1f} MiB, one state of {database}, checked and whole.")
    return 0
