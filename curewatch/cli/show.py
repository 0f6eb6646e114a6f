"""How answers are printed: JSON for scripts, sentences and tables for people."""

from __future__ import annotations

import json
import shutil
import sys
import textwrap
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from curewatch.shop.plain import PlainValue

WIDTH = 80


def print_json(value: PlainValue) -> None:
    """Print one JSON document."""
    json.dump(value, sys.stdout, indent=2, ensure_ascii=False, allow_nan=False)
    sys.stdout.write("\n")


def say(text: str = "", *, indent: int = 0) -> None:
    """Print a sentence, wrapped to the terminal."""
    pad = " " * indent
    lines = textwrap.wrap(text, width(), initial_indent=pad, subsequent_indent=pad) or [""]
    print("\n".join(lines))


def table(columns: Sequence[str], rows: Iterable[Sequence[str]], *, title: str = "") -> None:
    """Print a table no wider than the terminal; long cells are wrapped, never cut."""
    from rich import box  # noqa: PLC0415 - the daemon is spared it
    from rich.console import Console  # noqa: PLC0415
    from rich.table import Table  # noqa: PLC0415
    from rich.text import Text  # noqa: PLC0415

    grid = Table(
        *columns, box=box.SIMPLE_HEAD, title=title or None, title_justify="left", pad_edge=False
    )
    for row in rows:
        grid.add_row(*(Text(cell, overflow="fold") for cell in row))
    Console(width=width(), highlight=False).print(grid)


def width() -> int:
    """Return how wide to print."""
    return min(shutil.get_terminal_size((WIDTH, 24)).columns, 100) if sys.stdout.isatty() else WIDTH
