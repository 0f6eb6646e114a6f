"""A logger's CSV file as arrays: times, temperatures, humidities, and what was left out and why."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal, TextIO, TypeAlias

import numpy as np

from curewatch.errors import BadInput
from curewatch.intake.csv_table import Column, Table, read_table
from curewatch.intake.csv_times import Times, read_times
from curewatch.intake.mapping import zone_named
from curewatch.intake.units import OVER_SATURATION_FRAC, humidity_frac, temperature_c
from curewatch.shop.reading import Origin, Quantity, Reading

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

Floats: TypeAlias = np.ndarray[tuple[int], np.dtype[np.float64]]
Instants: TypeAlias = np.ndarray[tuple[int], np.dtype[np.int64]]
RhUnit: TypeAlias = Literal["auto", "percent", "fraction"]

_COMMA = re.compile(r"[+-]?\d*,\d+", re.ASCII)
_NOTHING = frozenset(
    ["", "-", "--", "---", "nan", "null", "none", "n/a", "na", "unavailable", "unknown", "err"]
)


@dataclass(frozen=True, slots=True)
class SkippedRow:
    """A row, or a cell of it, that was not taken: its line in the file and why."""

    line: int
    reason: str


@dataclass(frozen=True, slots=True)
class Log:
    """What a logger's file holds, in order of time, each instant once.

    Attributes
    ----------
        times_ms: instants, UTC epoch [ms], shape (n,).
        temp_c: air temperatures [degC], NaN where missing, shape (n,).
        rh_frac: relative humidities [fraction], NaN where missing, shape (n,).
        surface_c: surface temperatures [degC], or None when no column was named.
        skipped: rows and cells not taken, by line.
        rows: rows below the heading.
        duplicates: rows that repeat an instant with the same values.
        out_of_order: rows older than one before them in a file that runs forward.
        doubled: times without offset in the hour that comes twice; told by the file's order.
        shifted: times without offset in an hour that does not exist; moved past it.
        assumed_utc: whether times without offset were read as UTC for want of a zone.
        rh_unit: the unit humidity was read in.
        delimiter: the character between cells.
    """

    times_ms: Instants
    temp_c: Floats
    rh_frac: Floats
    surface_c: Floats | None
    skipped: tuple[SkippedRow, ...]
    rows: int
    duplicates: int
    out_of_order: int
    doubled: int
    shifted: int
    assumed_utc: bool
    rh_unit: str
    delimiter: str

    def readings(self, sensor: str) -> list[Reading]:
        """Return every value as an imported reading of `sensor`, in order of time."""
        columns = [(Quantity.TEMPERATURE, self.temp_c), (Quantity.HUMIDITY, self.rh_frac)]
        if self.surface_c is not None:
            columns.append((Quantity.SURFACE_TEMPERATURE, self.surface_c))
        values = [(quantity, column.tolist()) for quantity, column in columns]
        return [
            Reading(sensor, quantity, at_ms, column[index], Origin.IMPORTED)
            for index, at_ms in enumerate(self.times_ms.tolist())
            for quantity, column in values
            if not math.isnan(column[index])
        ]


def read_log(  # noqa: PLR0913 - one argument a column and one a unit, all by name
    source: str | Path | TextIO,
    *,
    time: Column,
    temp: Column,
    rh: Column,
    surface: Column | None = None,
    zone: str | None = None,
    temp_unit: str = "C",
    rh_unit: RhUnit = "auto",
) -> Log:
    """Read a logger's CSV file.

    Delimiter, decimal comma, heading and way of writing the time are sensed; columns are named by
    heading (in any case) or by number from 1.

    Parameters
    ----------
    source
        Path of the file, or an open text stream.
    time, temp, rh, surface
        The columns: time, air temperature, relative humidity, surface temperature.
    zone
        IANA zone for times without offset; UTC when not given, and the log says so.
    temp_unit
        'C', 'F' or 'K'.
    rh_unit
        'percent', 'fraction', or 'auto': a fraction when most values are not above one.

    Raises
    ------
    BadInput
        When nothing can be read from it: no such file, column, zone, unit, or no usable row.
    """
    wanted = {"time": time, "temperature": temp, "humidity": rh}
    if surface is not None:
        wanted["surface temperature"] = surface
    try:
        where = zone_named(zone or "UTC")
        temperature_c(0.0, temp_unit)
    except ValueError as error:
        raise BadInput(
            f"{error}; zones are called as 'Europe/Berlin', units 'C', 'F', 'K'"
        ) from error
    table = read_table(source, wanted)
    cells = {key: _column(table, place) for key, place in table.places.items()}
    times = read_times(cells["time"], where, table.name)
    table, cells, times = _without_heading(table, cells, times)
    gathered = _Gathered(table, times)
    unit = _rh_unit(cells["humidity"], rh_unit, table.name)
    columns = {
        key: gathered.column(key, cells[key], _converter(key, temp_unit, unit))
        for key in wanted
        if key != "time"
    }
    return _log(gathered, columns, unit, assumed_utc=zone is None and times.without_offset > 0)


@dataclass(slots=True)
class _Gathered:
    """The rows being read, and what has been skipped of them."""

    table: Table
    times: Times
    skipped: list[SkippedRow] = field(default_factory=list)

    def column(self, key: str, cells: list[str], convert: Callable[[float], float]) -> Floats:
        values = np.full(len(cells), np.nan)
        for index, cell in enumerate(cells):
            if self.times.at_ms[index] is None:
                continue
            try:
                number = _number(cell)
                values[index] = math.nan if number is None else convert(number)
            except ValueError as error:
                self.skip(index, f"{key}: {error}")
        return values

    def skip(self, index: int, reason: str) -> None:
        self.skipped.append(SkippedRow(self.table.rows[index][0], reason))


def _column(table: Table, place: int) -> list[str]:
    return [row[place] if place < len(row) else "" for _, row in table.rows]


def _without_heading(
    table: Table, cells: dict[str, list[str]], times: Times
) -> tuple[Table, dict[str, list[str]], Times]:
    """Drop the lines above the first readable time where columns were given by number alone."""
    first = next((i for i, at_ms in enumerate(times.at_ms) if at_ms is not None), None)
    if first is None:
        fault = next(iter(times.faults.values()), "no row below the heading")
        raise BadInput(
            f"{table.name}: no time can be read ({fault}); "
            "name the column of times, and write them as ISO 8601 or Unix seconds"
        )
    if table.headed or first == 0:
        return table, cells, times
    trimmed = Table(table.name, table.delimiter, table.rows[first:], table.places, headed=False)
    times.at_ms = times.at_ms[first:]
    times.faults = {i - first: fault for i, fault in times.faults.items() if i >= first}
    return trimmed, {key: column[first:] for key, column in cells.items()}, times


def _number(cell: str) -> float | None:
    """Return the number in `cell`, None where it is blank or says that there is none."""
    text = cell.strip()
    if text.lower() in _NOTHING:
        return None
    if _COMMA.fullmatch(text):
        text = text.replace(",", ".")
    try:
        number = float(text)
    except ValueError:
        number = math.nan
    if not math.isfinite(number) or "_" in text or not text.isascii():
        raise ValueError(f"{cell.strip()[:40]!r} is not a number")
    return number


def _converter(key: str, temp_unit: str, rh_unit: str) -> Callable[[float], float]:
    if key == "humidity":
        return lambda number: humidity_frac(number, rh_unit)
    return lambda number: temperature_c(number, temp_unit)


def _rh_unit(cells: list[str], asked: RhUnit, name: str) -> str:
    """Return the unit of the humidity column, or say that it cannot be the one asked for."""
    if asked not in ("auto", "percent", "fraction"):
        raise BadInput(f"humidity unit '{asked}': it is one of 'auto', 'percent', 'fraction'")
    values = []
    for cell in cells:
        try:
            values.append(_number(cell) or 0.0)
        except ValueError:
            continue  # told with its line when the column is read
    middle = float(np.median([value for value in values if value > 0.0] or [100.0]))
    sensed = "fraction" if middle <= 1.0 + OVER_SATURATION_FRAC else "percent"
    if asked not in ("auto", sensed):
        raise BadInput(
            f"{name}: humidity is mostly about {middle:.3g}; is it {sensed}, not {asked}?"
        )
    return sensed if asked == "auto" else asked


def _log(gathered: _Gathered, columns: dict[str, Floats], unit: str, *, assumed_utc: bool) -> Log:
    times = gathered.times
    for index, fault in times.faults.items():
        gathered.skip(index, f"time: {fault}")
    timed = np.array([at_ms is not None for at_ms in times.at_ms])
    held = np.logical_or.reduce([~np.isnan(column) for column in columns.values()])
    told = {row.line for row in gathered.skipped}
    for index in np.flatnonzero(timed & ~held).tolist():
        if gathered.table.rows[index][0] not in told:
            gathered.skip(index, "no value in any of the columns")
    taken = np.flatnonzero(timed & held)
    if not taken.size:
        why = gathered.skipped[0]
        raise BadInput(
            f"{gathered.table.name}: no usable row; line {why.line}: {why.reason}. "
            "Check the columns and units given"
        )
    at_ms = np.array([times.at_ms[index] for index in taken.tolist()], dtype=np.int64)
    out_of_order = _out_of_order(at_ms)
    order = np.argsort(at_ms, kind="stable")
    rows, at_ms = taken[order], at_ms[order]
    keep, duplicates = _each_instant_once(gathered, columns, rows, at_ms)
    surface = columns.get("surface temperature")
    return Log(
        times_ms=at_ms[keep],
        temp_c=columns["temperature"][rows][keep],
        rh_frac=columns["humidity"][rows][keep],
        surface_c=None if surface is None else surface[rows][keep],
        skipped=tuple(sorted(gathered.skipped, key=lambda row: row.line)),
        rows=len(gathered.table.rows),
        duplicates=duplicates,
        out_of_order=out_of_order,
        doubled=times.doubled,
        shifted=times.shifted,
        assumed_utc=assumed_utc,
        rh_unit=unit,
        delimiter=gathered.table.delimiter,
    )


def _out_of_order(at_ms: Instants) -> int:
    """Count rows against the run of the file, which may be newest first."""
    forward = at_ms if at_ms[-1] >= at_ms[0] else at_ms[::-1]
    return int(np.count_nonzero(forward < np.maximum.accumulate(forward)))


def _each_instant_once(
    gathered: _Gathered, columns: dict[str, Floats], rows: Instants, at_ms: Instants
) -> tuple[np.ndarray[tuple[int], np.dtype[np.bool_]], int]:
    """Fold rows of one instant into its first: fill what it lacks, skip what contradicts it."""
    keep = np.ones(rows.size, dtype=np.bool_)
    keep[1:] = np.diff(at_ms) > 0
    duplicates = 0
    first = 0
    for place in range(1, rows.size):
        if keep[place]:
            first = place
            continue
        if _fold(columns, int(rows[first]), int(rows[place])):
            duplicates += 1
        else:
            gathered.skip(int(rows[place]), "another value for an instant that is there already")
    return keep, duplicates


def _fold(columns: dict[str, Floats], first: int, other: int) -> bool:
    """Fill the gaps of row `first` from row `other`; False when they contradict each other."""
    told = [values for values in columns.values() if not np.isnan(values[other])]
    if any(values[first] != values[other] for values in told if not np.isnan(values[first])):
        return False
    for values in told:
        values[first] = values[other]
    return True
