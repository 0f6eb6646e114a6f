"""What a cold night cost, in words: ranges, and what is not known."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from curewatch.shop.what_if import Range
from curewatch.shop.what_if_words import JOB, hours_range
from curewatch.shop.words import span

if TYPE_CHECKING:
    from curewatch.shop.finish import Finish
    from curewatch.shop.overnight import Lost, PieceLost
    from curewatch.shop.overnight_hours import Stretch
    from curewatch.shop.words import Words

LITTLE_H = 0.25
"""Less than this is neither lost nor gained."""
WHOLE_PCT = 99.5


@dataclass(frozen=True, slots=True)
class Night:
    """What a stretch cost in one place, on one finish's cure clock.

    Attributes
    ----------
    where: the room or the piece.
    finish: whose clock.
    stretch: from when to when.
    lost: what it cost; None where the finish has no such clock.
    coldest_c: lowest air temperature measured [degC]; None where none was.
    pieces: what it did to the pieces there.
    of_piece: whether `where` is a piece, and not a room.
    """

    where: str
    finish: Finish
    stretch: Stretch
    lost: Lost | None
    coldest_c: float | None
    pieces: tuple[PieceLost, ...]
    of_piece: bool = False

    @property
    def place(self) -> str:
        """Where, as said in a sentence."""
        return f"on {self.where}" if self.of_piece else f"in {self.where}"

    @property
    def coverage_pct(self) -> float:
        """How much of the stretch was measured [%]."""
        return 0.0 if self.lost is None else 100.0 * self.lost.covered_h / self.stretch.hours


def night_sentence(night: Night, words: Words) -> str:
    """Return the verdict in one sentence."""
    lost, title = night.lost, night.finish.title
    if lost is None:
        return f"What it cost {title} cannot be told: it is cured by dose, not by hours."
    if lost.against_reference is None:
        around = f"around {night.where}" if night.of_piece else night.place
        return f"What it cost {title} cannot be told: nothing was measured {around}."
    cure = night.finish.cure
    kind = "" if cure is None else f" of {words.temp(cure.reference_temp_c.value)} time"
    if not lost.told:
        unseen = f"{span(lost.unseen_h)} of {span(night.stretch.hours)} were not measured"
        return f"What it cost {title} {night.place} cannot be told: {unseen}{_bounds(lost, kind)}."
    said = f"{title} {night.place} {_lost(lost.against_reference, kind)}"
    if lost.against_expected is None:
        return f"{said}; what was to be expected of the room cannot be told."
    return f"{said}; against what was to be expected it {_lost(lost.against_expected)}."


def coverage_sentence(night: Night) -> str:
    """Say how much of the stretch was measured, and that the rest is not known."""
    hours = night.stretch.hours
    if night.coverage_pct >= WHOLE_PCT:
        return f"All {span(hours)} were measured."
    lost = night.lost
    unknown = hours - (0.0 if lost is None else lost.covered_h)
    return (
        f"Readings cover {night.coverage_pct:.0f} % of the {span(hours)}: what the other "
        f"{span(unknown)} cost is not known and not counted."
    )


def piece_sentence(piece: PieceLost, words: Words) -> str:
    """Say what a stretch did to a piece."""
    if piece.next_up is None:
        said = f"{piece.tag}: nothing is left to wait for"
    elif piece.later_h is None:
        said = (
            f"{piece.tag}: how much later {JOB[piece.next_up]} comes cannot be told{_blind(piece)}"
        )
    else:
        said = f"{piece.tag}: {JOB[piece.next_up]} comes {_later(piece.later_h)}{_blind(piece)}"
    return f"{said}. {harm_sentence(piece, words)}".rstrip()


def harm_sentence(piece: PieceLost, words: Words) -> str:
    """Say whether the film may be harmed for good; '' where it had passed its first days."""
    if piece.floor_c is None or not piece.young:
        return ""
    floor = words.temp(piece.floor_c)
    if piece.harmed:
        return (
            f"It was below {floor} for {span(piece.chilled_h)} in its first days: the film may "
            "stay soft or hazy for good, and no later warmth mends that. Test where it does not "
            "show."
        )
    if piece.harmed is None:
        return (
            f"It was in its first days and {span(piece.unseen_h)} were not measured: whether the "
            "cold harmed it cannot be told."
        )
    return f"It was in its first days, and warm enough (above {floor})."


def _bounds(lost: Lost, kind: str) -> str:
    if lost.bounds is None:
        return ""
    least, most = lost.bounds
    low = f"{span(-least)} gained" if least < 0.0 else span(least)
    high = f"{span(-most)} gained" if most < 0.0 else f"{span(most)}{kind} lost"
    return f"; it is somewhere between {low} and {high}"


def _blind(piece: PieceLost) -> str:
    """Say what the hours without readings are to a piece's clock."""
    if piece.blind_h < LITTLE_H:
        return ""
    return (
        f": {span(piece.blind_h)} of the {span(piece.hung_h)} it hung through were not measured, "
        "and its clock credits them nothing"
    )


def _lost(found: Range, kind: str = "") -> str:
    low, high = found.low, found.high
    if max(abs(low), abs(high)) < LITTLE_H:
        return "lost next to nothing"
    if low >= -LITTLE_H:
        return f"lost {hours_range(Range(max(low, 0.0), found.likely, high))}{kind}"
    if high <= LITTLE_H:
        return f"gained {hours_range(Range(max(-high, 0.0), -found.likely, -low))}{kind}"
    return f"is anything from {span(-low)} gained to {span(high)} lost{kind}"


def _later(found: Range) -> str:
    low, high = found.low, found.high
    if max(abs(low), abs(high)) < LITTLE_H:
        return "no later than was to be expected"
    if low >= -LITTLE_H:
        return f"{hours_range(Range(max(low, 0.0), found.likely, high))} later"
    if high <= LITTLE_H:
        return f"{hours_range(Range(max(-high, 0.0), -found.likely, -low))} sooner"
    return f"anything from {span(-low)} sooner to {span(high)} later"
