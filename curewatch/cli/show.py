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
    """Print a table no wider than the terminal; long cells are wrapped, never cut.

    Words are broken only where the columns' longest words do not fit beside each other.
    """
    from rich import box  # noqa: PLC0415 - the daemon is spared it
    from rich.console import Console  # noqa: PLC0415
    from rich.table import Table  # noqa: PLC0415
    from rich.text import Text  # noqa: PLC0415

    grid = Table(
        *columns, box=box.SIMPLE_HEAD, title=title or None, title_justify="left", pad_edge=False
    )
    lines = [tuple(row) for row in rows]
    for column, wide in zip(grid.columns, _widths(columns, lines), strict=True):
        column.width = wide
    for row in lines:
        grid.add_row(*(Text(cell, overflow="fold") for cell in row))
    Console(width=width(), highlight=False).print(grid)


def _widths(columns: Sequence[str], rows: Sequence[Sequence[str]]) -> list[int | None]:
    """Return how wide each column is to be; None where that is left to the table."""
    cells = [[name, *(row[at] for row in rows)] for at, name in enumerate(columns)]
    least = [max(len(word) for text in column for word in text.split() or [""]) for column in cells]
    whole = [max(len(text) for text in column) for column in cells]
    room = width() - (3 * len(columns) - 1)  # edges, dividers and padding
    if sum(whole) <= room or sum(least) > room:
        return [None] * len(columns)
    wide = list(whole)
    while sum(wide) > room:  # the widest gives way first
        at = max((n for n, low in enumerate(least) if wide[n] > low), key=wide.__getitem__)
        wide[at] -= 1
    return [*wide]


def width() -> int:
    """Return how wide to print."""
    return min(shutil.get_terminal_size((WIDTH, 24)).columns, 100) if sys.stdout.isatty() else WIDTH
