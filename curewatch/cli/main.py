"""The command line: which commands there are, and what their errors look like.

Exit status: 0 done; 2 something about the input or the configuration is wrong; 1 the database or
the broker could not be used. `check` adds 10 (tight), 20 (wait) and 30 (cannot tell); `piece`,
`work` and others say theirs in their own help.
"""

from __future__ import annotations

import argparse
import importlib
import os
import sys
import textwrap
from pathlib import Path
from typing import TYPE_CHECKING, Protocol, cast

from curewatch import __version__
from curewatch.cli.show import WIDTH
from curewatch.errors import BadConfig, BadInput, CurewatchError

if TYPE_CHECKING:
    from collections.abc import Sequence

COMMANDS = {
    "run": "watch the shop (the daemon)",
    "demo": "a fortnight in an invented shop, in about a minute",
    "replay": "what would have been said over a logger's file",
    "status": "the shop as it stands: rooms, pieces, alerts",
    "check": "is the air fit to spray a finish",
    "plan": "a day at the gun: when each coat may be laid",
    "air": "what follows from a temperature and a humidity",
    "what-if": "what another climate, a heater or a fan would change",
    "piece": "hang, show, list, finish or take down a piece",
    "pot": "mixed pots: enter, list, show, used up",
    "coat": "log a coat, or void one",
    "work": "log scuffing, sanding, levelling, buffing",
    "move": "say that a piece hangs in another room",
    "outcome": "log what you found on testing or looking again",
    "room": "rooms, their record, readings typed by hand, gaps filled",
    "sensor": "sensors: last heard, refused messages, voiding readings",
    "finish": "finish profiles: list, show, start a new one",
    "alert": "alerts: list, seen, rest",
    "export": "everything that is kept, as JSON or CSV",
    "backup": "copy the database while it is in use",
    "restore": "put a backup in the database's place",
    "doctor": "look over configuration, storage, broker, clock",
}
INTERRUPTED = 130


class Command(Protocol):
    """What a command's module offers."""

    def arguments(self, parser: argparse.ArgumentParser) -> None:
        """Add the command's own arguments."""

    def run(self, args: argparse.Namespace) -> int:
        """Do it; return the exit status."""


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; return its exit status."""
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy: threads would idle
    words = list(sys.argv[1:] if argv is None else argv)
    top = _top_parser()
    first, rest = top.parse_known_args(words[: _command_at(words) + 1]), []
    rest = words[_command_at(words) + 1 :]
    args, unknown = first
    if unknown or args.command is None:
        top.print_help(sys.stderr)
        return 2
    module = args.command.replace("-", "_")
    command = cast("Command", importlib.import_module(f"curewatch.cli.{module}"))
    parser = argparse.ArgumentParser(
        prog=f"curewatch {args.command}", description=command.__doc__, allow_abbrev=False
    )
    _common(parser, inherited=args)
    command.arguments(parser)
    return _guarded(command, parser.parse_args(rest))


def _command_at(words: list[str]) -> int:
    """Return where the command's name stands: the first word that is no option or its value."""
    index = 0
    while index < len(words):
        if words[index] == "--config":
            index += 2
        elif words[index].startswith("-"):
            index += 1
        else:
            return index
    return len(words)


def _top_parser() -> argparse.ArgumentParser:
    listed = "\n".join(f"  {name:<9} {what}" for name, what in COMMANDS.items())
    parser = argparse.ArgumentParser(
        prog="curewatch",
        description="Says when each sprayed piece is ready to recoat, sand or buff, and whether "
        "the air is fit to spray. It advises; the label, the data sheet and the local code decide.",
        epilog=f"commands:\n{listed}\n\n'curewatch COMMAND --help' tells more.",
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("--version", action="version", version=f"curewatch {__version__}")
    _common(parser, inherited=None)
    parser.add_argument("command", nargs="?", choices=list(COMMANDS), metavar="COMMAND")
    return parser


def _common(parser: argparse.ArgumentParser, *, inherited: argparse.Namespace | None) -> None:
    """Add what every command takes, before or behind its name."""
    config = None if inherited is None else inherited.config
    plain = False if inherited is None else inherited.json
    parser.add_argument("--config", type=Path, default=config, metavar="FILE", help="configuration")
    parser.add_argument("--json", action="store_true", default=plain, help="answer as JSON")


def _guarded(command: Command, args: argparse.Namespace) -> int:
    try:
        return command.run(args)
    except (BadInput, BadConfig) as error:
        _complain(error)
        return 2
    except CurewatchError as error:
        _complain(error)
        return 1
    except KeyboardInterrupt:
        return INTERRUPTED
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0


def _complain(error: CurewatchError) -> None:
    """Say what is wrong, wrapped like an answer, on the error stream."""
    for line in f"curewatch: {error}".splitlines():
        hanging = "    " if line.startswith("  - ") else ""
        wrapped = textwrap.wrap(
            line, WIDTH, subsequent_indent=hanging, break_long_words=False, break_on_hyphens=False
        )
        print("\n".join(wrapped), file=sys.stderr)
