from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from curewatch.errors import BadInput
from curewatch.shop.piece import Stay
from curewatch.shop.stock import Stock, StockEntry

if TYPE_CHECKING:
    from curewatch.storage import Store

HOUR = 3_600_000
CAN = StockEntry("waterborne", "L7", "finish", "store", 5 * HOUR, 6 * HOUR, 900 * HOUR, "5 l")


def test_a_lot_comes_back_with_everywhere_it_stood(store: Store) -> None:
    first = store.stock.add(CAN, 7 * HOUR)
    second = store.stock.add(StockEntry("waterborne", "l7", "finish", "spray", 9 * HOUR), 9 * HOUR)
    stays = (Stay("store", 5 * HOUR, 9 * HOUR, first), Stay("spray", 9 * HOUR, None, second))
    found = Stock("waterborne", "L7", "finish", stays, 6 * HOUR, 900 * HOUR, None, second)
    assert store.stock.all() == (found,)
    assert store.stock.get("l7", "finish") == found
    third = store.stock.add(replace(CAN, room=None, at_ms=11 * HOUR), 12 * HOUR)
    gone = store.stock.get("L7", "finish")
    assert (gone.gone_ms, gone.stays[-1].stop_ms, gone.number) == (11 * HOUR, 11 * HOUR, third)
    store.stock.void(third, "it was another can", 13 * HOUR)
    assert store.stock.all() == (found,)


def test_parts_of_one_lot_number_are_apart(store: Store) -> None:
    store.stock.add(CAN, HOUR)
    store.stock.add(replace(CAN, part="crosslinker", room="cold"), HOUR)
    assert [(s.part, s.stays[0].room) for s in store.stock.all()] == [
        ("crosslinker", "cold"),
        ("finish", "store"),
    ]


def test_a_lot_belongs_to_one_finish_and_an_unknown_one_is_told(store: Store) -> None:
    store.stock.add(CAN, HOUR)
    with pytest.raises(BadInput, match="is entered for waterborne"):
        store.stock.add(replace(CAN, finish="shellac"), HOUR)
    with pytest.raises(BadInput, match="no lot 'L9'"):
        store.stock.get("L9", "finish")
