"""The values a person types into a spray check: in either unit, possible, and what was meant."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from curewatch.errors import BadInput

if TYPE_CHECKING:
    import argparse

# What air, piece and liquid can be where people work; beyond these a number was mistyped.
BOUNDS: dict[str, tuple[float, float, str]] = {
    "temp_c": (-40.0, 80.0, "degC"),
    "rh_pct": (0.0, 100.0, "%"),
    "surface_c": (-40.0, 120.0, "degC"),
    "liquid_c": (-40.0, 80.0, "degC"),
}
HOTTEST_C = 45.0  # air and liquid above this are Fahrenheit typed as Celsius, or no place to spray
HOTTEST_PIECE_C = 60.0
DOUBTED_C = {"temp_c": HOTTEST_C, "surface_c": HOTTEST_PIECE_C, "liquid_c": HOTTEST_C}
FRACTION_PCT = 1.0  # no shop is this dry: a fraction was typed for percent
MOST_COATS = 12


def value_arguments(parser: argparse.ArgumentParser) -> None:
    """Add what was measured by hand, each in degC or degF."""
    for name, letter, what in (
        ("temp", "T", "air temperature"),
        ("surface", "S", "the piece itself"),
        ("liquid", "L", "the liquid in the gun"),
    ):
        either = parser.add_mutually_exclusive_group()
        either.add_argument(f"--{name}-c", type=float, metavar=letter, help=f"{what} [degC]")
        either.add_argument(f"--{name}-f", type=float, metavar=letter, help=f"{what} [degF]")
    parser.add_argument("--rh-pct", type=float, metavar="R", help="relative humidity [%%]")


def typed_values(args: argparse.Namespace) -> dict[str, float]:
    """Return the values that were typed, each one possible, in degC and percent.

    Raises
    ------
    BadInput
        When one cannot be, is no number, or was likely meant in another unit.
    """
    typed = {}
    for name, (low, high, unit) in BOUNDS.items():
        value: float | None = getattr(args, name)
        option = f"--{name.replace('_', '-')}"
        told = f"{option} {value if value is None else format(value, 'g')} {unit}"
        in_f: float | None = getattr(args, f"{name[:-2]}_f") if name.endswith("_c") else None
        if value is None and in_f is not None:
            value = (in_f - 32.0) / 1.8
            told = f"--{name.replace('_c', '-f')} {in_f:g} degF ({value:.1f} degC)"
        if value is None:
            continue
        if not math.isfinite(value) or not low <= value <= high:
            raise BadInput(f"{told} cannot be: give {low:g} to {high:g} {unit}")
        if in_f is None:  # who said degF meant it
            _question(name, value, told)
        typed[name] = value
    return typed


def _question(name: str, value: float, told: str) -> None:
    """Ask back where a value is possible but was hardly meant."""
    if name == "rh_pct":
        if 0.0 < value <= FRACTION_PCT:
            raise BadInput(
                f"{told} is drier than any shop: did you mean {value * 100.0:g} %? Give percent, "
                f"--rh-pct {value * 100.0:g}"
            )
    elif value > DOUBTED_C[name]:
        option = f"--{name.replace('_c', '-f')}"
        raise BadInput(
            f"{told} is hotter than any place to spray in: did you mean {value:g} degF "
            f"({(value - 32.0) / 1.8:.1f} degC)? Give {option} {value:g}"
        )
