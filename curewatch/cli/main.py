"""The command line: which commands there are, and what their errors look like.

Exit status: 0 done; 2 something about the input or the configuration is wrong; 1 the database or
the broker could not be used. `check` adds 10 (tight), 20 (wait) and 30 (cannot tell); `piece`,
`work` and others say theirs in their own help. What is wrong is said on the error stream; with
--json the answer is then an object with the key `error`.
"""

from __future__ import annotations

import importlib
import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Protocol, cast

from curewatch import __version__
from curewatch.cli.figures import ask_back
from curewatch.cli.frame import Parser, UsageError, complain
from curewatch.errors import BadConfig, BadInput, CurewatchError

if TYPE_CHECKING:
    import argparse
    from collections.abc import Callable, Sequence

COMMANDS = {
    "run": "watch the shop (the daemon)",
    "demo": "a fortnight in an invented shop, in about a minute",
    "replay": "what would have been said over a logger's file",
    "status": "the shop as it stands: rooms, pieces, alerts",
    "check": "is the air fit to spray a finish",
    "plan": "a day at the gun: when each coat may be laid",
    "finish-by": "the last coat at the latest, for a date",
    "air": "what follows from a temperature and a humidity",
    "what-if": "what another climate, a heater or a fan would change",
    "lost": "what a cold night cost, and whom it may have harmed",
    "test-boards": "finishes compared on boards of equal age",
    "bench-list": "what can go to the bench, and in which order",
    "piece": "hang, show, list, finish or take down a piece",
    "pot": "mixed pots: enter, list, show, used up",
    "stock": "cans and lots: where they stand, whether they froze",
    "coat": "log a coat, or void one",
    "work": "log scuffing, sanding, levelling, buffing",
    "move": "say that a piece hangs in another room",
    "quarantine": "hold a lot, a pot or a piece; release it",
    "follow-up": "finished pieces to be looked at again",
    "outcome": "log what you found on testing or looking again",
    "room": "rooms, their record, readings typed by hand, gaps filled",
    "sensor": "sensors: last heard, refused messages, voiding readings",
    "finish": "finish profiles: list, show, start a new one",
    "alert": "alerts: list, seen, rest",
    "page": "the page at the bench: passphrase, sign-out, address",
    "record": "a piece's record for the customer, told coat by coat",
    "label": "QR labels for hangers, words for rack hooks",
    "export": "everything that is kept, as JSON or CSV",
    "mirror": "send stored readings to the mirror again",
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
    return _guarded(lambda: _run(words), plain="--json" in words)


def _run(words: list[str]) -> int:
    """Find the command and let it do what `words` say."""
    top = _top_parser()
    at = _command_at(words)
    args, unknown = top.parse_known_args(words[: at + 1])
    if unknown or args.command is None:
        what = f"{unknown[0]} is not known" if unknown else "which command?"
        raise UsageError(top.format_help() + "\n", f"{what}; name one of the commands above")
    module = args.command.replace("-", "_")
    command = cast("Command", importlib.import_module(f"curewatch.cli.{module}"))
    parser = Parser(prog=f"curewatch {args.command}", description=command.__doc__)
    _common(parser, inherited=args)
    command.arguments(parser)
    given = parser.parse_args(words[at + 1 :])
    if "figures" in given:
        ask_back(given)
    return command.run(given)


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


def _top_parser() -> Parser:
    listed = "\n".join(f"  {name:<11} {what}" for name, what in COMMANDS.items())
    parser = Parser(
        prog="curewatch",
        description="Says when each sprayed piece is ready to recoat, sand or buff, and whether "
        "the air is fit to spray. It advises; the label, the data sheet and the local code decide.",
        epilog=f"commands:\n{listed}\n\n'curewatch COMMAND --help' tells more.",
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


def _guarded(do: Callable[[], int], *, plain: bool) -> int:
    """Do it; turn what goes wrong into words and an exit status."""
    try:
        return do()
    except (BadInput, BadConfig) as error:
        complain(error, plain=plain)
        return 2
    except CurewatchError as error:
        complain(error, plain=plain)
        return 1
    except KeyboardInterrupt:
        return INTERRUPTED
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
