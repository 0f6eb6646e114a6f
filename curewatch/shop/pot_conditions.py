"""What is to be said of mixed pots: one whose life is over, until someone has thrown it away."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.shop.alert import AlertKind
from curewatch.shop.batch import pot_age_h
from curewatch.shop.clocks import MS_PER_H
from curewatch.shop.conditions import Condition
from curewatch.shop.reading import Urgency
from curewatch.shop.words import span

if TYPE_CHECKING:
    from curewatch.shop.batch import Batch
    from curewatch.shop.shop import Shop

TOLD_H = 24.0  # so long after its end a pot is spoken of; then it has gone hard or been forgotten


def pot_conditions(shop: Shop, pot: Batch, now_ms: int) -> list[Condition]:
    """Return what is to be said of one pot."""
    life = shop.finishes[pot.finish, pot.revision].pot_life_h
    wall_h = (now_ms - pot.mixed_at_ms) / MS_PER_H
    gone = pot.gone_ms is not None and pot.gone_ms <= now_ms
    if life is None or gone or not 0.0 <= wall_h < life.value + TOLD_H:
        return []
    finish = shop.finishes[pot.finish, pot.revision]
    aged_h = pot_age_h(shop.book, finish, pot.room, mixed_ms=pot.mixed_at_ms, at_ms=now_ms)
    if aged_h <= life.value:
        return []
    return [
        Condition(
            AlertKind.POT_OVER,
            f"pot:{pot.name}",
            Urgency.TODAY,
            f"Pot {pot.name} of {pot.finish}, lot {pot.lot}: its life of {span(life.value)} ended, "
            "counted at its early end.",
            f"Do not spray from it; mix a fresh one, then: curewatch pot gone {pot.name}",
        )
    ]
