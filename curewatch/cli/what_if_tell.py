"""How the answer to a what-if is printed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.cli.entry import SAFETY
from curewatch.cli.show import say, table
from curewatch.planning.what_if_said import FEWER, ends_said, source_said, stack_said
from curewatch.shop.finish import ClockName, DryingLaw
from curewatch.shop.reading import Standing
from curewatch.shop.what_if_cautions import Kind
from curewatch.shop.what_if_words import (
    JOB,
    air_words,
    gain_sentence,
    sentence,
    speed_sentence,
)

if TYPE_CHECKING:
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
        told = answer.finish.drying.law is not DryingLaw.CURE and answer.kind is not Kind.LAMP
        if told and answer.finish.cure is not None:
            say(speed_sentence(answer, other))
    say()
    say(f"Air as it is: {air_words(answer.before, words)} ({source_said(answer, words, now_ms)}).")
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


def _tell_gains(answer: WhatIf, words: Words, now_ms: int) -> None:
    say()
    say(f"{answer.piece}, if no further coat is laid:")
    rows = [
        (
            JOB[gain.name],
            f"{gain.left_h:.0f} h",
            ends_said(gain.as_it_is, words, now_ms),
            ends_said(gain.then, words, now_ms),
        )
        for gain in answer.gains
    ]
    table(["job", "left", "as it is: early, likely, late", "then"], rows)
    for gain in answer.gains:
        said = gain_sentence(gain)
        say(f"{said[0].upper()}{said[1:]}.")


def _tell_stacks(answer: WhatIf) -> None:
    rows = [
        (JOB[stack.name], stack_said(stack.as_it_is), stack_said(stack.then))
        for stack in answer.stacks
    ]
    table(["from the last coat to", "as it is", "then"], rows)
    if answer.kind is Kind.FEWER_COATS:
        say(FEWER)
