"""The frame of every command: its arguments, its help, and what an error looks like."""

from __future__ import annotations

import argparse
import re
import sys
import textwrap
from typing import TYPE_CHECKING, NoReturn

from curewatch.cli.show import WIDTH, print_json
from curewatch.errors import BadConfig, BadInput, CurewatchError, StorageError, TransportError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from curewatch.shop.plain import PlainValue

KINDS: dict[type[Exception], str] = {
    BadConfig: "configuration",
    BadInput: "input",
    StorageError: "storage",
    TransportError: "transport",
}


TIME_PART = re.compile(r"\d{1,2}:\d{2}|ago")


class UsageError(BadInput):
    """Words on the command line that the command does not take."""

    def __init__(self, usage: str, message: str) -> None:
        """Keep how it is used beside what is wrong."""
        self.usage = usage
        super().__init__(message)


class Paragraphs(argparse.HelpFormatter):
    """Help whose text is wrapped paragraph by paragraph; indented lines stay as they are."""

    def _fill_text(self, text: str, width: int, indent: str) -> str:
        parts = re.split(r"\n\s*\n", textwrap.dedent(text).strip("\n"))
        return "\n\n".join(
            textwrap.indent(part, indent)
            if any(line.startswith(" ") for line in part.splitlines())
            else textwrap.fill(
                " ".join(part.split()), width, initial_indent=indent, subsequent_indent=indent
            )
            for part in parts
        )


class Parser(argparse.ArgumentParser):
    """A parser that wraps its help, and raises instead of ending the program."""

    def __init__(self, **given: object) -> None:
        """Take what `argparse.ArgumentParser` takes; nothing is abbreviated."""
        given.setdefault("formatter_class", Paragraphs)
        super().__init__(**{**given, "allow_abbrev": False})  # type: ignore[arg-type]  # its own keywords

    def parse_args(  # type: ignore[override]  # one of its forms, the one that is used
        self, args: Sequence[str] | None = None, namespace: argparse.Namespace | None = None
    ) -> argparse.Namespace:
        """Read the words; what is left over is said with a hint."""
        found, left = self.parse_known_args(args, namespace)
        if left:
            form = getattr(found, "form", None)
            self.error(not_taken(f"{self.prog} {form}" if form else self.prog, left))
        return found

    def error(self, message: str) -> NoReturn:
        """Refuse the words that were given."""
        raise UsageError(self.format_usage(), message)


def not_taken(command: str, words: Sequence[str]) -> str:
    """Say what a command does not take, and how a time of two words is written."""
    told = " ".join(words)
    if not words[0].startswith("-") and any(TIME_PART.fullmatch(word) for word in words):
        return f"'{told}' stands alone: put the whole time in quotes, such as 'fri 9:00'"
    option = next((word.partition("=")[0] for word in words if word.startswith("--")), None)
    if option is None:
        return f"'{command}' does not take '{told}'; words that belong together go in quotes"
    return f"'{command}' takes no {option}; '{command} --help' shows what it takes"


def complain(error: CurewatchError, *, plain: bool) -> None:
    """Say what is wrong, wrapped like an answer, on the error stream.

    With `plain` the answer that was asked for is an object that holds the error.
    """
    if isinstance(error, UsageError):
        sys.stderr.write(error.usage)
    for line in f"curewatch: {error}".splitlines():
        hanging = "    " if line.startswith("  - ") else ""
        wrapped = textwrap.wrap(
            line, WIDTH, subsequent_indent=hanging, break_long_words=False, break_on_hyphens=False
        )
        print("\n".join(wrapped), file=sys.stderr)
    if plain:
        from curewatch.shop.plain import FORMAT  # noqa: PLC0415 - it brings numpy, set up later

        print_json({"format": FORMAT, "error": error_plain(error)})


def error_plain(error: CurewatchError) -> dict[str, PlainValue]:
    """Return an error as plain data."""
    kind = next((word for of, word in KINDS.items() if isinstance(error, of)), "other")
    told: dict[str, PlainValue] = {"kind": kind, "message": str(error)}
    if isinstance(error, BadConfig):
        told["faults"] = list(error.faults)
    return told
