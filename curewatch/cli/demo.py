"""Play an invented fortnight through a real broker and the real daemon, and tell what was said.

Needs nothing but the extra 'demo'. Everything in it is made up and marked so; it takes well under
a minute on a desk machine. Exit status 0 when it ended with its summary.
"""

from __future__ import annotations

import contextlib
import io
import logging
import os
import signal
import sys
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from curewatch.cli.figures import whole
from curewatch.cli.show import print_json
from curewatch.daemon import watch_shop
from curewatch.demo.climate import STEP_MIN
from curewatch.demo.page import page
from curewatch.demo.play import play
from curewatch.demo.scenario import DAY_MS, DAYS, MINUTE_MS, SPRAY_ROOM, START_MS, ZONE, Scenario
from curewatch.demo.summary import summarise
from curewatch.errors import BadInput
from curewatch.settings import load_settings
from curewatch.settings.tables import PageTable
from curewatch.shop.words import Words

if TYPE_CHECKING:
    import argparse
    from collections.abc import Callable, Iterator, Sequence

    from curewatch.demo.play import Played
    from curewatch.demo.summary import Summary

OWN_SETTINGS = "CUREWATCH_"
MORNING = (
    ("bench-list",),
    (
        *("plan", "--finish", "waterborne", "--coats", "3", "--room", SPRAY_ROOM),
        *("--day", "8:00-18:00"),
    ),
)
"""What a person asks on the morning after."""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add where to keep what it leaves behind."""
    parser.add_argument(
        "--keep", type=Path, metavar="DIR", help="keep database, configuration and logs here"
    )
    parser.add_argument(
        "--page",
        nargs="?",
        type=whole,
        const=PageTable().port,
        metavar="PORT",
        help="then show the shop on the page of this machine, until Ctrl-C",
    )


def run(args: argparse.Namespace) -> int:
    """Play the fortnight and print its summary."""
    if args.config is not None:
        raise BadInput("the demo runs a shop of its own: leave --config out")
    for name in [name for name in os.environ if name.startswith(OWN_SETTINGS)]:
        del os.environ[name]  # settings of the user's own shop are not the demo's
    signal.signal(signal.SIGTERM, signal.default_int_handler)  # so that the daemon ends as well
    with _folder(args.keep) as folder:
        config = folder / "shop.toml"
        with _progress() as reached:
            stage = _Stage(config, reached)
            played = play(Scenario(), folder, stage)
        morning = [stage.type(words) for words in MORNING]
        summary = summarise(config)
        _tell(args, played, summary, morning)
        if args.page is not None:
            _show(config, args.page)
    return 0


def _tell(
    args: argparse.Namespace, played: Played, summary: Summary, morning: list[tuple[int, str]]
) -> None:
    """Print what the fortnight came to."""
    kept = None if args.keep is None else str(args.keep)
    if args.json:
        print_json(
            {
                **summary.plain(),
                "messages": played.messages,
                "seconds": played.seconds,
                "commands": [
                    {"words": [*answer.words], "status": answer.status} for answer in played.answers
                ],
                "morning": [
                    {"words": [*words], "status": status, "said": said}
                    for words, (status, said) in zip(MORNING, morning, strict=True)
                ],
                "kept": kept,
            }
        )
    else:
        print("\n".join(page(summary, played, kept, morning=[said for _, said in morning])))


def _show(config: Path, port: int) -> None:
    """Serve the page of the shop that was played, open to who sits at this machine."""
    shown = load_settings(config)
    page_table = PageTable(serve=True, open_reading=True, port=port)
    address = f"http://{page_table.host}:{port}/"
    print(f"\nThe shop's page: {address} (Ctrl-C ends it)", flush=True)
    logging.basicConfig(level=logging.ERROR, format="%(message)s")
    watch_shop(shown.model_copy(update={"page": page_table}))


class _Stage:
    """Types commands into this very program, and shows how far the daemon has come."""

    def __init__(self, config: Path, reached: Callable[[int], None]) -> None:
        self._config = config
        self._reached = reached

    def type(self, words: Sequence[str]) -> tuple[int, str]:
        """Run one command; return its exit status and what it said."""
        from curewatch.cli.main import main  # noqa: PLC0415 - it is what called us

        said = io.StringIO()
        with contextlib.redirect_stdout(said), contextlib.redirect_stderr(said):
            try:
                status = main(["--config", str(self._config), *words])
            except SystemExit as ending:
                status = ending.code if isinstance(ending.code, int) else 2
        return status, said.getvalue()

    def reached(self, at_ms: int) -> None:
        """Show how far the daemon has come."""
        self._reached(at_ms)


@contextlib.contextmanager
def _folder(keep: Path | None) -> Iterator[Path]:
    """Yield an empty folder: the one to keep, or one that goes away again."""
    if keep is None:
        with tempfile.TemporaryDirectory(prefix="curewatch-demo-") as name:
            yield Path(name)
        return
    if keep.exists() and (not keep.is_dir() or any(keep.iterdir())):
        raise BadInput(f"{keep} is not an empty directory: name a new one with --keep DIR")
    try:
        keep.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise BadInput(f"{keep} cannot be made: {error.strerror}; name another") from None
    yield keep


@contextlib.contextmanager
def _progress() -> Iterator[Callable[[int], None]]:
    """Yield what shows the daemon's progress on standard error."""
    if sys.stderr.isatty():
        with _bar() as reached:
            yield reached
        return
    words, told = Words(zone=ZONE), -1

    def reached_line(at_ms: int) -> None:
        nonlocal told
        day = (at_ms + STEP_MIN * MINUTE_MS - START_MS) // DAY_MS
        if day > told:
            told = day
            today = words.local(START_MS + min(day, DAYS - 1) * DAY_MS)
            text = f"day {day + 1} of {DAYS}, {today:%a} {today.day} {today:%b}"
            print(text if day < DAYS else "the fortnight is over", file=sys.stderr, flush=True)

    yield reached_line


@contextlib.contextmanager
def _bar() -> Iterator[Callable[[int], None]]:
    from rich.console import Console  # noqa: PLC0415 - only where there is a terminal
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn  # noqa: PLC0415

    words = Words(zone=ZONE)
    columns = (TextColumn("{task.description}"), BarColumn(), TimeElapsedColumn())
    console = Console(file=sys.stderr)  # this very stream, whatever commands are caught meanwhile
    with Progress(
        *columns, console=console, transient=True, redirect_stdout=False, redirect_stderr=False
    ) as progress:
        task = progress.add_task("starting broker and daemon", total=DAYS * DAY_MS)

        def reached(at_ms: int) -> None:
            then = words.local(at_ms)
            said = f"{then:%a} {then.day} {then:%b} {then.hour:2d}:{then.minute:02d}"
            progress.update(task, completed=at_ms - START_MS, description=said)

        yield reached
