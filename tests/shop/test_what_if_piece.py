"""What a what-if does to the milestones of a piece, and how two stacks of coats compare."""

from __future__ import annotations

import pytest

from curewatch.shop.ahead import Eta
from curewatch.shop.finish import MilestoneName
from curewatch.shop.piece import Stay
from curewatch.shop.room import Room
from curewatch.shop.usual_air import usual_air
from curewatch.shop.what_if import Air, heated, on_schedule
from curewatch.shop.what_if_piece import Gain, piece_gains, stack_hours
from tests.shop.scene import HOUR_MS, at_h, finish, piece, shop_of, steady

WATERBORNE, LACQUER, DOSE = (finish(n) for n in ("waterborne", "nitro-lacquer", "dose-cured"))
BUFF, OPENS, WET = MilestoneName.BUFF, MilestoneName.RECOAT_OPENS, MilestoneName.WET_SAND
LOFT = Room("loft")
NOW_H = 72.0


def gains_at(temp_c: float, to_c: float) -> dict[MilestoneName, Gain]:
    """Return the gains of a piece of four coats, three days old, in a steady room."""
    hung = piece("waterborne", [0.0] * 4, planned=4)
    shop = shop_of({"loft": steady(NOW_H / 24.0, temp_c)}, finishes=[WATERBORNE], pieces=[hung])
    air = heated(Air.of(temp_c, 0.5), to_c)
    found = piece_gains(shop, hung, air, room_after=LOFT, now_ms=at_h(NOW_H))
    return {gain.name: gain for gain in found}


def test_warmth_brings_what_is_ahead_sooner_by_a_range() -> None:
    found = gains_at(21.0, 27.0)
    assert OPENS not in found  # reached long ago
    assert WET not in found
    buff = found[BUFF]
    assert buff.left_h == pytest.approx(24.0, abs=0.1)
    assert buff.saved_h is not None
    assert 0.0 < buff.saved_h.low < buff.saved_h.likely < buff.saved_h.high
    # by hand: 24 h left at the reference; at 27 degC (x1.50 to x2.16 with the drier air) 16.0 to
    # 11.1 h, so 8.0 to 12.9 h sooner
    ratio = (0.65 / 0.5) ** 0.3
    assert buff.saved_h.likely == pytest.approx(24.0 - 24.0 / (1.5675 * ratio), abs=0.4)
    assert buff.then.early is not None
    assert buff.then.likely is not None
    assert buff.then.late is not None
    assert at_h(NOW_H) < buff.then.early < buff.then.likely < buff.then.late


def test_cold_makes_it_later() -> None:
    saved = gains_at(21.0, 17.0)[BUFF].saved_h
    assert saved is not None
    assert saved.high < 0.0


def test_air_below_the_floor_gives_no_date() -> None:
    buff = gains_at(21.0, 8.0)[BUFF]
    assert buff.saved_h is None
    assert buff.then == Eta(None, None, None)


def test_a_heater_that_never_comes_on_saves_nothing() -> None:
    hung = piece("waterborne", [0.0] * 4, planned=4)
    shop = shop_of({"loft": steady(3.0)}, finishes=[WATERBORNE], pieces=[hung])
    days = usual_air(shop.book.climates["loft"], at_h(NOW_H)).air
    same = on_schedule(days, 15.0, [True] * days.temp_c.size)
    found = piece_gains(shop, hung, same, room_after=LOFT, now_ms=at_h(NOW_H), before=days)
    buff = next(gain for gain in found if gain.name is BUFF)
    assert buff.saved_h is not None
    assert buff.saved_h.low == buff.saved_h.high == 0.0
    assert buff.as_it_is.likely == buff.then.likely
    assert buff.as_it_is.likely == pytest.approx(at_h(96.0), abs=0.2 * HOUR_MS)


def test_air_that_is_not_known_tells_nothing() -> None:
    hung = piece("waterborne", [0.0] * 4, planned=4)
    shop = shop_of({"loft": steady(3.0)}, finishes=[WATERBORNE], pieces=[hung])
    nothing = Air.of(None, None)
    found = piece_gains(shop, hung, nothing, room_after=LOFT, now_ms=at_h(NOW_H))
    assert all(gain.saved_h is None for gain in found)


def test_a_room_that_was_never_heard_tells_nothing() -> None:
    hung = piece("waterborne", [0.0], stays=[Stay("cellar", at_h(-1.0))])
    shop = shop_of({"loft": steady(3.0)}, finishes=[WATERBORNE], pieces=[hung])
    found = piece_gains(shop, hung, Air.of(21.0, 0.5), room_after=LOFT, now_ms=at_h(NOW_H))
    assert found
    for gain in found:
        assert gain.as_it_is == Eta(None, None, None)
        assert gain.saved_h is None
        assert gain.then.likely is not None


def test_a_piece_that_hangs_nowhere_or_is_bare_or_cured_by_dose_has_nothing_ahead() -> None:
    gone = piece("waterborne", [0.0], stays=[Stay("loft", at_h(-1.0), at_h(1.0))])
    bare = piece("waterborne", [], tag="B13")
    dose = piece("dose-cured", [0.0], tag="B14")
    shop = shop_of({"loft": steady(3.0)}, finishes=[WATERBORNE, DOSE], pieces=[gone, bare, dose])
    for one in (gone, bare, dose):
        assert not piece_gains(shop, one, Air.of(27.0, 0.5), room_after=LOFT, now_ms=at_h(NOW_H))


def test_fewer_coats_come_to_the_buff_sooner_by_the_rule_and_its_band() -> None:
    found = {
        stack.name: stack
        for stack in stack_hours((WATERBORNE, 8), (WATERBORNE, 6), Air.of(21.0, 0.5), room=LOFT)
    }
    buff = found[BUFF]
    assert buff.as_it_is is not None
    assert buff.then is not None
    assert buff.saved_h is not None
    assert buff.as_it_is.likely == pytest.approx(192.0)  # 24 h a coat
    assert buff.then.likely == pytest.approx(144.0)
    assert buff.saved_h.likely == pytest.approx(48.0)
    assert buff.saved_h.low == pytest.approx(2 * 15.0)  # the profile's band: 15 to 90 h a coat
    assert buff.saved_h.high == pytest.approx(2 * 90.0)
    wet = found[WET].saved_h
    assert wet is not None
    assert wet.low == wet.high == 0.0


def test_two_finishes_share_no_doubt() -> None:
    found = stack_hours((WATERBORNE, 6), (LACQUER, 6), Air.of(19.0, 0.5), room=LOFT)
    for stack in found:
        if stack.saved_h is None:
            continue
        assert stack.as_it_is is not None
        assert stack.then is not None
        assert stack.saved_h.low == pytest.approx(stack.as_it_is.low - stack.then.high)
        assert stack.saved_h.high == pytest.approx(stack.as_it_is.high - stack.then.low)


def test_no_hours_are_told_where_one_finish_has_none() -> None:
    found = stack_hours((WATERBORNE, 6), (DOSE, 6), Air.of(21.0, 0.5), room=LOFT)
    assert found
    assert all(stack.then is None and stack.saved_h is None for stack in found)
    cold = stack_hours((WATERBORNE, 6), (WATERBORNE, 5), Air.of(5.0, 0.5), room=LOFT)
    assert next(stack for stack in cold if stack.name is BUFF).saved_h is None
    assert not stack_hours((DOSE, 6), (DOSE, 5), Air.of(21.0, 0.5), room=LOFT)
