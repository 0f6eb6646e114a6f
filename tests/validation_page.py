"""The rows of docs/validation.md: what one holds, how they are written and read back.

A test of science reports with the fixture `agreement` how near it came to its source;
`make validation` writes the page, and tests/test_validation_page.py keeps it from going stale.
"""

from __future__ import annotations

import ast
import math
import re
from dataclasses import dataclass, replace
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt
import pytest

if TYPE_CHECKING:
    from collections.abc import Iterable

SCIENCE = Path(__file__).parent / "science"
PAGE = Path(__file__).parents[1] / "docs" / "validation.md"
NUMBER = r"[0-9][0-9.]*(?:e-?[0-9]+)?"
TOLERANCE = re.compile(
    rf"(?:(?P<least>at least) |(?P<low>{NUMBER}) to )?(?P<high>{NUMBER})(?: (.+))?"
)
ROW = re.compile(
    r'^\| \[(?P<check>.+)\]\(\.\./tests/science/(?P<file>\w+)\.py "(?P<test>\w+)"\)'
    rf" \| (?P<source>.+) \| (?P<tolerance>.+) \| (?P<measured>{NUMBER})(?: (?P<unit>.+))?"
    r" \| (?P<n>[0-9]+) \|$",
    re.MULTILINE,
)
ROUNDING = 1e-12
"""Below this a difference is the machine's rounding, another on the next machine."""
INTRODUCTION = """\
# How well the science agrees with others

Each row is a check of the test run: a computed quantity held against a source outside this program;
the few that have none say so. `make validation` writes the page from what the tests measured;
nothing here is typed, and the tests fail when a row no longer tells what they check. "Measured" is
the worst of all values: the largest deviation; where the tolerance says "at least", the smallest;
where it says "to", the one furthest from the middle. Under 1e-12 it is the machine's rounding and
written as 0. A check links to its test; where the sources' values were read, often second hand, and
why each tolerance is what it is, stands in [tests/reference](../tests/reference/README.md).

Agreement with an equation or a library shows that it is computed rightly, not that a coat in a shop
obeys it. Synthetic shops obey the model's own assumptions. What is only the trade's rule of thumb
is marked "common practice, no source".
"""


@dataclass(frozen=True, slots=True)
class Agreement:
    """How near the tests came to one source; `measured` is in `unit`, as the tolerance is."""

    file: str
    test: str
    check: str
    source: str
    tolerance: str
    measured: float
    unit: str
    n: int
    about: str = ""

    def __post_init__(self) -> None:
        """Refuse what could not be written, read back or held to its tolerance."""
        found = TOLERANCE.fullmatch(self.tolerance)
        if not found or (found[4] or "") != self.unit:
            raise ValueError(
                f"{self.check}: the tolerance {self.tolerance!r} is no number and unit"
            )
        if not math.isfinite(self.measured) or self.n < 1:
            raise ValueError(f"{self.check}: measured {self.measured} on {self.n} values")
        if re.search(r"[|\[\]\n]", self.check + self.source) or not (self.check and self.source):
            raise ValueError(f"{self.check!r}, {self.source!r}: empty, or breaks a table's row")

    @property
    def strain(self) -> float:
        """How far `measured` leans towards the end of its tolerance, larger being worse."""
        low, high = self.limits
        if math.isinf(high):
            return -self.measured
        return abs(self.measured - 0.5 * (low + high)) if low > 0.0 else self.measured

    @property
    def limits(self) -> tuple[float, float]:
        """Lowest and highest value of `measured` that the tolerance allows."""
        found = TOLERANCE.fullmatch(self.tolerance)
        assert found
        if found["least"]:
            return float(found["high"]), math.inf
        return float(found["low"] or 0.0), float(found["high"])

    @property
    def within(self) -> bool:
        """Whether `measured` lies inside the tolerance, its ends included."""
        low, high = self.limits
        return low <= self.measured <= high

    def line(self) -> str:
        """Write the row, `measured` to two significant digits."""
        measured = 0.0 if self.measured < ROUNDING else float(f"{self.measured:.1e}")
        shown = f"{measured:g}".replace("e-0", "e-")
        return (
            f'| [{self.check}](../tests/science/{self.file}.py "{self.test}") | {self.source}'
            f" | {self.tolerance} | {shown} {self.unit}".rstrip()
            + f" | {self.n} |"
        )


@dataclass(frozen=True, slots=True)
class Ahead:
    """How well outlooks over one horizon would have known one place; errors in [%] of the hours."""

    place: str
    law: str
    horizon_h: int
    windows: int
    held_pct: float
    error_pct: float
    as_now_pct: float
    mean_24h_pct: float

    def line(self) -> str:
        """Write the row, percentages to a tenth."""
        parts = (self.held_pct, self.error_pct, self.as_now_pct, self.mean_24h_pct)
        told = " | ".join(f"{part:.1f} %" for part in parts)
        return f"| {self.place} | {self.law} | {self.horizon_h} h | {self.windows} | {told} |"

    @property
    def key(self) -> tuple[str, str, int]:
        """Which row of the table it is."""
        return self.place, self.law, self.horizon_h


AHEAD_ROW = re.compile(
    r"^\| ([^|\[]+) \| ([^|]+) \| ([0-9]+) h \| ([0-9]+)" + 4 * r" \| ([0-9.]+) %" + r" \|$",
    re.MULTILINE,
)
AHEAD_TITLE = "How well a room is known ahead"
AHEAD_INTRODUCTION = """\
The outlook was given along each record from what lay before, and held against what came: effective
hours over the next day and the next three days. "80 % band" is how often the hours fell between
early and late; it should be 80 %. Errors are root mean squares, beside those of two rules anyone
could use: the room goes on as in its newest hour, or as in its last 24 h. "Windows" counts how many
outlooks of that length were judged that do not overlap: few windows, little said. The typical years
are outdoor air, as in a shed with no heating; the office is a heated room over sixteen days with
gaps, whose 72 h windows are too few to hold the band to. The rate laws: cures of 55 ("mild"), 80
("steep") and 100 kJ/mol ("very steep") that humidity does not move, "waterborne" (55 kJ/mol, slower
in damp air), "moisture-cured" (60 kJ/mol, faster in damp air) and "drying", a wet waterborne film;
the limits of temperature are lifted. `curewatch replay FILE.csv --hindcast 24,72` tells the same of
a room of yours.
"""
AHEAD_HEAD = (
    "| place | rate law | ahead | windows | 80 % band | error | as now | as the last 24 h |",
    "| --- | --- | --- | --- | --- | --- | --- | --- |",
)
KNOWN_AHEAD = pytest.StashKey[list[Ahead]]()
"""Where a run keeps how well rooms were known."""
REPORTED = pytest.StashKey[list[Agreement]]()
"""Where a run keeps what its tests reported."""


def worst_of_each(reported: list[Agreement]) -> list[Agreement]:
    """One row a check, sorted: the worst of what a test reported under one name, counts added."""
    by_name = sorted(reported, key=lambda row: (row.file, row.check))
    rows = []
    for (file, check), group in groupby(by_name, key=lambda row: (row.file, row.check)):
        same = list(group)
        if len({(row.test, row.source, row.tolerance) for row in same}) > 1:
            raise ValueError(f"{file}: {check!r} is reported with two sources or tolerances")
        worst = max(same, key=lambda row: row.strain)
        rows.append(replace(worst, n=sum(row.n for row in same)))
    return rows


def written(reported: list[Agreement], ahead: Iterable[Ahead] = ()) -> str:
    """Return the whole page."""
    parts = [INTRODUCTION.rstrip()]
    for about, rows in groupby(worst_of_each(reported), key=lambda row: row.about):
        parts += [f"\n## {about}\n", "| check | source | tolerance | measured | values |"]
        parts += ["| --- | --- | --- | --- | --- |", *(row.line() for row in rows)]
    rows = sorted(set(ahead), key=lambda row: row.key)
    if rows:
        parts += [f"\n## {AHEAD_TITLE}\n", AHEAD_INTRODUCTION, *AHEAD_HEAD]
        parts += [row.line() for row in rows]
    return "\n".join(parts) + "\n"


def read_ahead(page: str) -> list[Ahead]:
    """Return the rows of the page's table on rooms ahead."""
    return [
        Ahead(place, law, int(hours), int(windows), *map(float, percent))
        for place, law, hours, windows, *percent in AHEAD_ROW.findall(page)
    ]


def read(page: str) -> list[Agreement]:
    """Return the rows of a page; they do not tell what their file is about."""
    return [
        Agreement(
            **{key: found[key] for key in ("file", "test", "check", "source", "tolerance")},
            measured=float(found["measured"]),
            unit=found["unit"] or "",
            n=int(found["n"]),
        )
        for found in ROW.finditer(page)
    ]


def reporting_tests(file: str) -> set[str]:
    """Names of the tests of a file of tests/science that take the fixture `agreement`."""
    path = SCIENCE / f"{file}.py"
    if not path.exists():
        return set()
    return {
        node.name
        for node in ast.parse(path.read_text(encoding="utf-8")).body
        if isinstance(node, ast.FunctionDef)
        and "agreement" in {arg.arg for arg in (*node.args.args, *node.args.kwonlyargs)}
    }


def furthest(ours: npt.ArrayLike, theirs: npt.ArrayLike) -> float:
    """Largest difference, in the unit of both."""
    return float(np.max(np.abs(np.asarray(ours) - np.asarray(theirs))))


def furthest_rel(ours: npt.ArrayLike, theirs: npt.ArrayLike) -> float:
    """Largest difference as a fraction of `theirs`."""
    return float(np.max(np.abs(np.asarray(ours) / np.asarray(theirs) - 1.0)))


def furthest_pct(ours: npt.ArrayLike, theirs: npt.ArrayLike) -> float:
    """Largest difference [%] of `theirs`."""
    return 100.0 * furthest_rel(ours, theirs)
