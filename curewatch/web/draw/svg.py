"""A small builder of inline SVG: shapes with classes, everything escaped."""

from __future__ import annotations

from typing import TYPE_CHECKING

from markupsafe import Markup, escape

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    Point = tuple[float, float]

WIDTH = 400.0  # of every drawing, in its own units: the width of a telephone


class Svg:
    """One drawing, built shape by shape.

    Attributes
    ----------
    name: prefix of the ids inside; one page may hold several drawings.
    width, height: in the drawing's own units.
    """

    def __init__(self, name: str, *, height: float, title: str, description: str) -> None:
        """Start an empty drawing that says what it is."""
        self.name = name
        self.width = WIDTH
        self.height = height
        self._title = title
        self._description = description
        self._parts: list[str] = []
        self._read_out = ""

    def tell(self, read_out: str) -> None:
        """Carry what the read-out under a pointer or finger says, as JSON."""
        self._read_out = read_out

    def line(self, start: Point, end: Point, look: str) -> None:
        """Draw a straight line."""
        (x1, y1), (x2, y2) = start, end
        self._add(f'<line x1="{_n(x1)}" y1="{_n(y1)}" x2="{_n(x2)}" y2="{_n(y2)}" {_look(look)}/>')

    def path(
        self, points: Iterable[Point], look: str, *, closed: bool = False, fill: str = ""
    ) -> None:
        """Draw a line through points, or the area they enclose; `fill` names a pattern."""
        drawn = [f"{_n(x)} {_n(y)}" for x, y in points]
        if len(drawn) > 1:
            end = "Z" if closed else ""
            self._add(f'<path d="M{" L".join(drawn)}{end}"{self._fill(fill)} {_look(look)}/>')

    def paths(self, runs: Iterable[Sequence[Point]], look: str) -> None:
        """Draw several lines as one shape; a run of one point becomes a dot."""
        drawn = []
        for run in runs:
            steps = [f"{_n(x)} {_n(y)}" for x, y in run]
            drawn.append(f"M{' L'.join(steps)}" + ("h.01" if len(steps) == 1 else ""))
        if drawn:
            self._add(f'<path d="{"".join(drawn)}" {_look(look)}/>')

    def box(self, corner: Point, size: Point, look: str, *, fill: str = "") -> None:
        """Draw a rectangle; `fill` names a pattern or gradient of this drawing."""
        (x, y), (width, height) = corner, size
        self._add(
            f'<rect x="{_n(x)}" y="{_n(y)}" width="{_n(max(width, 0.0))}" '
            f'height="{_n(max(height, 0.0))}"{self._fill(fill)} {_look(look)}/>'
        )

    def text(
        self, at: Point, words: str, look: str = "", *, anchor: str = "start", turn: float = 0.0
    ) -> None:
        """Write words at a point, turned about it clockwise [degrees]."""
        turned = f' transform="rotate({_n(turn)} {_n(at[0])} {_n(at[1])})"' if turn else ""
        self._add(
            f'<text x="{_n(at[0])}" y="{_n(at[1])}" text-anchor="{anchor}"{turned} {_look(look)}>'
            f"{escape(words)}</text>"
        )

    def hatch(self, name: str, *, spacing: float, look: str, slope: float = 45.0) -> None:
        """Define a hatching by its spacing, to fill boxes with."""
        self._add(
            f'<pattern id="{escape(self.name)}-{escape(name)}" width="{_n(spacing)}" '
            f'height="{_n(spacing)}" patternUnits="userSpaceOnUse" '
            f'patternTransform="rotate({_n(slope)})">'
            f'<line x1="0" y1="0" x2="0" y2="{_n(spacing)}" {_look(look)}/></pattern>'
        )

    def fading(self, name: str, stops: Iterable[tuple[float, float]], look: str) -> None:
        """Define a horizontal fading: (share of the way, how opaque) in order."""
        made = "".join(
            f'<stop offset="{_n(share)}" stop-opacity="{_n(opaque)}" {_look(look)}/>'
            for share, opaque in stops
        )
        self._add(
            f'<linearGradient id="{escape(self.name)}-{escape(name)}">{made}</linearGradient>'
        )

    def spot(self, corner: Point, size: Point, told: str) -> None:
        """Lay an unseen area that tells its words under a pointer, a finger or the keyboard."""
        (x, y), (width, height) = corner, size
        self._add(
            f'<rect class="spot" tabindex="0" x="{_n(x)}" y="{_n(y)}" '
            f'width="{_n(max(width, 0.0))}" height="{_n(max(height, 0.0))}" '
            f'data-told="{escape(told)}"><title>{escape(told)}</title></rect>'
        )

    def __html__(self) -> str:
        """Return the drawing for a page."""
        name = escape(self.name)
        told = f' data-read-out="{escape(self._read_out)}"' if self._read_out else ""
        return Markup(  # noqa: S704 - every part was escaped as it was added
            f'<svg class="drawing" viewBox="0 0 {_n(self.width)} {_n(self.height)}" role="img" '
            f'aria-labelledby="{name}-title {name}-description" '
            f'xmlns="http://www.w3.org/2000/svg"{told}>'
            f'<title id="{name}-title">{escape(self._title)}</title>'
            f'<desc id="{name}-description">{escape(self._description)}</desc>'
            f"{''.join(self._parts)}</svg>"
        )

    def __str__(self) -> str:
        """Return the drawing as text."""
        return str(self.__html__())

    def _fill(self, name: str) -> str:
        return f' fill="url(#{escape(self.name)}-{escape(name)})"' if name else ""

    def _add(self, part: str) -> None:
        self._parts.append(part)


def _n(value: float) -> str:
    """Write a number as short as a tenth of a unit allows."""
    return f"{value:.1f}".rstrip("0").rstrip(".") or "0"


def _look(look: str) -> str:
    return f'class="{escape(look)}"' if look else ""
