"""Watch the shop: keep what sensors say, bring alerts forward, tell people. Ends on SIGTERM."""

from __future__ import annotations

import logging
from typing import TYPE_CHECKING

from curewatch.daemon import watch_shop
from curewatch.settings import load_settings

if TYPE_CHECKING:
    import argparse


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add how much is logged."""
    parser.add_argument("--log", default="info", choices=["debug", "info", "warning"])


def run(args: argparse.Namespace) -> int:
    """Run the daemon until it is told to stop."""
    logging.basicConfig(
        level=args.log.upper(), format="%(asctime)s %(levelname)s %(name)s: %(message)s"
    )
    logging.getLogger("apscheduler").setLevel(logging.WARNING)
    watch_shop(load_settings(args.config))
    return 0
