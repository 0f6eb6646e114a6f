"""A scale's log: a column of times and one of masses."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from curewatch.errors import BadInput
from curewatch.intake.csv_log import SkippedRow
from curewatch.intake.csv_table import read_table
from curewatch.intake.csv_times import read_times
from curewatch.intake.mapping import zone_named
from curewatch.intake.units import mass_g

if TYPE_CHECKING:
    from pathlib import Path

    from curewatch.intake.csv_table import Column
    from curewatch.shop.climate import Floats, Times


@dataclass(frozen=True, slots=True)
class MassLog:
    """What a scale's file holds: instants [ms], masses [g], both sorted by time; rows left out."""

    times_ms: Times
    mass_g: Floats
    skipped: tuple[SkippedRow, ...]


def read_masses(
    source: str | Path, *, time: Column, mass: Column, unit: str = "g", zone: str | None = None
) -> MassLog:
    """Read a scale's CSV file; delimiter and way of writing the time are sensed.

    Parameters
    ----------
    source
        Path of the file.
    time, mass
        The columns, by heading or by number from 1.
    unit
        Of the masses: 'g', 'mg', 'kg' or 'oz'.
    zone
        IANA zone of times without an offset; UTC when not given.

    Raises
    ------
    BadInput
        No such file, column, zone or unit, or no usable row.
    """
    try:
        where = zone_named(zone or "UTC")
        mass_g(0.0, unit)
    except ValueError as error:
        raise BadInput(
            f"{error}; zones are called as 'Europe/Berlin', units of mass 'g', 'mg', 'kg', 'oz'"
        ) from error
    table = read_table(source, {"time": time, "mass": mass})
    times = read_times([_cell(row, table.places["time"]) for _, row in table.rows], where, "time")
    kept: dict[int, float] = {}
    skipped = []
    for place, (line, row) in enumerate(table.rows):
        at_ms, grams = times.at_ms[place], _grams(_cell(row, table.places["mass"]), unit)
        if at_ms is None or grams is None:
            why = times.faults.get(place, "no mass there")
            skipped.append(SkippedRow(line, why))
        else:
            kept.setdefault(at_ms, grams)  # an instant written twice: the first stays
    if not kept:
        raise BadInput(
            f"{table.name}: no row has both a time and a mass "
            f"(line {skipped[0].line}: {skipped[0].reason})"
            if skipped
            else f"{table.name}: there is no row below the heading"
        )
    ordered = sorted(kept)
    return MassLog(
        np.array(ordered, dtype=np.int64), np.array([kept[at] for at in ordered]), tuple(skipped)
    )


def _cell(row: list[str], place: int) -> str:
    return row[place] if place < len(row) else ""


def _grams(cell: str, unit: str) -> float | None:
    """Return the mass in a cell [g]; None where there is none to read."""
    text = cell.strip()
    try:
        number = mass_g(float(text.replace(",", ".") if text.count(",") == 1 else text), unit)
    except ValueError:
        return None
    return number if np.isfinite(number) else None
