"""Pots of a mixed finish: when each is over, and how many coats it serves.

A pot ages by the wall clock and by the cure clock as a closed pot keeps it; the earlier end of the
two counts, for the end of a pot may be invisible. One that stands already is told by its room's
record (`batch.pot_life`).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from curewatch.shop.clocks import MS_PER_H
from curewatch.shop.plan_cautions import Caution

if TYPE_CHECKING:
    from collections.abc import Sequence

    from curewatch.shop.day_plan import Ask, Hook, PlannedCoat


@dataclass(frozen=True, slots=True)
class Pot:
    """A mixed pot.

    Attributes
    ----------
    mixed_ms: when it was, or is to be, mixed [ms].
    over_ms: when it is over, at its early end [ms].
    coats: how many coats of the plan it serves.
    """

    mixed_ms: int
    over_ms: int
    coats: int


def over_at(hook: Hook, mixed_ms: int, ask: Ask) -> int | None:
    """Return when a pot mixed at `mixed_ms` is over at its early end [ms]; None: no pot life."""
    life = hook.finish.pot_life_h
    if life is None:
        return None
    if mixed_ms == ask.mixed_ms and ask.pot_over is not None:
        return ask.pot_over(mixed_ms)
    wall_ms = round(mixed_ms + life.value * MS_PER_H)
    pot = hook.clocks.pot
    aged = None if pot is None else pot.by(mixed_ms, life.value).early
    return wall_ms if aged is None else min(aged, wall_ms)


def pots_for(
    coats: Sequence[PlannedCoat], hook: Hook, ask: Ask
) -> tuple[tuple[Pot, ...], tuple[Caution, ...]]:
    """Return the pots that a plan's coats are sprayed from, and what is to be said of them."""
    found: list[Pot] = []
    cautions: list[Caution] = []
    for coat in coats:
        if not found:
            mixed = coat.at_ms if ask.mixed_ms is None else ask.mixed_ms
            first = over_at(hook, mixed, ask)
            if first is None:
                return (), ()
            found.append(Pot(mixed, first, 0))
        pot = found[-1]
        if coat.done_ms > pot.over_ms and coat.at_ms > pot.mixed_ms:
            cautions.append(_fresh(coat, pot, ask))
            over = over_at(hook, coat.at_ms, ask)
            assert over is not None  # noqa: S101 - the finish has a pot life
            pot = Pot(coat.at_ms, over, 0)
            found.append(pot)
        if coat.done_ms > pot.over_ms:
            cautions.append(_too_short(coat, pot, ask))
        found[-1] = Pot(pot.mixed_ms, pot.over_ms, pot.coats + 1)
    return tuple(found), tuple(cautions)


def _fresh(coat: PlannedCoat, pot: Pot, ask: Ask) -> Caution:
    over = ask.at(pot.over_ms)
    at = ask.at(coat.at_ms)
    return Caution(
        "pot-over",
        coat.piece,
        coat.number,
        f"the pot is over {over}, at its early end: mix a fresh one for this coat, {at}",
    )


def _too_short(coat: PlannedCoat, pot: Pot, ask: Ask) -> Caution:
    over = ask.at(pot.over_ms)
    return Caution(
        "pot-too-short",
        coat.piece,
        coat.number,
        f"even a fresh pot is over {over}, before this coat is on: mix less, spray faster, or "
        "cool the room",
    )
