"""`--why`: under an answer, where its numbers come from."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Final

from curewatch.cli.show import WIDTH
from curewatch.shop.standings import KEY, answers_itself, entry_name, numbers, told_at

if TYPE_CHECKING:
    import argparse

    from curewatch.shop.plain import Plain

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
UNSAID: Final = ("milestones", "limits", "figures", "clocks")
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
        for index, part in enumerate(value if isinstance(value, list) else [value]):
            if isinstance(part, dict) and answers_itself(part):
                place = f"{key}.{entry_name(part, index)}" if isinstance(value, list) else key
                lines += _part_lines(part, place, columns)
    return lines


def _part_lines(part: Plain, place: str, columns: int) -> list[str]:
    """Return the lines of a part that answers for its own numbers."""
    told = part[KEY]
    if isinstance(told, str):  # one word for all of them
        bare = {key: value for key, value in part.items() if key != KEY}
        own: Plain = {place: {KEY: told, "source": part["source"]}}
        return _own_lines({place: bare, KEY: own}, columns)
    title = place.replace("_", " ").replace(".", " ")
    return ["", f"{title}:", *_own_lines(part, columns)]


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
        text = f"{', '.join(group)}: {_because(standing.replace('-', ' '), source)}"
        lines += textwrap.wrap(
            text, columns, initial_indent="  ", subsequent_indent="    ", break_on_hyphens=False
        )
    return lines


def _because(word: str, source: str) -> str:
    """Say a standing with its source, once where the source begins with it."""
    if source.startswith(word):
        return source
    return f"{word} ({source})" if source else word


def _number(place: str, value: float) -> str:
    """Say a number by its place: 'milestones.buff.required_hours' of 280 is 'buff 280 h'."""
    unit = next((said for end, said in UNITS.items() if place.endswith(end)), "")
    for end in UNITS:
        if place.endswith(end):
            place = place.removesuffix(end)
            break
    words = [word for word in place.removesuffix(".required").split(".") if word not in UNSAID]
    return f"{' '.join(words).replace('_', ' ')} {round(value, 4) + 0.0:.4g}{unit}"
