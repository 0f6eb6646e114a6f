"""Figures on the command line: numbers as people write them, and climates that are asked back."""

from __future__ import annotations

import argparse
import re
from typing import TYPE_CHECKING

from curewatch.shop.typed import asked_back

if TYPE_CHECKING:
    from collections.abc import Sequence

    from curewatch.shop.typed import Sort

COMMA = re.compile(r"[-+]?\d+,\d+")
REALLY = "take the figures as typed, however unlikely"


def number(text: str) -> float:
    """Return a number; a decimal comma is said to be one."""
    try:
        return float(text)
    except ValueError:
        raise argparse.ArgumentTypeError(_no_number(text, "a number")) from None


def whole(text: str) -> int:
    """Return a whole number."""
    try:
        return int(text)
    except ValueError:
        raise argparse.ArgumentTypeError(_no_number(text, "a whole number")) from None


def _no_number(text: str, what: str) -> str:
    said = f"'{text}' is not {what}"
    if COMMA.fullmatch(text.strip()):
        return f"{said}: write {text.strip().replace(',', '.')}, with a point"
    return f"{said}: write it in figures, without a unit"


class _Figure(argparse.Action):
    """Keeps what was typed, and notes it to be asked back once all words are read."""

    def __init__(self, *, sort: Sort, in_f: str, **given: object) -> None:
        self.sort, self.in_f = sort, in_f
        super().__init__(**given)  # type: ignore[arg-type]  # argparse's own keywords

    def __call__(
        self,
        parser: argparse.ArgumentParser,  # noqa: ARG002 - argparse hands it on
        namespace: argparse.Namespace,
        values: str | Sequence[object] | None,
        option_string: str | None = None,
    ) -> None:
        """Store the number."""
        setattr(namespace, self.dest, values)
        noted = getattr(namespace, "figures", ())
        namespace.figures = (*noted, (values, self.sort, option_string, self.in_f))


def add_figure(  # noqa: PLR0913 - what argparse asks of an option
    parser: argparse._ActionsContainer,
    option: str,
    sort: Sort,
    *,
    of: str,
    in_f: str = "",
    metavar: str = "N",
    required: bool = False,
) -> None:
    """Add an option for a figure of a sort; `of` is its help, `in_f` its option in degF."""
    parser.add_argument(
        option,
        type=number,
        action=_Figure,
        sort=sort,
        in_f=in_f,
        metavar=metavar,
        required=required,
        help=of,
    )


def really_argument(parser: argparse.ArgumentParser) -> None:
    """Add what insists on figures that are asked back."""
    parser.add_argument("--really", action="store_true", help=REALLY)


def ask_back(args: argparse.Namespace) -> None:
    """Ask back every figure that was hardly meant, before anything is done with it."""
    for value, sort, option, in_f in getattr(args, "figures", ()):
        asked_back(value, sort, option=option, really=args.really, in_f=in_f)
