"""Where every number of a plain answer comes from: its standing and, in words, its source.

A mapping of standings lies beside the numbers under the key `standing`. It is flat: a number's
place is its keys joined by dots, and an entry of a list goes by its name, so that the hours a
buff asks for are 'milestones.buff.required_hours'.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Iterator

    from curewatch.shop.plain import Plain, PlainValue

KEY: Final = "standing"
MEASURED: Final = "measured"
NAMES: Final = ("name", "limit", "finish", "sensor", "kind", "reason", "start")
UNTOLD: Final = ("format",)  # of the shape, not of the thing


def numbers(plain: Plain, *, within: str = "") -> Iterator[tuple[str, float]]:
    """Yield the place and value of every number of a plain answer.

    A part that carries a mapping of its own answers for itself and is left out.
    """
    for key, value in plain.items():
        if key != KEY and key not in UNTOLD:
            yield from _under(value, f"{within}{key}")


def _under(value: PlainValue, place: str) -> Iterator[tuple[str, float]]:
    if isinstance(value, dict):
        if not isinstance(value.get(KEY), dict):
            yield from numbers(value, within=f"{place}.")
    elif isinstance(value, list):
        for index, entry in enumerate(value):
            yield from _under(entry, f"{place}.{entry_name(entry, index)}")
    elif isinstance(value, int | float) and not isinstance(value, bool):
        yield place, value


def entry_name(entry: PlainValue, index: int) -> str:
    """Return what an entry of a list goes by: its name, else where it stands."""
    if isinstance(entry, dict):
        for key in NAMES:
            name = entry.get(key)
            if isinstance(name, str):
                return name
    return str(index)
