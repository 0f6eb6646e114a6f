"""Boards compared at equal effective age, with how far their judges are apart; no winner.

Scores of one board within half a day are one occasion. The board that was judged least often sets
the ages; of every other board the occasion nearest in age is taken. Where ages lie farther apart
than a stated share, or one is not known, the comparison is refused for that board and the reason
said. Scores are never interpolated.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import median
from typing import TYPE_CHECKING

from curewatch.shop.clocks import MS_PER_H
from curewatch.shop.trial import GLOSS_UNITS, OWN_SCALE, Measure, Score

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from curewatch.shop.trial import Scale
    from curewatch.shop.trial_history import History

OCCASION_MS = 12 * 3_600_000
EQUAL_AGE_SHARE = 0.2
"""Ages that differ by no more than this share count as equal (our own figure, no source)."""
FEW = 3
"""Fewer boards of a finish than this say little about the finish (our own figure, no source)."""
HOURS_PER_WEEK = 168.0


@dataclass(frozen=True, slots=True)
class Occasion:
    """What was said of one board for one measure within half a day.

    Attributes
    ----------
    tag: the board.
    at_ms: when it began [ms].
    values: what each judge said.
    judges: how many of them were named, different ones.
    history: what lies behind.
    """

    tag: str
    at_ms: int
    values: tuple[float, ...]
    judges: int
    history: History

    @property
    def value(self) -> float:
        """The middle of what was said."""
        return median(self.values)

    @property
    def spread(self) -> float | None:
        """How far the judges are apart; None where only one value was given."""
        return max(self.values) - min(self.values) if len(self.values) > 1 else None


@dataclass(frozen=True, slots=True)
class Cell:
    """One board in a row of the comparison: its occasion, or why it is left out."""

    tag: str
    occasion: Occasion | None
    refused: str = ""


@dataclass(frozen=True, slots=True)
class Row:
    """Boards at one effective age.

    Attributes
    ----------
    age_h: the age that was asked for [h].
    cells: one for each board, in the trial's order.
    """

    age_h: float
    cells: tuple[Cell, ...]

    @property
    def compared(self) -> tuple[Occasion, ...]:
        """The occasions that may be held side by side."""
        return tuple(c.occasion for c in self.cells if c.occasion is not None and not c.refused)

    @property
    def apart(self) -> float | None:
        """How far the boards are apart; None where fewer than two are compared."""
        values = [one.value for one in self.compared]
        return max(values) - min(values) if len(values) > 1 else None

    @property
    def judges_apart(self) -> float | None:
        """How far judges are apart at most; None where no board had two values."""
        spreads = [one.spread for one in self.compared if one.spread is not None]
        return max(spreads, default=None)

    @property
    def sentence(self) -> str:
        """What the row allows to say."""
        if self.apart is None:
            return "Fewer than two boards of this age: nothing to compare."
        if self.judges_apart is None:
            return (
                f"The boards are {self.apart:.3g} apart. One value for each board: how far judges "
                "would be apart is not known, so neither is what such a difference means."
            )
        said = f"The boards are {self.apart:.3g} apart, judges of one board {self.judges_apart:.3g}"
        if self.apart <= self.judges_apart:
            return f"{said}: no difference can be told."
        return f"{said}: a difference, on these boards and at this age."


@dataclass(frozen=True, slots=True)
class Retained:
    """How much of its first measured gloss a board still shows.

    Attributes
    ----------
    tag: the board.
    weeks: since the first measurement.
    share: of the first value; None where that was nought.
    worked: whether the film was worked on in between, so that the two are not one surface.
    """

    tag: str
    weeks: float
    share: float | None
    worked: bool


@dataclass(frozen=True, slots=True)
class Comparison:
    """Everything that one measure says of a trial's boards.

    Attributes
    ----------
    measure: which quality, in which unit.
    scale: the shop's scale; None for a measured unit, or where none was set.
    rows: boards at equal age, youngest first.
    unused: occasions that stand in no row.
    retained: gloss kept over weeks; measured gloss only.
    """

    measure: Measure
    scale: Scale | None
    rows: tuple[Row, ...]
    unused: tuple[Occasion, ...]
    retained: tuple[Retained, ...]


def compare(
    measure: Measure,
    scores: Mapping[str, Sequence[Score]],
    *,
    scale: Scale | None,
    history_of: Callable[[str, int], History],
    equal_age: float = EQUAL_AGE_SHARE,
) -> Comparison:
    """Return what one measure says of the boards.

    Parameters
    ----------
    measure : Measure
        Which scores count.
    scores : mapping of a board's tag to its scores
        In the trial's order; scores of other measures are passed over.
    scale : Scale or None
        The shop's own scale.
    history_of : function of a tag and an instant [ms]
        What lies behind a score.
    equal_age : float
        By which share ages may differ [fraction].
    """
    told = {
        tag: occasions(tag, [one for one in mine if one.measure == measure], history_of)
        for tag, mine in scores.items()
    }
    rows = _rows(told, equal_age)
    used = {(one.tag, one.at_ms) for row in rows for one in row.compared}
    return Comparison(
        measure=measure,
        scale=scale if measure.unit == OWN_SCALE else None,
        rows=rows,
        unused=tuple(
            one for mine in told.values() for one in mine if (one.tag, one.at_ms) not in used
        ),
        retained=tuple(one for mine in told.values() for one in _retained(measure, mine)),
    )


def measures_in(scores: Mapping[str, Sequence[Score]]) -> tuple[Measure, ...]:
    """Return every measure that any board was judged by, in a steady order."""
    found = {one.measure for mine in scores.values() for one in mine}
    return tuple(sorted(found, key=lambda one: (one.quality, one.unit, one.angle_deg or 0.0)))


def occasions(
    tag: str, scores: Sequence[Score], history_of: Callable[[str, int], History]
) -> tuple[Occasion, ...]:
    """Return the occasions at which a board was judged, oldest first."""
    groups: list[list[Score]] = []
    for score in sorted(scores, key=lambda one: (one.at_ms, one.id)):
        if groups and score.at_ms - groups[-1][0].at_ms <= OCCASION_MS:
            groups[-1].append(score)
        else:
            groups.append([score])
    return tuple(
        Occasion(
            tag=tag,
            at_ms=group[0].at_ms,
            values=tuple(one.value for one in group),
            judges=len({one.who for one in group if one.who}),
            history=history_of(tag, group[0].at_ms),
        )
        for group in groups
    )


def warnings(comparison: Comparison, finishes: Mapping[str, str]) -> tuple[str, ...]:
    """Return what must be kept in mind: few boards, few judges, scores that stand alone.

    Parameters
    ----------
    comparison : Comparison
        What was found.
    finishes : mapping of a board's tag to its finish
        Every board of the trial.
    """
    counts: dict[str, int] = {}
    for finish in finishes.values():
        counts[finish] = counts.get(finish, 0) + 1
    few = sorted(finish for finish, count in counts.items() if count < FEW)
    found = []
    if few:
        found.append(
            f"Fewer than {FEW} boards of {', '.join(few)}: a difference may be the board's, or the "
            "day's, and not the finish's."
        )
    one_judge = [
        one for row in comparison.rows for one in row.compared if len(one.values) > one.judges > 0
    ]
    if one_judge:
        found.append(
            "Some values of one board come from one person: that shows how steady the person is, "
            "not how far two are apart."
        )
    if comparison.unused:
        found.append(
            f"{len(comparison.unused)} of the scoring times stand in no comparison: no other "
            "board was judged near that age, or the age is not known."
        )
    return tuple(found)


def _rows(told: Mapping[str, tuple[Occasion, ...]], equal_age: float) -> tuple[Row, ...]:
    aged = {
        tag: [one for one in mine if one.history.age_h is not None] for tag, mine in told.items()
    }
    judged = [tag for tag, mine in aged.items() if mine]
    if len(judged) < 2:  # noqa: PLR2004 - a comparison takes two
        return ()
    anchor = min(judged, key=lambda tag: len(aged[tag]))
    return tuple(_row(one, told, aged, equal_age) for one in sorted(aged[anchor], key=_age))


def _row(
    anchor: Occasion,
    told: Mapping[str, tuple[Occasion, ...]],
    aged: Mapping[str, Sequence[Occasion]],
    equal_age: float,
) -> Row:
    """Put beside one occasion those of the other boards that are nearest in age."""
    age_h = _age(anchor)
    picks = {
        tag: min(mine, key=lambda one: abs(math.log(_age(one) / age_h)))
        for tag, mine in aged.items()
        if mine and tag != anchor.tag
    }
    kept, refused = [anchor], dict[str, str]()
    for one in sorted(picks.values(), key=lambda one: abs(math.log(_age(one) / age_h))):
        apart = _apart([*kept, one])
        if apart <= equal_age:
            kept.append(one)
        else:
            refused[one.tag] = f"ages differ by {100.0 * apart:.0f} %"
    picks[anchor.tag] = anchor
    cells = []
    for tag, mine in told.items():
        pick = picks.get(tag)
        if pick is not None:
            cells.append(Cell(tag, pick, refused.get(tag, "")))
        elif mine:
            cells.append(Cell(tag, mine[-1], mine[-1].history.why_no_age))
        else:
            cells.append(Cell(tag, None, "not judged"))
    return Row(age_h, tuple(cells))


def _apart(those: Sequence[Occasion]) -> float:
    """Return by which share the oldest of these is older than the youngest."""
    ages = [_age(one) for one in those]
    return max(ages) / min(ages) - 1.0


def _age(one: Occasion) -> float:
    return one.history.age_h or 0.0


def _retained(measure: Measure, mine: Sequence[Occasion]) -> list[Retained]:
    """Return what a board kept of its first measured gloss, for every later occasion."""
    if measure.unit != GLOSS_UNITS or not mine:
        return []
    first = mine[0]
    return [
        Retained(
            tag=one.tag,
            weeks=(one.at_ms - first.at_ms) / MS_PER_H / HOURS_PER_WEEK,
            share=one.value / first.value if first.value > 0.0 else None,
            worked=(one.history.coats, one.history.work)
            != (first.history.coats, first.history.work),
        )
        for one in mine[1:]
    ]
