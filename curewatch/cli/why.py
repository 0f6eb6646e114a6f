"""`--why`: under an answer, where its numbers come from."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Final

from curewatch.cli.show import WIDTH
from curewatch.shop.sources import sources

if TYPE_CHECKING:
    import argparse

    from curewatch.shop.plain import Plain

HEAD: Final = "Where these numbers come from:"


def add_why(parser: argparse.ArgumentParser) -> None:
    """Add `--why` to a command."""
    parser.add_argument(
        "--why", action="store_true", help="say under the answer where each number comes from"
    )


def why_lines(plain: Plain, *, columns: int = WIDTH) -> list[str]:
    """Return the lines that say where the numbers of a plain answer come from.

    Parameters
    ----------
    plain : dict
        What `--json` prints, with its mapping under `standing`.
    columns : int
        How wide a line may be.
    """
    lines = []
    for title, said in sources(plain):
        lines += ["", f"{title}:"] if title else []
        for sentence in said:
            lines += textwrap.wrap(
                sentence,
                columns,
                initial_indent="  ",
                subsequent_indent="    ",
                break_on_hyphens=False,
            )
    return lines


def print_why(plain: Plain) -> None:
    """Print where the numbers of a plain answer come from."""
    print("\n".join(["", HEAD, *why_lines(plain)]))
