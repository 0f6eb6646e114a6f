"""An open pot past its life is told until someone has thrown it away."""

from __future__ import annotations

from dataclasses import replace

from curewatch.shop.alert import AlertPhase
from curewatch.shop.batch import Batch
from curewatch.shop.pot_conditions import pot_conditions
from curewatch.shop.watch import Watch
from tests.shop.scene import at_h, finish, shop_of, steady

POT = Batch("P1", "acid-cure", 1, "L7", at_h(0.0), "loft")
PLAIN = Batch("P2", "nitro-lacquer", 1, "L8", at_h(0.0), "loft")
SHOP = shop_of({"loft": steady(4.0)}, finishes=[finish("acid-cure"), finish("nitro-lacquer")])


def told(pot: Batch, hours: float) -> list[str]:
    return [condition.reason for condition in pot_conditions(SHOP, pot, at_h(hours))]


def test_a_pot_is_told_from_its_early_end_until_it_is_gone_or_forgotten() -> None:
    assert told(POT, 4.0) == []
    assert told(POT, 8.1) == [
        "Pot P1 of acid-cure, lot L7: its life of 8.0 h ended, counted at its early end."
    ]
    assert told(POT, 31.9) != []
    assert told(POT, 32.0) == []  # 8 h of life and a day
    assert told(POT, -1.0) == []
    assert told(replace(POT, gone_ms=at_h(6.0)), 9.0) == []
    assert told(replace(POT, gone_ms=at_h(10.0)), 9.0) != []
    assert told(PLAIN, 9.0) == []


def test_the_watch_raises_it_once_and_clears_it_when_it_is_gone() -> None:
    SHOP.pots = {"P1": POT}
    watch = Watch(SHOP)
    assert watch.step(at_h(4.0)) == []
    (raised,) = watch.step(at_h(8.1))
    assert (raised.kind, raised.subject, raised.phase) == (
        *("pot-over", "pot:P1", AlertPhase.RAISED),
    )
    assert watch.step(at_h(8.2)) == []
    SHOP.pots = {}
    (cleared,) = watch.step(at_h(8.3))
    assert cleared.phase is AlertPhase.CLEARED
