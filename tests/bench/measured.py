"""What a bench hands over: ratios with their spread, beside goals that are never asserted."""

from __future__ import annotations

import gc
import statistics
import time
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence


@dataclass(frozen=True, slots=True)
class Goal:
    """A limit that a measured value is held beside."""

    limit: float
    at_least: bool = False
    unit: str = ""

    def __str__(self) -> str:
        """Say it in words."""
        return f"at {'least' if self.at_least else 'most'} {self.limit:g}{self.unit}"

    def met_by(self, value: float) -> bool:
        """Return whether `value` keeps the limit."""
        return value >= self.limit if self.at_least else value <= self.limit


@dataclass(frozen=True, slots=True)
class Row:
    """One measured thing: its repeats, as ratios or in a unit of its own."""

    what: str
    values: Sequence[float]
    unit: str = ""
    goal: Goal | None = None
    ours: str = ""
    against: str = ""

    def cells(self) -> tuple[str, ...]:
        """Return its cells for the report's table."""
        middle = statistics.median(self.values)
        spread = f"{shown(min(self.values))} to {shown(max(self.values))}"
        verdict = "" if self.goal is None else "met" if self.goal.met_by(middle) else "**not met**"
        return (
            self.what,
            self.ours,
            self.against,
            f"{shown(middle)}{self.unit}",
            spread if len(self.values) > 1 else "one run",
            "" if self.goal is None else str(self.goal),
            verdict,
        )


@dataclass(frozen=True, slots=True)
class Section:
    """One bench: what was done, its rows, and where the time went."""

    title: str
    what: str
    rows: Sequence[Row]
    notes: Sequence[str] = field(default_factory=tuple)


def shown(value: float) -> str:
    """Return a number with as many figures as a measurement has."""
    if abs(value) >= 1000.0:
        return f"{value:,.0f}"
    return f"{value:.3g}"


def seconds(values: Sequence[float]) -> str:
    """Return the median of measured times [s] in a fitting unit."""
    middle = statistics.median(values)
    for factor, unit in ((1.0, "s"), (1e3, "ms")):
        if middle * factor >= 1.0:
            return f"{shown(middle * factor)} {unit}"
    return f"{shown(middle * 1e6)} us"


def ratios(over: Sequence[float], under: Sequence[float]) -> list[float]:
    """Return the ratio of each pair that was measured side by side."""
    return [a / b for a, b in zip(over, under, strict=True)]


def alternately(*works: Callable[[], object], repeats: int) -> list[list[float]]:
    """Time every work in turn, `repeats` times over, so that noise hits all alike [s]."""
    for work in works:
        work()  # caches and memory are warm for all
    taken: list[list[float]] = [[] for _ in works]
    for _ in range(repeats):
        for times, work in zip(taken, works, strict=True):
            gc.collect()
            begun = time.perf_counter()
            work()
            times.append(time.perf_counter() - begun)
    return taken
