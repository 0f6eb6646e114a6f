"""`--why`: under an answer, where its numbers come from."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Final

from curewatch.cli.show import WIDTH
from curewatch.shop.standings import KEY, numbers, told_at

if TYPE_CHECKING:
    import argparse

    from curewatch.shop.plain import Plain, PlainValue

UNITS: Final = {  # how a plain name ends, and the unit people read
    "_um2_h": " um2/h",
    "_um_h": " um/h",
    "_g_m2": " g/m2",
    "_kj_mol": " kJ/mol",
    "_k_h": " K/h",
    "_hours": " h",
    "_days": " d",
    "_pct": " %",
    "_um": " um",
    "_h": " h",
    "_c": " °C",
    "_k": " K",
}
UNSAID: Final = ("milestones", "limits", "figures")
HEAD: Final = "Where these numbers come from:"


def add_why(parser: argparse.ArgumentParser) -> None:
    """Add `--why` to a command."""
    parser.add_argument(
        "--why", action="store_true", help="say under the answer where each number comes from"
    )


def why_lines(plain: Plain, *, columns: int = WIDTH) -> list[str]:
    """Return the lines that say where the numbers of a plain answer come from.

    Numbers of one standing and source share a line: 'buff 280 h: data sheet (...)'. Parts with a
    mapping of their own follow under their name.

    Parameters
    ----------
    plain : dict
        What `--json` prints, with its mapping under `standing`.
    columns : int
        How wide a line may be.
    """
    lines = _own_lines(plain, columns)
    for key, value in plain.items():
        for part in value if isinstance(value, list) else [value]:
            if isinstance(part, dict) and isinstance(part.get(KEY), dict):
                named = next((str(part[k]) for k in ("finish", "piece") if k in part), "")
                lines += ["", f"{f'{key} {named}'.strip().replace('_', ' ')}:"]
                lines += _own_lines(part, columns)
    return lines


def print_why(plain: Plain) -> None:
    """Print where the numbers of a plain answer come from."""
    print("\n".join(["", HEAD, *why_lines(plain)]))


def _own_lines(plain: Plain, columns: int) -> list[str]:
    told = plain.get(KEY)
    if not isinstance(told, dict):
        return []
    said: dict[tuple[str, str], list[str]] = {}
    for place, value in numbers(plain):
        found = told_at(told, place)
        if found is not None:
            said.setdefault(found, []).append(_number(place, value))
    lines = []
    for (standing, source), group in said.items():
        because = f" ({source})" if source else ""
        text = f"{', '.join(group)}: {standing.replace('-', ' ')}{because}"
        lines += textwrap.wrap(
            text, columns, initial_indent="  ", subsequent_indent="    ", break_on_hyphens=False
        )
    return lines


def _number(place: str, value: PlainValue) -> str:
    """Say a number by its place: 'milestones.buff.required_hours' of 280 is 'buff 280 h'."""
    unit = next((said for end, said in UNITS.items() if place.endswith(end)), "")
    for end in UNITS:
        if place.endswith(end):
            place = place.removesuffix(end)
            break
    words = [word for word in place.removesuffix(".required").split(".") if word not in UNSAID]
    return f"{' '.join(words).replace('_', ' ')} {value:.4g}{unit}"
