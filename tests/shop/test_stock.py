"""Stock: spans outside storage limits with the sensor's own error, worked by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from curewatch.errors import BadInput
from curewatch.shop.clocks import Bias
from curewatch.shop.laws import cure_law
from curewatch.shop.piece import Stay
from curewatch.shop.stock import Stock, StockEntry, StockFault, lot_of, stock_faults, unseen_h
from tests.shop.scene import at_h, every, finish, readings, shop_of

WATER, NITRO = finish("waterborne"), finish("nitro-lacquer")
HALF_K = {"store": Bias(0.5, 0.02)}


def can(*stays: Stay, of: str = "waterborne", part: str = "finish") -> Stock:
    return Stock(of, "L7", part, stays or (Stay("store", at_h(0.0)),), None, None, None, 1)


def faults(temps: dict[int, float], *stays: Stay, now_h: float = 48.0) -> tuple[StockFault, ...]:
    """Judge a can in a store at 12 degC but for steps of so many degrees from these hours on."""
    hours = every(10.0, 48.0)
    temp_c = np.full(hours.shape, 12.0)
    for start_h, value in sorted(temps.items()):
        temp_c[hours >= start_h] = value
    shop = shop_of({"store": readings(hours, temp_c, 0.5)}, biases=HALF_K)
    return stock_faults(can(*stays), WATER, shop.book, at_h(now_h))


def test_a_store_inside_the_limits_has_nothing_to_tell() -> None:
    assert faults({}) == ()


def test_a_cold_night_is_told_with_its_hours_and_its_coldest_air() -> None:
    # Steps are joined by straight lines of ten minutes: from 12 to 2 degC the air is under
    # 5 + 0.5 (5.5 may be 5) for the last 3.5/10 of them, 3.5 min, and for as long when it warms.
    (cold,) = faults({10: 2.0, 16: 12.0})
    assert (cold.side, cold.room, cold.limit_c, cold.bias_k) == ("cold", "store", 5.0, 0.5)
    assert (cold.worst_c, cold.sure) == (2.0, True)
    assert cold.hours == pytest.approx(5.0 + 50.0 / 60.0 + 2 * 3.5 / 60.0, abs=2.1 / 60.0)
    assert cold.start_ms == pytest.approx(at_h(10.0) - 3.5 * 60_000, abs=60_000)


def test_frost_is_told_apart_from_cold_and_may_be_within_the_sensors_error() -> None:
    cold, frozen = sorted(faults({10: -0.2, 20: 12.0}), key=lambda fault: fault.side)
    assert (cold.side, cold.sure) == ("cold", True)
    assert (frozen.side, frozen.limit_c, frozen.sure) == ("frozen", 0.0, False)
    (_, near) = sorted(faults({10: 0.3, 20: 12.0}), key=lambda fault: fault.side)
    assert (near.side, near.sure) == ("frozen", False)  # 0.3 may be -0.2
    assert [fault.side for fault in faults({10: 0.6, 20: 12.0})] == ["cold"]


def test_heat_is_told_and_no_gap_without_readings() -> None:
    (hot,) = faults({30: 34.0, 40: 29.0})
    assert (hot.side, hot.worst_c, hot.sure) == ("hot", 34.0, True)
    assert hot.hours == pytest.approx(10.0, abs=0.2)
    hours = np.array([0.0, 0.5, 20.0, 20.5])
    shop = shop_of({"store": readings(hours, np.array([3.0, 3.0, 3.0, 3.0]), 0.5)}, biases=HALF_K)
    (cold,) = stock_faults(can(), WATER, shop.book, at_h(30.0))
    assert cold.hours == pytest.approx(1.0, abs=0.05)  # nothing is known of the hours between


def test_only_the_time_it_stood_there_counts() -> None:
    night = {10: 2.0, 16: 12.0}
    assert faults(night, Stay("store", at_h(17.0))) == ()
    assert faults(night, Stay("store", at_h(0.0), at_h(9.0))) == ()
    assert faults(night, now_h=9.0) == ()
    assert faults(night, Stay("cellar", at_h(0.0))) == ()  # no sensor there
    assert faults(night, Stay("store", at_h(60.0)), now_h=50.0) == ()
    (short,) = faults(night, Stay("store", at_h(12.0), at_h(14.0)))
    assert short.hours == pytest.approx(2.0, abs=0.02)


def test_a_profile_without_limits_and_other_parts_are_not_judged() -> None:
    shop = shop_of({"store": readings(every(10.0, 5.0), -9.0, 0.5)})
    assert NITRO.storage is None
    assert stock_faults(can(of="nitro-lacquer"), NITRO, shop.book, at_h(5.0)) == ()
    assert stock_faults(can(part="crosslinker"), WATER, shop.book, at_h(5.0)) == ()
    assert WATER.storage is not None
    one_sided = replace(WATER, storage=replace(WATER.storage, low_c=None, high_c=None))
    assert [f.side for f in stock_faults(can(), one_sided, shop.book, at_h(5.0))] == ["frozen"]


def test_a_room_configured_but_never_heard_tells_nothing() -> None:
    shop = shop_of({"store": {}})
    law = cure_law(WATER)
    assert law is not None
    shop.book.clock("store", law)  # makes an empty record
    assert stock_faults(can(), WATER, shop.book, at_h(5.0)) == ()


def test_a_pots_lot_is_found_in_stock_whatever_its_case() -> None:
    mine = can()
    assert lot_of([can(part="crosslinker"), mine], "waterborne", "l7") is mine
    assert lot_of([mine], "shellac", "L7") is None
    assert lot_of([mine], "waterborne", "L8") is None


def test_past_its_date() -> None:
    dated = replace(can(), keep_until_ms=at_h(10.0))
    assert [dated.past_keep(at_h(h)) for h in (10.0, 10.1)] == [False, True]
    assert not can().past_keep(at_h(10.0))


def test_an_entry_names_a_part_and_a_lot() -> None:
    assert StockEntry("waterborne", "L7", "thinner", None, at_h(0.0)).room is None  # gone
    with pytest.raises(BadInput, match="is no part of a pot"):
        StockEntry("waterborne", "L7", "hardener", "store", at_h(0.0))
    with pytest.raises(BadInput, match="which lot"):
        StockEntry("waterborne", " ", "finish", "store", at_h(0.0))


def test_hours_without_a_reading_are_counted_where_the_lot_stood() -> None:
    shop = shop_of({"store": readings(every(10.0, 24.0), 12.0, 0.5)}, biases=HALF_K)
    stays = (
        Stay("store", at_h(12.0), at_h(30.0)),  # six hours past the last reading
        Stay("yard", at_h(30.0), at_h(34.0)),  # where nothing measures
        Stay("store", at_h(60.0)),  # not yet
    )
    assert unseen_h(can(*stays), shop.book, at_h(48.0)) == pytest.approx(10.0, abs=0.2)
    assert unseen_h(can(stays[0]), shop.book, at_h(20.0)) == pytest.approx(0.0, abs=0.02)
