"""The values a person types into a spray check, in either unit."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.cli.figures import add_figure, number, really_argument
from curewatch.shop.typed import AIR, HUMIDITY, LIQUID, SURFACE, possible

if TYPE_CHECKING:
    import argparse

SORTS = {"temp": AIR, "surface": SURFACE, "liquid": LIQUID}
MOST_COATS = 12


def value_arguments(parser: argparse.ArgumentParser) -> None:
    """Add what was measured by hand, each in degC or degF."""
    for name, letter, what in (
        ("temp", "T", "air temperature"),
        ("surface", "S", "the piece itself"),
        ("liquid", "L", "the liquid in the gun"),
    ):
        either, in_f = parser.add_mutually_exclusive_group(), f"--{name}-f"
        add_figure(
            either, f"--{name}-c", SORTS[name], of=f"{what} [degC]", in_f=in_f, metavar=letter
        )
        either.add_argument(in_f, type=number, metavar=letter, help=f"{what} [degF]")
    add_figure(parser, "--rh-pct", HUMIDITY, of="relative humidity [%%]", metavar="R")
    really_argument(parser)


def typed_values(args: argparse.Namespace) -> dict[str, float]:
    """Return the values that were typed, in degC and percent.

    Raises
    ------
    BadInput
        When one in degF cannot be; what was typed in degC was asked back before.
    """
    typed = {}
    for name, sort in SORTS.items():
        value: float | None = getattr(args, f"{name}_c")
        in_f: float | None = getattr(args, f"{name}_f")
        if in_f is not None:  # who said degF meant it
            value = (in_f - 32.0) / 1.8
            possible(value, sort, told=f"--{name}-f {in_f:g} degF ({value:.1f} degC)")
        if value is not None:
            typed[f"{name}_c"] = value
    if args.rh_pct is not None:
        typed["rh_pct"] = args.rh_pct
    return typed
