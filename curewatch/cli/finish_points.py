"""Activation energy of a finish from the times its data sheet prints: `finish sheet-points`.

The sheet gives the time to one and the same state at two or more temperatures. How fast they
shorten with warmth is the activation energy of the cure clock.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import TYPE_CHECKING

import numpy as np

from curewatch.assembly import finish_now
from curewatch.cli.finish_write import rewritten, say_changes, write_arguments, written_plain
from curewatch.cli.show import print_json, say, table
from curewatch.errors import BadInput
from curewatch.finish_edit import change
from curewatch.finishes.keys import FIGURES
from curewatch.intake.units import temperature_c
from curewatch.science.activation import activation_energy, rounding_band
from curewatch.science.kinetics import CureLaw, rate
from curewatch.settings import load_settings
from curewatch.shop.finish import Figure
from curewatch.shop.plain import FORMAT
from curewatch.shop.reading import Standing

if TYPE_CHECKING:
    import argparse
    from collections.abc import Sequence

    from curewatch.cli.entry import Forms
    from curewatch.science.activation import ActivationEnergy
    from curewatch.shop.finish import CureFigures
    from curewatch.shop.plain import PlainValue

POINT = re.compile(r"(-?\d+(?:\.\d+)?)\s*([CF]?)\s*=\s*(\d+(?:\.\d+)?)\s*([hd]?)", re.IGNORECASE)
HOURS_IN = {"": 1, "h": 1, "d": 24}
SHOWN_AT_C = (10.0, 15.0, 18.0, 21.0, 25.0, 30.0)
EA = "cure.ea_kj_mol"
HALF_WIDTH = 3.0**0.5
"""Ends so many standard errors off: a figure's standard error is (high - low)/sqrt(12)."""


def points_arguments(forms: Forms) -> None:
    """Add the form."""
    form = forms.add(
        "sheet-points", sheet_points, "how warmth speeds the cure, from a sheet's times"
    )
    form.add_argument("name", metavar="NAME")
    form.add_argument(
        "points",
        nargs="+",
        metavar="TEMP=TIME",
        help="degC and hours, as '18=72 25=40'; also '64F=3d'",
    )
    form.add_argument("--sheet", metavar="TEXT", help="which sheet, of which date")
    write_arguments(form)


@dataclass(frozen=True, slots=True)
class Point:
    """A time printed for a temperature: [degC], [h], and half its last digit [h]."""

    temp_c: float
    hours: float
    half_step_h: float


def sheet_points(args: argparse.Namespace) -> int:
    """Tell what a sheet's times say of the activation energy."""
    settings = load_settings(args.config)
    finish = finish_now(settings, None, args.name)
    if finish.cure is None:
        raise BadInput(f"{args.name} is cured by dose, not by the hour: it has no such energy")
    if args.write is not None and not (args.sheet or "").strip():
        raise BadInput(
            "--write needs --sheet 'which sheet, of which date': a figure without a source does "
            "harm"
        )
    points = [point_of(text) for text in args.points]
    temps, hours = [one.temp_c for one in points], [one.hours for one in points]
    found = activation_energy(temps, hours)
    band = rounding_band(temps, hours, [one.half_step_h for one in points])
    figure = _figure(found, band, points, args.sheet)
    changes = [change(finish, EA, figure)]
    done = rewritten(args, settings, changes)
    now = _law(finish.cure)
    rows = _rates(now, replace(now, ea_kj_mol=figure.value))
    if args.json:
        print_json(_answer(args, found, band, rows) | written_plain(changes, done))
        return 0
    _tell(args, found, band, rows)
    say_changes(args.name, changes, done)
    say(
        "Hours that you converted to the reference climate by the old energy stay as they are: "
        "convert them anew where a sheet was quoted for another temperature."
    )
    return 0


def point_of(text: str) -> Point:
    """Return the point that '18=72', '64F=3d' or '25=40h' names.

    Raises
    ------
    BadInput
        It is none of these, or its time is nought.
    """
    found = POINT.fullmatch(text.strip())
    if found is None:
        raise BadInput(
            f"'{text}' is no point of a sheet: write the temperature in degC and the hours, as "
            "18=72; 64F=3d is 64 degF and three days"
        )
    temp, unit, time, days = found.groups()
    written, each = Decimal(time), HOURS_IN[days.lower()]
    exponent = written.as_tuple().exponent
    step = Decimal(1).scaleb(exponent if isinstance(exponent, int) else 0)
    hours = float(written) * each
    if hours <= 0.0:
        raise BadInput(f"'{text}': the time must be above nought")
    half_h = min(0.5 * float(step) * each, 0.99 * hours)
    return Point(temperature_c(float(temp), unit.upper() or "C"), hours, half_h)


def _law(figures: CureFigures) -> CureLaw:
    """Return a profile's law of cure without its limits of temperature."""
    return CureLaw(
        figures.ea_kj_mol.value,
        humidity_exponent=figures.humidity_exponent.value,
        reference_temp_c=figures.reference_temp_c.value,
        reference_rh_frac=figures.reference_rh_pct.value / 100.0,
    )


def _figure(
    found: ActivationEnergy, band: tuple[float, float], points: Sequence[Point], sheet: str | None
) -> Figure:
    """Return the energy as a profile holds it: the wider of scatter and rounding as its ends."""
    half = HALF_WIDTH * (found.se_kj_mol or 0.0)
    key = FIGURES[EA]
    low = max(min(band[0], found.ea_kj_mol - half), key.least)
    high = min(max(band[1], found.ea_kj_mol + half), key.most)
    listed = ", ".join(f"{one.hours:g} h at {one.temp_c:.4g} degC" for one in points)
    error = (
        "two points, ends from the rounding of the times"
        if found.se_kj_mol is None
        else f"standard error {found.se_kj_mol:.2g} kJ/mol"
    )
    return Figure(
        round(found.ea_kj_mol, 1),
        Standing.DATA_SHEET,
        round(low, 1),
        round(high, 1),
        f"{sheet or 'a data sheet'}: {listed}; {error}",
    )


def _rates(now: CureLaw, new: CureLaw) -> list[tuple[float, float, float]]:
    """Return temperature, and hours a reference hour takes there by the old and new energy."""
    temps = np.array(SHOWN_AT_C)
    rh = np.full(temps.shape, now.reference_rh_frac)
    old, learnt = 1.0 / rate(temps, rh, now), 1.0 / rate(temps, rh, new)
    return list(zip(temps.tolist(), old.tolist(), learnt.tolist(), strict=True))


def _answer(
    args: argparse.Namespace,
    found: ActivationEnergy,
    band: tuple[float, float],
    rows: Sequence[tuple[float, float, float]],
) -> dict[str, PlainValue]:
    return {
        "format": FORMAT,
        "finish": args.name,
        "points": found.points,
        "ea_kj_mol": found.ea_kj_mol,
        "standard_error_kj_mol": found.se_kj_mol,
        "rounding_low_kj_mol": band[0],
        "rounding_high_kj_mol": band[1],
        "hours_per_reference_hour": [
            {"temp_c": temp_c, "now": old, "by_the_sheet": new} for temp_c, old, new in rows
        ],
    }


def _tell(
    args: argparse.Namespace,
    found: ActivationEnergy,
    band: tuple[float, float],
    rows: Sequence[tuple[float, float, float]],
) -> None:
    error = (
        "two points fit exactly, so they say nothing of their error"
        if found.se_kj_mol is None
        else f"standard error {found.se_kj_mol:.2g}"
    )
    say(
        f"{args.name}: {found.points} times of the sheet give an activation energy of "
        f"{found.ea_kj_mol:.1f} kJ/mol ({error}; with the rounding of the times it may lie "
        f"between {band[0]:.1f} and {band[1]:.1f})."
    )
    table(
        ["at", "hours for one at the reference, now", "by the sheet"],
        [(f"{temp_c:g} degC", f"{old:.2f}", f"{new:.2f}") for temp_c, old, new in rows],
    )
    say("The profile's limits of temperature still hold, and damp air counts as it did.")
