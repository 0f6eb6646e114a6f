"""The page of planning: its table of how often plans held, and the examples worked by hand.

`make planning` writes the table; tests/test_planning_page.py keeps the page from going stale.
"""

from __future__ import annotations

import math
import re
import shlex
from dataclasses import dataclass
from pathlib import Path

from tests.planning_hindcast import Row, account, office, shed

PAGE = Path(__file__).parents[1] / "docs" / "planning.md"
MARK = "<!-- measured -->\n"
COLUMNS = (
    *("place", "finish", "days", "windows"),
    *("opened as told", "open at the start", "closed no sooner", "by the band alone"),
)
HEAD = (f"| {' | '.join(COLUMNS)} |", "| --- " * len(COLUMNS) + "|")
EVERY_DAYS = 28  # of the shed
SUM = re.compile(r"`([^`]+)` = ([0-9.]+)")
FACT = re.compile(r"^\| ([^|]+) \| ([a-z_0-9.]+) \|$", re.MULTILINE)
WORDS = {"exp": math.exp, "sqrt": math.sqrt}


@dataclass(frozen=True)
class Example:
    """A command of the page and what it must answer: value by path into the JSON."""

    words: tuple[str, ...]
    facts: tuple[tuple[str, str], ...]


def examples(page: str) -> list[Example]:
    """Return the commands of the page with the facts told behind each."""
    parts = page.split("```sh\ncurewatch ")[1:]
    return [
        Example(
            tuple(shlex.split(part.split("\n```")[0])),
            tuple((path, value.strip()) for value, path in FACT.findall(part)),
        )
        for part in parts
    ]


def sums(page: str) -> list[tuple[str, str]]:
    """Return each line of arithmetic of the page: what is worked out, and what it is said to be."""
    return SUM.findall(page)


def worked(expression: str) -> float:
    """Work out a line of arithmetic: numbers, + - * / **, exp and sqrt."""
    if not re.fullmatch(r"[0-9.+\-*/() ,]*(?:(?:exp|sqrt)[0-9.+\-*/() ,]*)*", expression):
        raise ValueError(f"{expression!r} is no plain arithmetic")
    return float(eval(expression, {"__builtins__": {}}, WORDS))  # noqa: S307 - checked just above


def measured() -> list[Row]:
    """Return how often plans held, worked out anew."""
    return [*account(office()), *account(shed(EVERY_DAYS))]


def table(rows: list[Row]) -> str:
    """Return the table."""
    return "\n".join([*HEAD, *(row.line() for row in rows)]) + "\n"


def write() -> None:
    """Write the table into the page."""
    text = PAGE.read_text(encoding="utf-8").partition(MARK)[0]
    PAGE.write_text(text + MARK + "\n" + table(measured()), encoding="utf-8")


if __name__ == "__main__":
    write()
