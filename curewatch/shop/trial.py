"""Test boards: what is judged on them, on which scale, and by whom.

A trial asks one question of several boards; each board is a piece of its own, with its finish and
its coats. A score is one person's word on one quality of one board, on the shop's own scale or
measured in a unit. Nothing here says which board is best.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from enum import StrEnum

from curewatch.errors import BadInput

OWN_SCALE, GLOSS_UNITS, PENCIL, RUBS = "", "GU", "pencil", "rubs"
ANGLES_DEG = (20.0, 60.0, 85.0)
"""Angles at which gloss is measured (ISO 2813 and ASTM D523 name these three, from memory)."""
PENCILS = (
    *("6B", "5B", "4B", "3B", "2B", "B", "HB", "F", "H"),
    *("2H", "3H", "4H", "5H", "6H", "7H", "8H", "9H"),
)
"""Pencils from the softest to the hardest (the order of ISO 15184 and ASTM D3363, from memory)."""
MOST_GLOSS_UNITS = 200.0
"""More than this is a mirror and no varnish: black glass of index 1.567 is 100 by definition."""
MOST_RUBS = 100_000


class Quality(StrEnum):
    """What a board is judged for."""

    HAZE = "haze"
    GLOSS = "gloss"
    IMAGE = "image"
    MAR = "mar"
    HARDNESS = "hardness"
    RUBS = "rubs"


MEASURED = {Quality.GLOSS: GLOSS_UNITS, Quality.HARDNESS: PENCIL, Quality.RUBS: RUBS}


@dataclass(frozen=True, slots=True)
class Scale:
    """A shop's own scale for one quality: its two ends, and what they mean.

    Attributes
    ----------
    worst, best: the figures at its ends; worst may be the larger.
    words: what the figures mean, in the shop's words.
    """

    worst: float
    best: float
    words: str

    def __post_init__(self) -> None:
        """Refuse a scale nobody could use."""
        if not (math.isfinite(self.worst) and math.isfinite(self.best)):
            raise BadInput("a scale needs two numbers for its ends, such as --worst 0 --best 10")
        if self.worst == self.best:
            raise BadInput(f"both ends of the scale are {self.worst:g}: give it a length")
        if not self.words.strip():
            raise BadInput("say what the figures mean: --words '0 a fog, 10 a mirror'")

    def check(self, value: float) -> None:
        """Refuse a figure off the scale.

        Raises
        ------
        BadInput
            When it lies outside the two ends.
        """
        low, high = sorted((self.worst, self.best))
        if not low <= value <= high:
            raise BadInput(f"{value:g} is off the scale: it goes from {low:g} to {high:g}")

    def share(self, value: float) -> float:
        """Return where a figure lies between the worst (0) and the best (1) end."""
        return (value - self.worst) / (self.best - self.worst)


@dataclass(frozen=True, slots=True)
class Measure:
    """What makes scores comparable: the quality, the unit, and the angle of a gloss meter.

    Attributes
    ----------
    quality: what was judged.
    unit: '' for the shop's own scale, else 'GU', 'pencil' or 'rubs'.
    angle_deg: of a gloss meter [deg]; None otherwise.
    """

    quality: Quality
    unit: str = OWN_SCALE
    angle_deg: float | None = None

    def __post_init__(self) -> None:
        """Refuse units that do not belong to the quality."""
        if self.unit != OWN_SCALE and MEASURED.get(self.quality) != self.unit:
            known = MEASURED.get(self.quality)
            takes = f"is measured in {known}" if known else "has no unit here"
            raise BadInput(f"{self.quality} {takes}, not in {self.unit}; else leave --unit out")
        if (self.unit == GLOSS_UNITS) != (self.angle_deg is not None):
            raise BadInput("gloss units need the meter's angle, and nothing else does: --angle 60")
        if self.angle_deg is not None and self.angle_deg not in ANGLES_DEG:
            raise BadInput(f"--angle {self.angle_deg:g}: gloss meters have 20, 60 or 85 degrees")

    @property
    def words(self) -> str:
        """How it is called: 'gloss, GU at 60 degrees'."""
        if self.unit == OWN_SCALE:
            return f"{self.quality}, the shop's scale"
        at = "" if self.angle_deg is None else f" at {self.angle_deg:.0f} degrees"
        return f"{self.quality}, {self.unit}{at}"

    def value_words(self, value: float) -> str:
        """Say a value: '2H' for a pencil, the number otherwise."""
        return pencil_named(value) if self.unit == PENCIL else f"{value:g}"


@dataclass(frozen=True, slots=True)
class Score:
    """One person's word on one quality of one board.

    Attributes
    ----------
    measure: the quality and its unit.
    value: the figure; for a pencil its place from the softest on.
    at_ms: when [ms].
    how: how the trial was done.
    who: who judged; '' where nobody said.
    id: storage's number, 0 before it is stored.
    """

    measure: Measure
    value: float
    at_ms: int
    how: str = ""
    who: str = ""
    id: int = 0

    def __post_init__(self) -> None:
        """Refuse a figure that cannot be."""
        if not math.isfinite(self.value):
            raise BadInput("a score is a number, or a pencil such as 2H")
        if self.measure.unit == GLOSS_UNITS and not 0.0 <= self.value <= MOST_GLOSS_UNITS:
            raise BadInput(
                f"{self.value:g} gloss units cannot be read off a varnish: 0 to "
                f"{MOST_GLOSS_UNITS:g}; check the meter's tile"
            )
        if self.measure.unit == RUBS and not (
            0.0 <= self.value <= MOST_RUBS and self.value == int(self.value)
        ):
            raise BadInput(f"{self.value:g} rubs: count whole ones, 0 to {MOST_RUBS}")


@dataclass(frozen=True, slots=True)
class Trial:
    """A question asked of several boards.

    Attributes
    ----------
    name: what the trial is called.
    question: what it is to answer.
    entered_ms: when it was begun [ms].
    boards: tags of the boards, in the order they were added.
    scales: the shop's own scale for each quality that has one.
    """

    name: str
    question: str
    entered_ms: int
    boards: tuple[str, ...] = ()
    scales: dict[Quality, Scale] = field(default_factory=dict)


def pencil_place(name: str) -> float:
    """Return a pencil's place from the softest on.

    Raises
    ------
    BadInput
        When there is no such pencil.
    """
    said = name.strip().upper()
    said = said[1:] if said in ("1H", "1B") else said
    if said not in PENCILS:
        raise BadInput(f"there is no pencil '{name}': one of {', '.join(PENCILS)}")
    return float(PENCILS.index(said))


def pencil_named(place: float) -> str:
    """Return the pencil at a place; between two of them both are named."""
    low, high = math.floor(place), math.ceil(place)
    return PENCILS[low] if low == high else f"{PENCILS[low]} to {PENCILS[high]}"
