"""The mirror of readings, alerts and states to a server that keeps points in time (docs/influx.md).

The daemon sends; 'backfill' lets it send all of them again from a time on, for a server that lost
something or is new. What is there already stays one point.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.cli.bench import bench
from curewatch.cli.show import print_json, say
from curewatch.entries.times import past_ms
from curewatch.errors import BadInput
from curewatch.shop.plain import FORMAT, instant

if TYPE_CHECKING:
    import argparse

    from curewatch.cli.bench import Bench
    from curewatch.shop.plain import Plain


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add what to do."""
    parser.add_argument("what", choices=("backfill",), help="send again what is stored")
    parser.add_argument(
        "--from", dest="start", metavar="TIME", required=True, help="from this time on"
    )


def run(args: argparse.Namespace) -> int:
    """Set the mark back."""
    with bench(args) as opened:
        start_ms = past_ms(opened, args.start, option="--from")
        if opened.settings.influx.url is None:
            raise BadInput("no mirror is configured: set [influx] url, org, bucket and token_file")
        opened.store.mirror_marks.again(start_ms)
        standing = mirror_plain(opened)
    if args.json:
        print_json({"format": FORMAT, "from": instant(start_ms), "mirror": standing})
    else:
        rows = 0 if standing is None else standing["behind_rows"]
        say(f"{rows} rows will be sent (again) while the daemon runs; 'curewatch status' counts.")
    return 0


def mirror_plain(opened: Bench) -> Plain | None:
    """Return how far the mirror is behind; None where none is configured."""
    if opened.settings.influx.url is None:
        return None
    behind = opened.store.mirror_marks.behind()
    age_ms = 0 if behind.oldest_ms is None else max(opened.now_ms - behind.oldest_ms, 0)
    return {
        "behind_rows": behind.rows,
        "behind_s": age_ms / 1000.0,
        "last_error": behind.last_error,
        "parked_rows": behind.parked,
    }
