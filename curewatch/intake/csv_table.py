"""A logger's file as a table: its text, its delimiter, its heading and the columns asked for."""

from __future__ import annotations

import csv
import difflib
import io
import itertools
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, TextIO, TypeAlias

from curewatch.errors import BadInput

if TYPE_CHECKING:
    from collections.abc import Mapping

Column: TypeAlias = str | int  # a heading, or a number from 1

_DELIMITERS = (";", "\t", ",", "|")  # at a tie the earlier: a decimal comma looks like a delimiter
_LOOKED_AT = 60  # lines in which heading and delimiter must show themselves
_LARGEST_BYTES = 256 * 1024 * 1024  # a year of two-second readings is half of that


@dataclass(frozen=True, slots=True)
class Table:
    """The rows below the heading, and where in a row each wanted column stands.

    Attributes
    ----------
        name: what the file is called in messages.
        delimiter: the character between cells.
        rows: line number in the file and cells of each row that is not blank.
        places: index of each wanted column, by the key it was asked under.
        headed: whether the columns were found by a heading.
    """

    name: str
    delimiter: str
    rows: list[tuple[int, list[str]]]
    places: dict[str, int]
    headed: bool


def read_table(source: str | Path | TextIO, wanted: Mapping[str, Column]) -> Table:
    """Return the table in `source` with the `wanted` columns found.

    Raises
    ------
    BadInput
        When it cannot be read as text in columns, or a column is not there.
    """
    name, text = _text(source)
    if not text.strip():
        raise BadInput(f"{name} is empty; nothing can be read from it")
    sample = list(itertools.islice(io.StringIO(text, newline=""), _LOOKED_AT))
    ranked = sorted(_DELIMITERS, key=lambda mark: -_regularity(sample, mark))
    fault = None
    for delimiter in ranked:
        try:
            heading_at, places = _find(_cells(name, sample, delimiter), wanted, name)
        except BadInput as error:
            fault = fault or error  # that of the likeliest delimiter
            continue
        rows = _cells(name, io.StringIO(text, newline=""), delimiter)
        below = [row for row in rows if row[0] > heading_at]
        return Table(name, delimiter, below, places, headed=heading_at > 0)
    raise fault or BadInput(f"{name} cannot be read")


def _text(source: str | Path | TextIO) -> tuple[str, str]:
    if not isinstance(source, str | Path):
        return str(getattr(source, "name", "the log")), source.read().removeprefix("\ufeff")
    path = Path(source)
    try:
        if path.stat().st_size > _LARGEST_BYTES:
            raise BadInput(f"{path} is larger than 256 MiB; split it by months")
        data = path.read_bytes()
    except OSError as error:
        why = (error.strerror or str(error)).lower()
        raise BadInput(f"{path} cannot be read: {why}; check the path") from error
    return str(path), _decoded(path, data)


def _decoded(path: Path, data: bytes) -> str:
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        encoding = "utf-16"
    elif b"\0" in data[:4096]:
        raise BadInput(f"{path} is not a text file; export the log as CSV")
    else:
        encoding = "utf-8-sig"
    try:
        return data.decode(encoding)
    except UnicodeDecodeError:
        return data.decode("latin-1")  # older loggers; only headings hold more than ASCII


def _cells(name: str, lines: list[str] | TextIO, delimiter: str) -> list[tuple[int, list[str]]]:
    reader = csv.reader(lines, delimiter=delimiter, skipinitialspace=True)
    try:
        return [(reader.line_num, row) for row in reader if any(map(str.strip, row))]
    except csv.Error as error:
        raise BadInput(f"{name}, line {reader.line_num}: {error}; is it a CSV file?") from error


def _regularity(sample: list[str], delimiter: str) -> int:
    """Return how many lines of `sample` are cut into the same number of cells, at least two."""
    try:
        widths = Counter(len(row) for row in csv.reader(sample, delimiter=delimiter))
    except csv.Error:
        return 0
    return max((count for width, count in widths.items() if width > 1), default=0)


def _find(
    rows: list[tuple[int, list[str]]], wanted: Mapping[str, Column], name: str
) -> tuple[int, dict[str, int]]:
    """Return the heading's line number, 0 for none, and the index of each wanted column."""
    named = [column for column in wanted.values() if not _is_number(column)]
    best: list[str] = []
    for line, cells in rows:
        heads = [_plain(cell) for cell in cells]
        present = sum(_plain(str(column)) in heads for column in wanted.values())
        if present and present == len(set(map(str, wanted.values()))):  # also '3' as a heading
            return line, {key: _index(cells, heads, col, name) for key, col in wanted.items()}
        if named and all(_plain(str(column)) in heads for column in named):
            return line, {key: _index(cells, heads, col, name) for key, col in wanted.items()}
        if len(cells) > len(best):
            best = cells
    if not named:
        return 0, {key: _numbered(int(column), best, name) for key, column in wanted.items()}
    raise _not_found(named, best, name)


def _index(cells: list[str], heads: list[str], column: Column, name: str) -> int:
    plain = _plain(str(column))
    if plain not in heads:
        return _numbered(int(column), cells, name)
    if heads.count(plain) > 1:
        at = heads.index(plain) + 1
        raise BadInput(
            f"{name}: several columns are called '{column}'; give its number, such as {at}"
        )
    return heads.index(plain)


def _numbered(number: int, cells: list[str], name: str) -> int:
    if not 1 <= number <= len(cells):
        raise BadInput(
            f"{name}: there is no column {number}; the columns are numbered 1 to {len(cells)}"
        )
    return number - 1


def _not_found(named: list[Column], cells: list[str], name: str) -> BadInput:
    heads = {_plain(cell): cell.strip() for cell in cells}
    column = next((c for c in named if _plain(str(c)) not in heads), named[0])
    near = difflib.get_close_matches(_plain(str(column)), heads, n=2, cutoff=0.5)
    hint = f"did you mean {' or '.join(repr(heads[head]) for head in near)}? " if near else ""
    listed = ", ".join(f"{number} '{cell.strip()}'" for number, cell in enumerate(cells, 1))
    return BadInput(f"{name}: there is no column '{column}'; {hint}The columns are: {listed[:400]}")


def _is_number(column: Column) -> bool:
    return isinstance(column, int) or (column.isascii() and column.isdigit())


def _plain(heading: str) -> str:
    return " ".join(heading.casefold().split())
