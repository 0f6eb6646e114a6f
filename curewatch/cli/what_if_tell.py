"""How the answer to a what-if is printed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.cli.entry import SAFETY
from curewatch.cli.show import say, table
from curewatch.shop.finish import ClockName, DryingLaw
from curewatch.shop.reading import Standing
from curewatch.shop.what_if_cautions import Kind
from curewatch.shop.what_if_words import (
    JOB,
    air_words,
    gain_sentence,
    hours_range,
    sentence,
    speed_sentence,
)

if TYPE_CHECKING:
    from curewatch.shop.ahead import Eta
    from curewatch.shop.what_if import Range
    from curewatch.shop.what_if_words import WhatIf
    from curewatch.shop.words import Words


def tell_what_if(answer: WhatIf, words: Words, *, now_ms: int) -> None:
    """Print the verdict, the air, the milestones and the cautions."""
    said = sentence(answer)
    say(said[0].upper() + said[1:])
    if answer.stacks:
        _tell_stacks(answer)
    else:
        other = ClockName.CURE if answer.kind is Kind.FAN else ClockName.DRYING
        if answer.finish.drying.law is not DryingLaw.CURE and answer.finish.cure is not None:
            say(speed_sentence(answer, other))
    say()
    say(f"Air as it is: {air_words(answer.before, words)} ({_source(answer, words, now_ms)}).")
    if answer.kind not in (Kind.FAN, Kind.OTHER_FINISH, Kind.FEWER_COATS):
        say(f"Then: {air_words(answer.after, words)}.")
    if answer.gains:
        _tell_gains(answer, words, now_ms)
    if answer.cautions:
        say()
    for caution in answer.cautions:
        mark = " (common practice)" if caution.standing is Standing.COMMON_PRACTICE else ""
        say(f"- {caution.text}{mark}")
    say()
    say(SAFETY)


def _source(answer: WhatIf, words: Words, now_ms: int) -> str:
    match answer.source:
        case "usual days":
            return f"{answer.room}, its last 7 days, {answer.known_pct:.0f} % of them measured"
        case "typed":
            return "as typed"
        case "reference":
            return "the finish's reference climate, as no room was named"
        case _:
            if answer.at_ms is None:
                return f"{answer.room}: no fresh reading"
            return f"{answer.room}, {words.at(answer.at_ms, now_ms)}"


def _tell_gains(answer: WhatIf, words: Words, now_ms: int) -> None:
    say()
    say(f"{answer.piece}, if no further coat is laid:")
    rows = [
        (
            JOB[gain.name],
            f"{gain.left_h:.0f} h",
            _eta(gain.as_it_is, words, now_ms),
            _eta(gain.then, words, now_ms),
        )
        for gain in answer.gains
    ]
    table(["job", "left", "as it is: early, likely, late", "then"], rows)
    for gain in answer.gains:
        said = gain_sentence(gain)
        say(f"{said[0].upper()}{said[1:]}.")


def _eta(eta: Eta, words: Words, now_ms: int) -> str:
    ends = (eta.early, eta.likely, eta.late)
    return "; ".join("not told" if at is None else words.ahead(at, now_ms) for at in ends)


def _tell_stacks(answer: WhatIf) -> None:
    def told(found: Range | None) -> str:
        return "not told" if found is None else hours_range(found)

    rows = [(JOB[stack.name], told(stack.as_it_is), told(stack.then)) for stack in answer.stacks]
    table(["from the last coat to", "as it is", "then"], rows)
    if answer.kind is Kind.FEWER_COATS:
        say(
            "Fewer coats leave less film to sand and buff into: a sand-through shows. The rule per "
            "coat is counted with its own band, and not the film's settling."
        )
