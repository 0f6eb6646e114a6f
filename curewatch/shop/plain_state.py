"""How rooms and pieces stood, as flat facts that are kept and mirrored.

Names are a contract (docs/influx.md) and end in their unit. What is not known has no fact. Verdicts
stand as words and by their caution, 0 where one may spray to 3 where one may not.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from curewatch.shop.spray_terms import SEVERITY

if TYPE_CHECKING:
    from curewatch.shop.assessment import PieceNow, RoomNow
    from curewatch.shop.milestones import Milestone
    from curewatch.shop.plain import Plain, PlainValue
    from curewatch.shop.spray_answer import SprayAnswer

DIGITS = 6
MOVING = ("_c", "_k", "_frac", "_h", "_um", "_ms")  # what is measured or reckoned on, not said


@dataclass(frozen=True, slots=True)
class State:
    """One room or piece as it stood.

    Attributes
    ----------
    at_ms: when it stood so [ms].
    kind: what it is.
    name: the room's name, or the piece's tag.
    facts: its facts by name.
    """

    at_ms: int
    kind: Literal["room", "piece"]
    name: str
    facts: Plain

    @property
    def said(self) -> Plain:
        """The facts that are words and yes or no: what one wants to see at once when it changes."""
        return {key: _said(value) for key, value in self.facts.items() if not key.endswith(MOVING)}


def _said(value: PlainValue) -> PlainValue:
    if not isinstance(value, dict):
        return value
    return {key: _said(inner) for key, inner in value.items() if not key.endswith(MOVING)}


def room_state(room: RoomNow, at_ms: int) -> State:
    """Return a room as it stands at `at_ms` [ms]; a climate too old to decide by is left out."""
    facts: Plain = {"fresh": room.fresh}
    facts |= _known(coverage_24h_frac=room.coverage_24h_pct / 100.0)
    climate = room.climate if room.fresh else None
    if climate is not None:
        facts |= _known(
            temperature_c=climate.temp_c,
            humidity_frac=climate.rh_frac,
            surface_temperature_c=climate.surface_c,
            dew_point_c=room.dew_point_c,
            surface_over_dew_k=room.surface_over_dew_k,
        )
    facts["spray"] = {answer.now.finish: _spray_facts(answer) for answer in room.sprays}
    return State(at_ms, "room", room.name, facts)


def _spray_facts(answer: SprayAnswer) -> Plain:
    """Return a verdict with the hours ahead, the limit that decides, and how far off dew is now."""
    facts: Plain = {"verdict": answer.verdict.value, "caution": SEVERITY[answer.verdict]}
    if answer.binding is not None:
        facts["binding"] = answer.binding.name
    dew = [
        limit.margin
        for limit in answer.now.limits
        if limit.name == "surface-over-dew-point" and limit.margin is not None
    ]
    return facts | _known(dew_margin_k=min(dew, default=None))


def piece_state(piece: PieceNow, at_ms: int) -> State:
    """Return a piece as it stands at `at_ms` [ms]: its clocks [h], window and milestones."""
    facts: Plain = {
        "finish": piece.finish,
        "coats": piece.coats,
        "wet": piece.wet,
        "young": piece.young,
        "held": piece.held is not None,
    }
    facts |= _known(
        room=piece.room,
        window=None if piece.window is None else piece.window.state.value,
        sink_back_um=None if piece.sink_back is None else piece.sink_back.remaining_um,
        coverage_frac=None if piece.coverage_pct is None else piece.coverage_pct / 100.0,
        next_ms=piece.next_at,
    )
    for clock, reading in piece.clocks.items():
        facts |= _known(
            **{
                f"{clock.value}_h": reading.effective_hours,
                f"{clock.value}_error_h": reading.standard_error,
            }
        )
    for stone in piece.milestones:
        if stone.required_hours is not None:
            facts |= _milestone_facts(stone)
    return State(at_ms, "piece", piece.tag, facts)


def _milestone_facts(stone: Milestone) -> Plain:
    """Return whether it is reached at its cautious end and since when, or when it may be."""
    name = stone.name.value.replace("-", "_")
    ahead = stone.eta
    return {
        f"{name}_reached": stone.cautious_at is not None,
        **_known(
            **{
                f"{name}_reached_ms": stone.cautious_at,
                f"{name}_early_ms": None if ahead is None else ahead.early,
                f"{name}_likely_ms": None if ahead is None else ahead.likely,
                f"{name}_late_ms": None if ahead is None else ahead.late,
            }
        ),
    }


def _known(**facts: float | str | None) -> Plain:
    """Return what is known, figures to a millionth: more would fill the memory card for nothing."""
    return {
        key: round(value, DIGITS) if isinstance(value, float) else value
        for key, value in facts.items()
        if value is not None
    }
