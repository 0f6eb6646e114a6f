"""A finish file with some figures set anew: a file of its own, or the shop's own file changed.

A file that is changed keeps its words, its order and its comments: only the tables of the figures
that are set anew go, and the new ones stand at its end, each with where it comes from.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from curewatch.errors import BadConfig, BadInput
from curewatch.finish_files import describe, load_text, shipped_names
from curewatch.finishes.keys import FIGURES
from curewatch.finishes.page import NAME, shown

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from curewatch.finish_files import FigureRow
    from curewatch.shop.finish import Figure, Finish

HEADING = re.compile(r"\s*\[+\s*([^\]]*?)\s*\]+\s*(#.*)?")


@dataclass(frozen=True, slots=True)
class FigureChange:
    """One figure of a profile set anew.

    Attributes
    ----------
    path : str
        Its place in the file, such as 'film.dry_um'.
    figure : Figure
        What it becomes.
    before : FigureRow or None
        What it is now; None where the profile has none.
    """

    path: str
    figure: Figure
    before: FigureRow | None


def change(finish: Finish, path: str, figure: Figure) -> FigureChange:
    """Return a figure set anew, beside what it is now."""
    now = {row.key: row for row in describe(finish)}
    return FigureChange(path, figure, now.get(path))


def begun(name: str, base: str, changes: Sequence[FigureChange], shelf: Mapping[str, str]) -> str:
    """Write a new file that takes everything but the changes from `base`.

    Raises
    ------
    BadInput
        `name` is taken or will not do.
    BadConfig
        With the changes the file has faults.
    """
    if not NAME.fullmatch(name) or name in shelf or name in shipped_names():
        raise BadInput(
            f"a new finish cannot be called {shown(name)}: use a free name of small letters, "
            "digits and hyphens, such as 'maple-top-clear'"
        )
    lines = [
        f"# A finish of this shop's own: {base} with what was found here in its place.",
        "",
        f"name = {_quoted(name)}",
        f"title = {_quoted(f'{name}, after {base}')}",
        f"extends = {_quoted(base)}",
    ]
    return _checked(name, "\n".join([*lines, *_tables(changes)]) + "\n", changes, shelf)


def changed(name: str, text: str, changes: Sequence[FigureChange], shelf: Mapping[str, str]) -> str:
    """Return a file's text with the figures set anew.

    Raises
    ------
    BadInput
        It writes a figure in a way that cannot be changed by program.
    BadConfig
        With the changes the file has faults.
    """
    body = "\n".join(_without(text, {one.path for one in changes})).rstrip("\n")
    try:
        return _checked(name, "\n".join([body, *_tables(changes)]) + "\n", changes, shelf)
    except BadConfig as error:
        listed = "\n".join(_tables(changes))
        raise BadInput(
            f"{name}'s file could not be changed by program ({'; '.join(error.faults)}). Nothing "
            f"was written. Put these lines into it in place of the old ones:\n{listed}"
        ) from error


def _without(text: str, paths: set[str]) -> list[str]:
    """Return the lines of a file without the tables at these paths."""
    kept: list[str] = []
    after: list[str] = []  # comments that may belong to what follows a table that goes
    dropping = False
    for line in text.splitlines():
        heading = HEADING.fullmatch(line)
        if heading:
            path = heading[1].replace('"', "").replace(" ", "")
            kept, after = kept + after, []
            dropping = path in paths
            if dropping and kept and kept[-1] == _meaning(path):
                kept.pop()
        if not dropping:
            kept.append(line)
        elif line.lstrip().startswith("#") or not line.strip():
            after.append(line)
        else:
            after.clear()
    return kept + after


def _meaning(path: str) -> str:
    """Return the comment that stands above a figure's table."""
    unit = f" [{FIGURES[path].unit}]" if FIGURES[path].unit else ""
    return f"# {FIGURES[path].meaning}{unit}"


def _checked(
    name: str, text: str, changes: Sequence[FigureChange], shelf: Mapping[str, str]
) -> str:
    """Return the text if it reads back with just these figures."""
    rows = {row.key: row for row in describe(load_text(text, source=name, shelf=shelf))}
    wrong = [one.path for one in changes if rows[one.path].value != one.figure.value]
    if wrong:
        raise BadConfig(name, [f"{path}: did not take its new value" for path in wrong])
    return text


def _tables(changes: Sequence[FigureChange]) -> list[str]:
    lines = []
    for one in changes:
        figure = one.figure
        lines += ["", _meaning(one.path), f"[{one.path}]", f"value = {figure.value!r}"]
        if figure.low is not None and figure.high is not None:
            lines += [f"low = {figure.low!r}", f"high = {figure.high!r}"]
        lines += [
            f"standing = {_quoted(figure.standing)}",
            f"source = {_quoted(figure.source)}",
        ]
    return lines


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
