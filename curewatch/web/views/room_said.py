"""What is said of a room's hours ahead, of plans and of filled gaps."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.shop.words import percent
from curewatch.web.speech import say

if TYPE_CHECKING:
    from collections.abc import Iterable

    from curewatch.shop.piece import Fill
    from curewatch.shop.room_plan import RoomPlan
    from curewatch.shop.spray_answer import SprayAnswer
    from curewatch.shop.spray_terms import Verdict
    from curewatch.web.speech import Speech
    from curewatch.web.tried import Trial

QUARTER_MS = 15 * 60_000


def hours_said(answer: SprayAnswer, speech: Speech) -> str:
    """Say until when a verdict likely stays so, in words of probability."""
    ahead = answer.ahead
    if ahead is None:
        return say("room.nobody_ahead")
    until = _down(ahead.until_ms, speech)
    why = say(f"edge.{ahead.limit}") if ahead.limit else ""
    if not answer.now.verdict.is_go:
        key = "room.better" if ahead.verdict.is_go else "room.no_better"
        return say(key, until=until, why=why)
    turns = ahead.turns
    if turns.early is None:
        return say("room.stays", until=until)
    early = _down(turns.early, speech)
    if turns.likely is None:
        return say("room.may_turn", until=until, early=early, why=why)
    return say("room.turns", likely=_down(turns.likely, speech), early=early, why=why)


def _down(at_ms: int, speech: Speech) -> str:
    """Say an instant ahead rounded down to the quarter hour: what may turn is told early."""
    return speech.sentence(speech.words.at(at_ms // QUARTER_MS * QUARTER_MS, speech.now_ms))


def tried_said(trial: Trial) -> list[tuple[str, Verdict | None]]:
    """Return each change that was tried, and the verdict it gave; None: to be measured first."""
    found = []
    for one in trial.clears:
        said = one.words
        if one.gives is not None:  # the verdict stands beside it
            doubt = f"then {one.gives.words}"
            said = said.removesuffix(f": {doubt}").removesuffix(f", {doubt}")
        found.append((said, one.gives))
    return found


def plan_said(plan: RoomPlan, speech: Speech) -> str:
    """Say what a room is said to be like, and when."""
    parts = []
    if plan.temp_c is not None:
        kind = "drifts" if plan.left_alone else "at_least" if plan.temp_at_least else "kept"
        parts.append(say(f"plan.{kind}", temp=speech.temp(plan.temp_c)))
    if plan.rh_frac is not None:
        kind = "rh_at_most" if plan.rh_at_most else "rh_kept"
        parts.append(say(f"plan.{kind}", rh=percent(plan.rh_frac)))
    return f"{', '.join(parts)}; {_when(plan, speech)}"


def _when(plan: RoomPlan, speech: Speech) -> str:
    def at(at_ms: int) -> str:
        return speech.sentence(speech.words.at(at_ms, speech.now_ms))

    if not plan.id:
        return say("plan.always")
    if plan.stop_ms is None:
        return say("plan.from", start=at(plan.start_ms))
    return say("plan.between", start=at(plan.start_ms), stop=at(plan.stop_ms))


def overlaps(plan: RoomPlan, plans: Iterable[RoomPlan]) -> list[int]:
    """Return the numbers of plans that this one rules over where they overlap."""
    return [
        other.id
        for other in plans
        if other.id
        and other.id < plan.id
        and (other.stop_ms is None or other.stop_ms > plan.start_ms)
        and (plan.stop_ms is None or plan.stop_ms > other.start_ms)
    ]


def fill_said(fill: Fill, speech: Speech) -> str:
    """Say which gap was filled with what."""
    return say(
        "room.fill",
        start=speech.sentence(speech.words.at(fill.start_ms, speech.now_ms)),
        stop=speech.sentence(speech.words.at(fill.stop_ms, speech.now_ms)),
        temp=speech.temp(fill.temp_c),
        rh=percent(fill.rh_frac),
        why=fill.why,
    )
