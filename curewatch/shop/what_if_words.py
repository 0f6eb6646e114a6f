"""The answer to a what-if, and how it is said: always a range, with the reason beside it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from curewatch.shop.finish import ClockName, DryingLaw, MilestoneName
from curewatch.shop.what_if_cautions import Kind
from curewatch.shop.words import percent, span

if TYPE_CHECKING:
    from curewatch.shop.finish import Finish
    from curewatch.shop.what_if import Air, Range, Speed
    from curewatch.shop.what_if_cautions import Caution
    from curewatch.shop.what_if_piece import Gain, StackHours
    from curewatch.shop.words import Words

JOB = {
    MilestoneName.RECOAT_OPENS: "the next coat",
    MilestoneName.DRY_SAND: "dry sanding",
    MilestoneName.WET_SAND: "wet sanding",
    MilestoneName.BUFF: "buffing",
    MilestoneName.FULL_CURE: "full cure",
}
VERB = {ClockName.CURE: "cure", ClockName.DRYING: "dry"}
MUCH = 9.95
"""From here on a factor is said without decimals."""
MINUTE_H = 1.0 / 60.0
AT_ONCE_H = 5.0 * MINUTE_H  # a milestone with less left is as good as there
SAME_PACE = 0.05  # an outlook so near to the air of now is not worth a word


@dataclass(frozen=True, slots=True, eq=False)
class WhatIf:
    """A what-if and its answer.

    Attributes
    ----------
    finish: whose clocks.
    kind: what is asked about.
    asked: the change, in words.
    source: where the air as it is comes from: 'measured', 'typed', 'usual days', 'reference'.
    room: its name, None where none was named.
    at_ms: when that air was measured [ms], None where it was not.
    before, after: the air as it is, and as it would be.
    known_pct: how much of the days behind it was measured [%]; None for one moment.
    speeds: how fast each clock would run.
    cautions: what must be said beside it.
    piece: the piece asked about.
    gains: what it does to the piece's milestones.
    stacks: how two stacks of coats compare.
    """

    finish: Finish
    kind: Kind
    asked: str
    source: str
    room: str | None
    at_ms: int | None
    before: Air
    after: Air
    known_pct: float | None
    speeds: dict[ClockName, Speed]
    cautions: tuple[Caution, ...]
    piece: str | None = None
    gains: tuple[Gain, ...] = ()
    stacks: tuple[StackHours, ...] = ()


def times(found: Range) -> str:
    """Say a factor as a range: 'x1.3 to x2.1', 'about x1.4' where both ends read alike."""
    low, high = (_factor(end) for end in (found.low, found.high))
    return f"about x{low}" if low == high else f"x{low} to x{high}"


def hours_range(found: Range) -> str:
    """Say a span as a range, coarse enough to be honest: '4 to 8 h', '2 to 5 days'."""
    low, high = (end + 0.0 for end in sorted((found.low, found.high)))  # no '-0'
    if max(abs(low), abs(high)) < 1.5:  # noqa: PLR2004 - minutes are what one waits for
        least, most = f"{low * 60:.0f}", f"{high * 60:.0f}"
        return f"about {least} min" if least == most else f"{least} to {most} min"
    days = min(abs(low), abs(high)) >= 12.0 and max(abs(low), abs(high)) >= 72.0  # noqa: PLR2004 - three days
    scale, unit = (24.0, "days") if days else (1.0, "h")
    ends = [f"{end / scale:.{1 if days or abs(end) < 3.0 else 0}f}" for end in (low, high)]  # noqa: PLR2004 - small spans keep a decimal
    return f"about {ends[0]} {unit}" if ends[0] == ends[1] else f"{ends[0]} to {ends[1]} {unit}"


def air_words(air: Air, words: Words) -> str:
    """Say a climate, or the mean of a sequence of them."""
    temp, rh = air.mean_temp_c(), air.mean_rh_frac()
    if temp is None:
        return "not known"
    said = words.temp(temp)
    return said if rh is None else f"{said} and {percent(rh)}"


def speed_sentence(answer: WhatIf, clock: ClockName) -> str:
    """Say how fast one clock would run, or why that cannot be told."""
    speed, verb = answer.speeds.get(clock), VERB[clock]
    if speed is None:
        return f"How fast it would {verb} cannot be told: it is cured by dose, not by hours."
    if speed.against_reference is None:
        return f"How fast it would {verb} cannot be told: {_not_known(answer)}."
    if speed.against_reference.high <= 0.0:
        return f"It would not {verb} at all: such an hour earns nothing."
    worth = f"{times(speed.against_reference)} of the reference climate"
    if speed.against_room is not None:
        return f"It would {verb} {times(speed.against_room)} as fast as now; {worth}."
    return f"It would {verb} at {worth}; against the air as it is: {why_no_ratio(answer, clock)}."


def why_no_ratio(answer: WhatIf, clock: ClockName) -> str | None:
    """Return why there is no comparison with the air as it is; None where there is one."""
    speed = answer.speeds.get(clock)
    if speed is None:
        return "this finish is cured by dose, not by hours"
    if speed.against_room is not None:
        return None
    if answer.source == "reference":
        return "no room was named"
    if speed.as_it_is is None or speed.against_reference is None:
        return _not_known(answer)
    return "the air as it is earns nothing"


def _not_known(answer: WhatIf) -> str:
    """Say what is missing for an answer."""
    if answer.kind is Kind.LAMP and answer.after.mean_temp_c() is None:
        return "no surface probe measures what the piece gets, so it is credited with nothing"
    return "the air is not known"


def sentence(answer: WhatIf) -> str:
    """Return the verdict in one sentence."""
    if answer.kind in (Kind.OTHER_FINISH, Kind.FEWER_COATS):
        return _stack_sentence(answer)
    clock = ClockName.DRYING if answer.kind is Kind.FAN else ClockName.CURE
    said = speed_sentence(answer, clock)
    if answer.kind is Kind.FAN and answer.finish.drying.law is DryingLaw.CURE:
        said = "A fan does not speed this finish: it cures by warmth, and dries as it cures."
    return f"{answer.asked}: {said[0].lower()}{said[1:]}"


def gain_sentence(gain: Gain) -> str:
    """Say what a what-if does to one milestone of a piece."""
    return f"{JOB[gain.name]}: {_gained(gain)}{_compared_with(gain)}"


def _gained(gain: Gain) -> str:
    if gain.saved_h is None:
        return "cannot be told"
    low, high = gain.saved_h.low, gain.saved_h.high
    if max(abs(low), abs(high)) < MINUTE_H:
        return "at once either way" if gain.left_h < AT_ONCE_H else "no sooner and no later"
    if low >= 0.0:
        return f"{hours_range(gain.saved_h)} sooner"
    if high <= 0.0:
        later = type(gain.saved_h)(-high, -gain.saved_h.likely, -low)
        return f"{hours_range(later)} later"
    return f"between {span(-low)} later and {span(high)} sooner"


def _compared_with(gain: Gain) -> str:
    """Say what the air as it is will likely do, where it does not stay as it is now."""
    if gain.saved_h is None or gain.pace is None or abs(gain.pace - 1.0) < SAME_PACE:
        return ""
    return (
        f" (kept so, against the room's outlook, whose hours are likely worth "
        f"x{_factor(gain.pace)} of one now)"
    )


def _stack_sentence(answer: WhatIf) -> str:
    told = [stack for stack in answer.stacks if stack.saved_h is not None]
    buff = next((stack for stack in told if stack.name is MilestoneName.BUFF), None)
    stack = buff or (told[-1] if told else None)
    if stack is None or stack.saved_h is None:
        return f"{answer.asked}: how long it would take cannot be told."
    low, high = stack.saved_h.low, stack.saved_h.high
    if max(abs(low), abs(high)) < MINUTE_H:
        verdict = "no sooner and no later"
    elif low < 0.0 < high:
        verdict = f"anything from {span(-low)} later to {span(high)} sooner"
    elif high <= 0.0:
        later = type(stack.saved_h)(-high, -stack.saved_h.likely, -low)
        verdict = f"{hours_range(later)} later"
    else:
        verdict = f"{hours_range(stack.saved_h)} sooner"
    return f"{answer.asked}: {JOB[stack.name]} comes {verdict}, counted from the last coat."


def _factor(value: float) -> str:
    if value >= MUCH:
        return f"{value:.0f}"
    return f"{value:.1f}" if value >= 1.0 else f"{value:.2f}"
