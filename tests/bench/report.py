"""The written result: tables a person can read, with the machine they hold for."""

from __future__ import annotations

import os
import platform
import subprocess
import textwrap
from datetime import UTC, datetime
from importlib.metadata import version
from typing import TYPE_CHECKING

from curewatch.clock import system_ms
from curewatch.storage.database import sqlite_version
from tests.broker.mosquitto import installed

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tests.bench.measured import Section

HEAD = ("measured", "ours", "baseline", "result", "spread", "goal", "")
GIB = 1 << 30


def page(sections: Sequence[Section], *, load_before: float) -> str:
    """Return the whole result as Markdown."""
    lines = [
        "# Measurements",
        "",
        "Written by `make bench`; do not edit. Each figure is a ratio against a baseline measured",
        "in the same run, turn about, so that what else the machine does hits both; the result is",
        "the median of the repeats and the spread their lowest and highest. Goals are printed",
        "beside and never asserted. A Raspberry Pi is slower by some factor that was not measured;",
        "ratios carry over better than times.",
        "",
        *machine(load_before),
    ]
    for section in sections:
        lines += ["", f"## {section.title}", "", *wrapped(section.what), "", *table(section)]
        for note in section.notes:
            lines += ["", *(wrapped(note) if "\n" not in note else note.splitlines())]
    return "\n".join(lines) + "\n"


def machine(load_before: float) -> list[str]:
    """Return what the figures hold for: no names, no paths."""
    today = datetime.fromtimestamp(system_ms() / 1000.0, tz=UTC)
    memory = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / GIB
    return [
        f"- date: {today:%Y-%m-%d}",
        f"- machine: {os.cpu_count()} cores ({platform.machine()}), {memory:.1f} GiB memory",
        f"- load average before the run: {load_before:.1f}",
        f"- Python {platform.python_version()}, numpy {version('numpy')}",
        f"- SQLite {sqlite_version()} (apsw {version('apsw')})",
        f"- paho-mqtt {version('paho-mqtt')}, {broker_version()}",
    ]


def broker_version() -> str:
    """Return the broker's name and version as it says them."""
    said = subprocess.run(
        [installed("mosquitto", "mosquitto"), "-h"], capture_output=True, text=True, check=False
    )
    return said.stdout.partition("\n")[0].replace(" version", "")


def table(section: Section) -> list[str]:
    """Return a section's rows as a Markdown table."""
    return grid([HEAD, *(row.cells() for row in section.rows)])


def grid(rows: Sequence[Sequence[str]]) -> list[str]:
    """Return rows, the first of them the head, as a Markdown table in even columns."""
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    lines = [
        "| " + " | ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)) + " |"
        for row in rows
    ]
    lines.insert(1, "|" + "|".join("-" * (width + 2) for width in widths) + "|")
    return lines


def wrapped(text: str) -> list[str]:
    """Return a paragraph in lines of a readable length."""
    return textwrap.wrap(text, 98, break_on_hyphens=False)
