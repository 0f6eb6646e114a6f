"""Laying a changed profile on the shop's shelf, and telling of it: for the forms that fit figures.

Profiles that come with curewatch are never changed: a new file of the shop's own extends them. The
shop's own file is changed in place; what it said before is kept as a revision.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from typing import TYPE_CHECKING

from curewatch.assembly import shelf
from curewatch.cli.show import say, table
from curewatch.clock import system_ms
from curewatch.errors import BadInput
from curewatch.finish_edit import begun, changed
from curewatch.finish_files import load_text, resolved_text
from curewatch.shop.sink import decides
from curewatch.storage import Store

if TYPE_CHECKING:
    import argparse
    from collections.abc import Sequence
    from pathlib import Path

    from curewatch.finish_edit import FigureChange
    from curewatch.finish_files import FigureRow
    from curewatch.settings import Settings
    from curewatch.shop.finish import Figure, Finish
    from curewatch.shop.plain import PlainValue


@dataclass(frozen=True, slots=True)
class Rewritten:
    """A profile with figures set anew.

    Attributes
    ----------
    name : str
        What it is called.
    finish : Finish
        As it reads then.
    path : Path or None
        Where it was written; None where it was only shown.
    revision : int or None
        Under which revision storage keeps it; None where nothing was written, or no storage is.
    """

    name: str
    finish: Finish
    path: Path | None
    revision: int | None

    @property
    def film_decides(self) -> bool:
        """Whether its film decides beside its clock."""
        return self.finish.film is not None and decides(self.finish.film)


def write_arguments(parser: argparse.ArgumentParser) -> None:
    """Add whether, and under which name, the figures are written."""
    parser.add_argument(
        "--write",
        nargs="?",
        const="",
        metavar="NEW-NAME",
        help="write the figures: into a new profile of this name that extends NAME, or, with no "
        "name, into NAME where it is the shop's own",
    )


def rewritten(
    args: argparse.Namespace, settings: Settings, changes: Sequence[FigureChange]
) -> Rewritten:
    """Return the profile with its changes; write it where --write asks for that.

    Raises
    ------
    BadInput
        It cannot be written under that name, or nowhere.
    BadConfig
        With the changes it has faults.
    """
    own, base = shelf(settings), args.name
    name = args.write or base
    if args.write is not None and not changes:
        raise BadInput("--write: there is no figure to write; see above why")
    if args.write == "" and base not in own:
        raise BadInput(
            f"{base} comes with curewatch and is not changed: give the shop's own profile a name, "
            f"such as --write shop-{base}"
        )
    if name == base and base in own:
        text = changed(base, own[base], changes, own) if changes else own[base]
    elif args.write is None:
        text = begun(_free(base, own), base, changes, own)
    else:
        text = begun(name, base, changes, own)
    finish = load_text(text, source=name, shelf=own)
    if args.write is None:
        return Rewritten(name, finish, None, None)
    if settings.finishes.directory is None:
        raise BadInput(
            "the configuration names no place for the shop's own profiles: set [finishes] "
            "directory, or leave --write out"
        )
    path = settings.finishes.directory / f"{name}.toml"
    revision = _keep(settings, name, text, own)
    _lay(path, text, new=name not in own)
    return Rewritten(name, finish, path, revision)


def _free(base: str, own: dict[str, str]) -> str:
    """Return a name for a profile that is only looked at."""
    return next(name for n in range(len(own) + 1) if (name := f"{base}-{n}") not in own)


def _keep(settings: Settings, name: str, text: str, own: dict[str, str]) -> int | None:
    """Keep what the file said before and what it says now, each as a revision."""
    if not settings.storage.path.exists():
        if name in own:
            raise BadInput(
                f"{name} was left alone: there is no database to keep what it says now; start "
                "'curewatch run' once, or write a new profile with --write NEW-NAME"
            )
        return None
    with Store.open(settings.storage.path) as store:
        at_ms = system_ms()
        if name in own:
            store.finishes.keep(name, resolved_text(own[name], source=name, shelf=own), at_ms)
        return store.finishes.keep(name, resolved_text(text, source=name, shelf=own), at_ms)


def _lay(path: Path, text: str, *, new: bool) -> None:
    """Write the file whole or not at all."""
    try:
        if new:
            with path.open("x", encoding="utf-8") as file:
                file.write(text)
            return
        aside = path.with_suffix(".toml.new")
        aside.write_text(text, encoding="utf-8")
        os.replace(aside, path)  # noqa: PTH105 - said as what it is: one step, or none
    except FileExistsError:
        raise BadInput(f"{path} is there already and was left alone: choose another name") from None
    except OSError as error:
        raise BadInput(
            f"{path} cannot be written: {error.strerror}; see that this user may write there"
        ) from error


def written_plain(changes: Sequence[FigureChange], done: Rewritten) -> dict[str, PlainValue]:
    """Return what changes, and where it went, as plain data."""
    return {
        "changes": [_change_plain(one) for one in changes],
        "film_decides": done.film_decides,
        "written": None if done.path is None else str(done.path),
        "revision": done.revision,
    }


def _change_plain(one: FigureChange) -> PlainValue:
    before = one.before
    return {
        "key": one.path,
        **_figure_plain(one.figure),
        "before": None if before is None else _figure_plain(before),
    }


def _figure_plain(one: Figure | FigureRow) -> dict[str, PlainValue]:
    return {
        "value": one.value,
        "low": one.low,
        "high": one.high,
        "standing": str(one.standing),
        "source": one.source,
    }


def say_changes(name: str, changes: Sequence[FigureChange], done: Rewritten) -> None:
    """Print what changes in the profile, and where it went."""
    say()
    if not changes:
        say(f"Nothing would change in {name}.")
        return
    table(
        ["figure", "now", "becomes"],
        [
            (one.path, "-" if one.before is None else _shown(one.before), _shown(one.figure))
            for one in changes
        ],
    )
    if done.path is None:
        say("Nothing was written. --write NEW-NAME writes them into a profile of the shop's own.")
        return
    kept = "" if done.revision is None else f", kept as revision {done.revision}"
    say(
        f"Written to {done.path}{kept}. Pieces already hung keep the revision they have; "
        f"'curewatch piece rejudge TAG' judges one by the new. See it: curewatch finish show "
        f"{done.name}"
    )


def _shown(one: Figure | FigureRow) -> str:
    ends = "" if one.low is None or one.high is None else f" ({one.low:g} to {one.high:g})"
    return f"{one.value:g}{ends}, {one.standing}"
