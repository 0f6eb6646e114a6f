"""What the commands that enter something share: their forms, times, tags, rooms and voids."""

from __future__ import annotations

import argparse
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from curewatch.cli.show import print_json, say
from curewatch.errors import BadInput, CurewatchError, StorageError
from curewatch.named import known_room as known_room  # noqa: PLC0414 - handed on to the commands
from curewatch.named import pieces_named as pieces_named  # noqa: PLC0414 - as above
from curewatch.shop.plain import FORMAT, instant
from curewatch.shop.safety import SAFETY as SAFETY  # noqa: PLC0414 - handed on to the commands
from curewatch.storage.export import export_rows
from curewatch.times import instant_ms

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from curewatch.cli.bench import Bench
    from curewatch.shop.plain import PlainValue

    Do = Callable[[argparse.Namespace], int]

RESERVED_TAGS = ("void", "list")  # words of the commands that take tags
SLACK_MS = 5 * 60_000  # a wall clock at the bench may be off by so much
EARLIEST_MS = 946_684_800_000  # 2000-01-01: nobody means an earlier year
TIME_FORMS = "16:40, 'yesterday 9:05', '2h ago' or ISO 8601 (default: now)"
NOUNS = {"coat": "coats", "work": "work", "move": "moves", "outcome": "outcomes", "fill": "fills"}


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


def past_ms(bench: Bench, text: str | None, *, option: str = "--at") -> int:
    """Return the instant [ms] of something that has happened; now where nothing is said.

    Raises
    ------
    BadInput
        When it is no time, or lies ahead, or in another century.
    """
    if text is None:
        return bench.now_ms
    at_ms = instant_ms(text, zone=bench.words.zone, now_ms=bench.now_ms)
    if at_ms > max(bench.now_ms, bench.entered_ms) + SLACK_MS:
        raise BadInput(
            f"{option} {text}: {bench.words.at(at_ms, bench.now_ms)} lies ahead; write when it "
            "happened, such as 'yesterday 16:40'"
        )
    if at_ms < EARLIEST_MS:
        raise BadInput(f"{option} {text}: nobody sprayed then with this program; check the year")
    return at_ms


@contextmanager
def all_or_none(bench: Bench, tags: Sequence[str]) -> Iterator[None]:
    """Write for all pieces in one transaction, or for none and say so."""
    try:
        with bench.store.db.transaction():
            yield
    except BadInput as error:
        if len(tags) < 2:  # noqa: PLR2004 - for one piece the error says enough
            raise
        raise BadInput(f"{error}. Nothing was stored for {', '.join(tags)}") from error


@contextmanager
def stored_already(what: str) -> Iterator[None]:
    """Say of an error in answering that what was entered is safe."""
    try:
        yield
    except CurewatchError as error:
        raise StorageError(
            f"{what} is stored; only the answer failed (do not enter it again): {error}"
        ) from error


def refuse_options(args: argparse.Namespace, form: str, *options: str) -> None:
    """Refuse options that the form does not take, so that nothing said is passed over."""
    for option in options:
        if getattr(args, option) is not None:
            shown = f"--{option.replace('_', '-')}"
            raise BadInput(f"'{form}' does not take {shown}; leave it out. Nothing was stored")


def void(
    bench: Bench,
    args: argparse.Namespace,
    what: Literal["coat", "work", "move", "outcome", "fill"],
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
    found = [row for row in export_rows(bench.store, NOUNS[what]) if row["id"] == entry]
    leaves = what == "move" and bool(found) and found[0]["room"] is None
    if what == "fill":
        bench.store.fills.void(entry, why, bench.entered_ms)
    else:
        bench.store.pieces.void("leave" if leaves else what, entry, why, bench.entered_ms)
    (row,) = found
    of = str(row["room"] if what == "fill" else row["tag"])
    at_ms = int(row["start_ms" if what == "fill" else "at_ms"] or 0)
    if args.json:
        told: dict[str, PlainValue] = {
            "what": what,
            "id": entry,
            "room" if what == "fill" else "piece": of,
            "at": instant(at_ms),
            "why": why,
        }
        print_json({"format": FORMAT, "voided": told})
        return 0
    when = bench.words.at(at_ms, bench.now_ms)
    say(f"{what.capitalize()} {entry} of {of} ({when}) no longer counts: {why}")
    say("It stays in the record with the reason.")
    return 0
