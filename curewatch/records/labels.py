"""Labels for hangers, cases and rack hooks: a QR mark and its words on sheets of common grids.

A sheet is SVG in millimetres. Grids are called by their geometry; measure your own sheet, for
makers differ by a millimetre (sizes: common practice, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING
from urllib.parse import quote
from xml.sax.saxutils import escape

import segno

from curewatch.errors import BadInput

if TYPE_CHECKING:
    from collections.abc import Sequence

QUIET = 4
"""Clear modules round a QR mark (ISO/IEC 18004 asks for four, from memory)."""
LEAST_MODULE_MM = 0.4
"""Finer than this a telephone at arm's length does not read it (our own figure, no source)."""
MARGIN_MM = 2.5
MOST_LABELS = 600
MOST_LETTERS = 60
ADVICE = (
    "Solvent lifts ink and glue: stick the label on the hanger or the case, never on the film.",
    "Cover it with clear film, and write the tag in pencil on a slip in a pocket or cavity too.",
)


@dataclass(frozen=True, slots=True)
class Grid:
    """A sheet of labels [mm].

    Attributes
    ----------
    name: by its geometry.
    page: width and height; size: of one label.
    first: left and top edge of the first label; step: from one label to the next.
    across, down: how many.
    """

    name: str
    page: tuple[float, float]
    size: tuple[float, float]
    first: tuple[float, float]
    step: tuple[float, float]
    across: int
    down: int

    @property
    def count(self) -> int:
        """How many labels a sheet has."""
        return self.across * self.down

    @property
    def words(self) -> str:
        """Its name and size, for people."""
        return f"{self.name}: {self.size[0]:g} x {self.size[1]:g} mm, {self.count} a sheet"

    def corner(self, place: int) -> tuple[float, float]:
        """Return the upper left corner of a place on the sheet [mm], counted along the rows."""
        row, column = divmod(place, self.across)
        return self.first[0] + column * self.step[0], self.first[1] + row * self.step[1]


A4, LETTER = (210.0, 297.0), (215.9, 279.4)
GRIDS = {
    grid.name: grid
    for grid in (
        Grid("a4-3x7", A4, (63.5, 38.1), (7.25, 15.15), (66.0, 38.1), 3, 7),
        Grid("a4-3x8", A4, (70.0, 37.0), (0.0, 0.5), (70.0, 37.0), 3, 8),
        Grid("a4-2x7", A4, (99.1, 38.1), (4.65, 15.15), (101.6, 38.1), 2, 7),
        Grid("letter-3x10", LETTER, (66.7, 25.4), (4.75, 12.7), (69.85, 25.4), 3, 10),
    )
}


@dataclass(frozen=True, slots=True)
class Label:
    """One label: a heading, a line under it, and the address its mark leads to ('': no mark)."""

    heading: str
    line: str = ""
    address: str = ""


def grid_named(name: str) -> Grid:
    """Return a grid by its name.

    Raises
    ------
    BadInput
        When there is none.
    """
    if name not in GRIDS:
        raise BadInput(f"--grid {name}: there are {', '.join(GRIDS)}")
    return GRIDS[name]


def piece_label(tag: str, title: str, base: str) -> Label:
    """Return a piece's label; `base` is the page's address, such as http://bench.local:8480/."""
    return Label(tag, title, f"{base.rstrip('/')}/piece/{quote(tag)}")


def hook_label(words: str, base: str) -> Label:
    """Return a rack hook's label; its mark opens the pieces on the hooks."""
    return Label(words, "", f"{base.rstrip('/')}/hooks")


def sheets(labels: Sequence[Label], grid: Grid, *, skip: int = 0) -> tuple[str, ...]:
    """Return sheets as SVG; the advice stands once on the first free place after the labels.

    Parameters
    ----------
    labels : sequence of Label
        In order.
    grid : Grid
        The sheet.
    skip : int
        Places of the first sheet that are used already.

    Raises
    ------
    BadInput
        When there is nothing to print, too much, or an address too long for the label.
    """
    if not labels:
        raise BadInput("there is nothing to print: name tags, or --all")
    if len(labels) > MOST_LABELS:
        raise BadInput(f"{len(labels)} labels at once are too many: print {MOST_LABELS} at most")
    if not 0 <= skip < grid.count:
        raise BadInput(f"--skip {skip}: a sheet of {grid.name} has {grid.count} labels")
    places = list(enumerate(labels, start=skip))
    pages = 1 + places[-1][0] // grid.count
    bodies = ["" for _ in range(pages)]
    for place, label in places:
        bodies[place // grid.count] += _label(label, grid, place % grid.count)
    free = places[-1][0] + 1
    if free < pages * grid.count:
        bodies[-1] += _advice(grid, free % grid.count)
    width, height = grid.page
    return tuple(
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:g}mm" height="{height:g}mm" '
        f'viewBox="0 0 {width:g} {height:g}" font-family="DejaVu Sans, Arial, sans-serif">'
        f'<rect width="{width:g}" height="{height:g}" fill="#fff"/>{body}</svg>'
        for body in bodies
    )


def qr_path(address: str, side_mm: float) -> tuple[str, float]:
    """Return a QR mark as an SVG path in modules, and the size of a module [mm].

    Raises
    ------
    BadInput
        When a telephone could not read it at that size.
    """
    mark = segno.make(address, error="m", micro=False)
    rows = tuple(tuple(row) for row in mark.matrix)
    module_mm = side_mm / (len(rows) + 2 * QUIET)
    if module_mm < LEAST_MODULE_MM:
        raise BadInput(
            f"{address} is too long for a mark of {side_mm:.0f} mm: take a grid of larger labels, "
            "or a shorter name under [page] names"
        )
    runs = []
    for y, row in enumerate(rows):
        x = 0
        while x < len(row):
            end = x
            while end < len(row) and row[end]:
                end += 1
            if end > x:
                runs.append(f"M{x} {y}h{end - x}v1h-{end - x}z")
            x = max(end, x + 1)
    return "".join(runs), module_mm


def _label(label: Label, grid: Grid, place: int) -> str:
    """Draw one label: the mark at the left, its words at the right."""
    left, top = grid.corner(place)
    wide, high = grid.size
    side = min(high - 2.0 * MARGIN_MM, 0.45 * wide) if label.address else 0.0
    drawn, text_left = "", left + MARGIN_MM
    if label.address:
        path, module_mm = qr_path(label.address, side)
        quiet = QUIET * module_mm
        x, y = left + MARGIN_MM + quiet, top + (high - side) / 2.0 + quiet
        drawn = f'<path transform="translate({x:.3f} {y:.3f}) scale({module_mm:.4f})" d="{path}"/>'
        text_left += side + 0.5
    room = left + wide - MARGIN_MM - text_left
    heading = label.heading[:MOST_LETTERS]
    size = min(7.0 if label.address else 11.0, room / (0.7 * max(len(heading), 1)))
    y = top + (MARGIN_MM + 6.0 if label.address else high / 2.0 + 0.35 * size)
    drawn += _text(heading, text_left, y, size, bold=True)
    y = top + MARGIN_MM + 10.5
    for line in _wrapped(label.line[:MOST_LETTERS], room, 2.8)[:3]:
        drawn += _text(line, text_left, y, 2.8)
        y += 3.5
    if label.address:
        foot = _wrapped(label.address.partition("//")[2], room, 1.9)
        for number, line in enumerate(reversed(foot[:3])):
            drawn += _text(line, text_left, top + high - MARGIN_MM - 1.0 - 2.4 * number, 1.9)
    return drawn


def _advice(grid: Grid, place: int) -> str:
    left, top = grid.corner(place)
    room = grid.size[0] - 2.0 * MARGIN_MM
    drawn, y = "", top + MARGIN_MM + 3.0
    for sentence in ADVICE:
        for line in _wrapped(sentence, room, 2.2):
            drawn += _text(line, left + MARGIN_MM, y, 2.2)
            y += 3.0
        y += 1.0
    return drawn


def _text(words: str, x: float, y: float, size: float, *, bold: bool = False) -> str:
    weight = ' font-weight="700"' if bold else ""
    return f'<text x="{x:.2f}" y="{y:.2f}" font-size="{size:.2f}"{weight}>{escape(words)}</text>'


def _wrapped(words: str, room: float, size: float) -> list[str]:
    """Break words into lines by a usual letter's width; long ones are broken anywhere."""
    most = max(int(room / (0.6 * size)), 4)
    lines = [""]
    for word in words.split():
        rest = word
        while len(rest) > most:
            lines.append(rest[:most])
            rest = rest[most:]
        joined = f"{lines[-1]} {rest}".strip()
        if len(joined) <= most:
            lines[-1] = joined
        else:
            lines.append(rest)
    return [line for line in lines if line]
