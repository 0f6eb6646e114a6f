"""The build: a piece drawn as what it is, wood with its coats on it, each as thick as it was laid.

The finish's own tint fills the coats; hatching stands for what has still to leave, the denser the
more. A broken line shows where the surface will lie when it has left.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from curewatch.web.draw.scale import Scale
from curewatch.web.draw.svg import WIDTH, Svg

if TYPE_CHECKING:
    from collections.abc import Sequence

UM_PER_MIL = 25.4
LEFT, RIGHT, TOP, FILM, WOOD, FOOT = 46.0, 46.0, 30.0, 170.0, 34.0, 8.0
LEAST_BUILD_UM = 60.0  # a first coat is not drawn as if it filled the page
HATCHES = ((0.10, 4.0), (0.05, 7.0), (0.02, 11.0), (0.005, 17.0))  # held fraction, spacing
LEAST_SEEN = 1.5
LEAST_FOR_NUMBER = 11.0


@dataclass(frozen=True, slots=True)
class Layer:
    """One coat: its thickness [um], the volume fraction that has still to leave, its words."""

    film_um: float
    held_frac: float
    told: str


@dataclass(frozen=True, slots=True)
class Captions:
    """The words of the drawing."""

    title: str
    description: str
    wood: str
    falls: str
    micrometre: str
    mil: str


def build(name: str, layers: Sequence[Layer], *, fall_um: float | None, captions: Captions) -> Svg:
    """Return the build, the first coat lowest; `fall_um` is the shrinkage to come, None unknown."""
    whole_um = sum(layer.film_um for layer in layers)
    ground = TOP + FILM
    up = Scale(0.0, max(whole_um * 1.05, LEAST_BUILD_UM), ground, TOP)
    drawing = Svg(
        name,
        height=ground + WOOD + FOOT,
        title=captions.title,
        description=captions.description,
    )
    for number, (_, spacing) in enumerate(HATCHES):
        drawing.hatch(f"held-{number}", spacing=spacing, look="held")
    _wood(drawing, ground, captions.wood)
    _scales(drawing, up, captions)
    at_um = 0.0
    for number, layer in enumerate(layers, start=1):
        _coat(drawing, layer, up, at_um, number)
        at_um += layer.film_um
    if fall_um is not None and layers:
        _surface(drawing, up, whole_um, fall_um, captions.falls)
    return drawing


def _coat(drawing: Svg, layer: Layer, up: Scale, at_um: float, number: int) -> None:
    bottom, top = up.at(at_um), up.at(at_um + layer.film_um)
    corner, size = (LEFT, top), (WIDTH - LEFT - RIGHT, bottom - top)
    drawing.box(corner, size, "coat")
    held = next((n for n, (least, _) in enumerate(HATCHES) if layer.held_frac >= least), None)
    if held is not None:
        drawing.box(corner, size, "", fill=f"held-{held}")
    drawing.line((LEFT, bottom), (WIDTH - RIGHT, bottom), "between")
    if size[1] > LEAST_FOR_NUMBER:
        drawing.text((LEFT + 8.0, 0.5 * (bottom + top) + 4.0), str(number), "mark")
    drawing.spot(corner, size, layer.told)


def _surface(drawing: Svg, up: Scale, whole_um: float, fall_um: float, falls: str) -> None:
    """Mark the surface as it lies, and where it will lie."""
    now, then = up.at(whole_um), up.at(whole_um - fall_um)
    drawing.line((LEFT, now), (WIDTH - RIGHT, now), "surface")
    if then - now >= LEAST_SEEN:
        drawing.line((LEFT, then), (WIDTH - RIGHT, then), "surface-to-come")
    drawing.text((WIDTH / 2.0, now - 7.0), falls, "strong", anchor="middle")


def _wood(drawing: Svg, ground: float, says: str) -> None:
    """Draw the wood as a few strokes of its grain."""
    drawing.box((LEFT, ground), (WIDTH - LEFT - RIGHT, WOOD), "wood")
    for number in range(4):
        y = ground + 6.0 + 7.5 * number
        drawing.line((LEFT + 5.0 + 11.0 * (number % 2), y), (WIDTH - RIGHT - 24.0, y), "grain")
    drawing.text((WIDTH - RIGHT - 6.0, ground + 22.0), says, "strong", anchor="end")


def _scales(drawing: Svg, up: Scale, captions: Captions) -> None:
    """Draw micrometres on the left and mil on the right."""
    in_mil = Scale(0.0, up.high / UM_PER_MIL, up.start, up.end)
    sides = (
        (LEFT, -1.0, "end", up, captions.micrometre),
        (WIDTH - RIGHT, 1.0, "start", in_mil, captions.mil),
    )
    for x, way, anchor, scale, unit in sides:
        drawing.line((x, scale.start), (x, scale.end), "axis")
        for mark in scale.marks():
            y = scale.at(mark)
            drawing.line((x, y), (x + 4.0 * way, y), "axis")
            drawing.text((x + 7.0 * way, y + 4.0), f"{mark:g}", "mark", anchor=anchor)
        drawing.text((x + 7.0 * way, TOP - 14.0), unit, "mark", anchor=anchor)
