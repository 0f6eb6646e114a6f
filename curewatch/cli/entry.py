"""What the commands that enter something share: their forms, times, tags, rooms and voids."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from curewatch.cli.show import print_json, say
from curewatch.entries import voids
from curewatch.entries.times import (
    all_or_none as all_or_none,  # noqa: PLC0414 - handed on to the commands
)
from curewatch.entries.times import past_ms as past_ms  # noqa: PLC0414 - as above
from curewatch.entries.times import stored_already as stored_already  # noqa: PLC0414 - as above
from curewatch.errors import BadInput
from curewatch.named import known_room as known_room  # noqa: PLC0414 - handed on to the commands
from curewatch.named import pieces_named as pieces_named  # noqa: PLC0414 - as above
from curewatch.shop.plain import FORMAT, instant
from curewatch.shop.safety import SAFETY as SAFETY  # noqa: PLC0414 - handed on to the commands
from curewatch.times import PAST_FORMS

if TYPE_CHECKING:
    from collections.abc import Callable

    from curewatch.cli.bench import Bench
    from curewatch.shop.plain import PlainValue

    Do = Callable[[argparse.Namespace], int]

TIME_FORMS = f"{PAST_FORMS} (default: now)"


class Forms:
    """The forms of a command with words of its own behind its name, such as `piece hang`."""

    def __init__(self, parser: argparse.ArgumentParser) -> None:
        """Add forms to `parser`."""
        self._forms = parser.add_subparsers(dest="form", required=True, metavar="WHAT")

    def add(self, name: str, do: Do, what: str) -> argparse.ArgumentParser:
        """Add a form that `do` carries out; `what` is its help."""
        parser = self._forms.add_parser(name, help=what, description=what, allow_abbrev=False)
        left_alone = argparse.SUPPRESS  # what stood before the form's name is kept
        parser.add_argument(
            "--config", type=Path, default=left_alone, metavar="FILE", help="configuration"
        )
        parser.add_argument(
            "--json", action="store_true", default=left_alone, help="answer as JSON"
        )
        parser.set_defaults(do=do)
        return parser


def at_argument(parser: argparse.ArgumentParser) -> None:
    """Add when it was so."""
    parser.add_argument("--at", metavar="TIME", help=f"when: {TIME_FORMS}")


def refuse_options(args: argparse.Namespace, form: str, *options: str) -> None:
    """Refuse options that the form does not take, so that nothing said is passed over."""
    for option in options:
        if getattr(args, option) is not None:
            shown = f"--{option.replace('_', '-')}"
            raise BadInput(f"'{form}' does not take {shown}; leave it out. Nothing was stored")


def void(
    bench: Bench,
    args: argparse.Namespace,
    what: voids.What,
    number: str,
) -> int:
    """Void an entry by its number, with the reason, and say what it was."""
    shown = number.removeprefix("#")
    if not shown.isdecimal():
        raise BadInput(
            f"'{number}' is not the number of an entry: 'curewatch piece history TAG' and "
            "'curewatch room gaps ROOM' show the numbers"
        )
    entry, why = int(shown), args.why or ""
    gone = voids.void(bench, what, entry, why)
    again = voids.reopened(bench, gone)
    if args.json:
        told: dict[str, PlainValue] = {
            "what": what,
            "id": entry,
            "room" if what == "fill" else "piece": gone.of,
            "at": instant(gone.at_ms),
            "why": why,
            **({"coating_reopened": again is not None} if what == "coat" else {}),
        }
        print_json({"format": FORMAT, "voided": told})
        return 0
    when = bench.words.at(gone.at_ms, bench.now_ms)
    say(f"{what.capitalize()} {entry} of {gone.of} ({when}) no longer counts: {why}")
    say("It stays in the record with the reason.")
    if again is not None:
        say(
            f"{again.sentence} If no more is to come: curewatch piece plan {again.tag} {again.laid}"
        )
    return 0
