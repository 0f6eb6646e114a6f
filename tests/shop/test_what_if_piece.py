"""What a what-if does to the milestones of a piece, and how two stacks of coats compare."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from curewatch.shop.ahead import Eta
from curewatch.shop.assessment import assess_piece
from curewatch.shop.finish import MilestoneName
from curewatch.shop.laws import cure_law
from curewatch.shop.piece import Stay
from curewatch.shop.room import Room
from curewatch.shop.usual_air import usual_air
from curewatch.shop.what_if import Air, Range, heated, on_schedule
from curewatch.shop.what_if_piece import Gain, piece_gains, stack_hours
from curewatch.shop.what_if_words import gain_sentence
from tests.shop.scene import HOUR_MS, at_h, every, finish, piece, readings, shop_of, steady

if TYPE_CHECKING:
    from curewatch.shop.piece import Piece
    from curewatch.shop.shop import Shop

WATERBORNE, LACQUER, DOSE = (finish(n) for n in ("waterborne", "nitro-lacquer", "dose-cured"))
BUFF, OPENS, WET = MilestoneName.BUFF, MilestoneName.RECOAT_OPENS, MilestoneName.WET_SAND
LOFT = Room("loft")
NOW_H = 72.0


def gains_at(temp_c: float, to_c: float) -> dict[MilestoneName, Gain]:
    """Return the gains of a piece of four coats, three days old, in a steady room."""
    hung = piece("waterborne", [0.0] * 4, planned=4)
    shop = shop_of({"loft": steady(NOW_H / 24.0, temp_c)}, finishes=[WATERBORNE], pieces=[hung])
    air = heated(Air.of(temp_c, 0.5), to_c)
    before = Air.of(temp_c, 0.5)
    found = piece_gains(shop, hung, before, air, room_after=LOFT, now_ms=at_h(NOW_H))
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


def own_times(shop: Shop, hung: Piece) -> dict[MilestoneName, Eta | None]:
    """Return what the piece itself says of its milestones ahead."""
    now = assess_piece(shop, hung, at_h(NOW_H))
    return {stone.name: stone.eta for stone in now.milestones}


def test_an_unchanged_what_if_says_exactly_the_pieces_own_times() -> None:
    hung = piece("waterborne", [0.0] * 4, planned=4)
    hours = every(10.0, 10 * 24.0, start_h=NOW_H - 10 * 24.0)
    series = readings(hours, 19.0 + 3.0 * np.sin(hours), 0.5)
    shop = shop_of({"loft": series}, finishes=[WATERBORNE], pieces=[hung])
    days = usual_air(shop.book.climates["loft"], at_h(NOW_H)).air
    rests = on_schedule(days, 10.0, [True] * days.temp_c.size)
    for before, after in (
        (days, rests),  # a heater that never comes on
        (Air.of(18.4, 0.5), Air.of(18.4, 0.5)),
        (Air.of(18.4, None), Air.of(18.4, None)),
        (Air.of(18.43, 0.5), Air.of(18.4, 0.503)),  # as typed from what is shown
    ):
        found = piece_gains(shop, hung, before, after, room_after=LOFT, now_ms=at_h(NOW_H))
        assert BUFF in {gain.name for gain in found}
        for gain in found:
            assert gain.as_it_is == gain.then == own_times(shop, hung)[gain.name]
            assert gain.saved_h == Range(0.0, 0.0, 0.0)
            assert gain.pace is None


def test_the_late_end_is_never_sooner_than_the_pieces_own() -> None:
    hung = piece("waterborne", [0.0] * 4, planned=4)
    shop = shop_of({"loft": steady(NOW_H / 24.0, 18.0)}, finishes=[WATERBORNE], pieces=[hung])
    now, air = Air.of(18.0, 0.5), Air.of(17.8, 0.5)  # hardly another climate
    found = piece_gains(shop, hung, now, air, room_after=LOFT, now_ms=at_h(NOW_H))
    buff = next(gain for gain in found if gain.name is BUFF)
    own = own_times(shop, hung)[BUFF]
    assert own is not None
    assert buff.as_it_is == own
    assert buff.then.likely is not None
    assert buff.then.late is not None
    stone = next(s for s in assess_piece(shop, hung, at_h(NOW_H)).milestones if s.name is BUFF)
    assert stone.late_hours is not None
    assert stone.required_hours is not None
    # the doubt of the hours so far asks for so much more at the late end, at less than 1 h/h
    doubt_h = stone.late_hours - stone.required_hours
    assert doubt_h > 1.0
    assert buff.then.late - buff.then.likely > doubt_h * HOUR_MS


def test_a_heater_adds_what_it_adds_to_the_usual_day_to_the_outlook() -> None:
    hung = piece("waterborne", [0.0] * 4, planned=4)
    shop = shop_of({"loft": steady(10.0, 17.0)}, finishes=[WATERBORNE], pieces=[hung])
    days = usual_air(shop.book.climates["loft"], at_h(NOW_H)).air
    day = [8.0 <= (hour % 24.0) < 18.0 for hour in np.arange(days.temp_c.size) / 6.0]
    warm = on_schedule(days, 21.0, day)
    found = piece_gains(shop, hung, days, warm, room_after=LOFT, now_ms=at_h(NOW_H))
    buff = next(gain for gain in found if gain.name is BUFF)
    assert buff.saved_h is not None
    assert 0.0 < buff.saved_h.low < buff.saved_h.high
    cold = piece_gains(shop, hung, days, days, room_after=LOFT, now_ms=at_h(NOW_H))[-2]
    assert cold.name is BUFF
    assert buff.as_it_is == cold.as_it_is
    assert buff.then.likely is not None
    law = cure_law(WATERBORNE)
    assert law is not None
    rates = law.rates(np.array([17.0, 21.0]), np.array([0.5, float(np.nanmin(warm.rh_frac))]))
    # by hand: from midnight 8 cold, 10 warm, 6 cold hours, and so on, until what is left is earned
    day_h = [rates[1] if 8 <= hour % 24 < 18 else rates[0] for hour in range(200)]
    by_hand = float(np.interp(buff.left_h, np.cumsum(day_h), np.arange(1, 201)))
    assert (buff.then.likely - at_h(NOW_H)) / HOUR_MS == pytest.approx(by_hand, abs=0.5)


def test_a_fan_speeds_drying_and_a_second_one_does_not() -> None:
    hung = piece("waterborne", [NOW_H - 0.5], planned=4)
    shop = shop_of({"loft": steady(10.0, 17.0)}, finishes=[WATERBORNE], pieces=[hung])
    days = usual_air(shop.book.climates["loft"], at_h(NOW_H)).air
    fan = Room("loft", air="fan")
    found = piece_gains(shop, hung, days, days, room_after=fan, now_ms=at_h(NOW_H))
    opens = next(gain for gain in found if gain.name is OPENS)
    assert opens.saved_h is not None
    assert opens.saved_h.low > 0.0
    shop.rooms["loft"] = fan
    found = piece_gains(shop, hung, days, days, room_after=fan, now_ms=at_h(NOW_H))
    assert all(gain.saved_h == Range(0.0, 0.0, 0.0) for gain in found)


def test_what_the_outlook_earns_against_now_is_told_beside_another_climate() -> None:
    hung = piece("waterborne", [0.0] * 4, planned=4)
    hours = every(10.0, 10 * 24.0, start_h=NOW_H - 10 * 24.0)
    series = readings(hours, np.where(hours > NOW_H - 2.0, 24.0, 18.0), 0.5)
    shop = shop_of({"loft": series}, finishes=[WATERBORNE], pieces=[hung])
    now = Air.of(24.0, 0.5)
    found = piece_gains(shop, hung, now, Air.of(24.2, 0.5), room_after=LOFT, now_ms=at_h(NOW_H))
    buff = next(gain for gain in found if gain.name is BUFF)
    # by hand at 55 kJ/mol: 18 degC earns 0.632 of what 24 degC does, and the warm hours fade
    assert buff.pace is not None
    assert 0.63 < buff.pace < 0.85
    assert "against the room's outlook, whose hours are likely worth x0." in gain_sentence(buff)
    cold = Air.of(5.0, 0.5)
    found = piece_gains(shop, hung, cold, now, room_after=LOFT, now_ms=at_h(NOW_H))
    assert all(gain.pace is None for gain in found)  # nothing is earned now


def test_air_that_is_not_known_tells_nothing() -> None:
    hung = piece("waterborne", [0.0] * 4, planned=4)
    shop = shop_of({"loft": steady(3.0)}, finishes=[WATERBORNE], pieces=[hung])
    nothing, now = Air.of(None, None), Air.of(21.0, 0.5)
    unknown = usual_air(None, at_h(NOW_H)).air
    for before, after in ((now, nothing), (nothing, nothing), (unknown, unknown)):
        found = piece_gains(shop, hung, before, after, room_after=LOFT, now_ms=at_h(NOW_H))
        assert found
        assert all(gain.saved_h is None and not gain.then.told for gain in found)
        assert all(gain.as_it_is.told for gain in found)


def test_a_room_that_was_never_heard_tells_nothing() -> None:
    hung = piece("waterborne", [0.0], stays=[Stay("cellar", at_h(-1.0))])
    shop = shop_of({"loft": steady(3.0)}, finishes=[WATERBORNE], pieces=[hung])
    nothing, warm = Air.of(None, None), Air.of(21.0, 0.5)
    found = piece_gains(shop, hung, nothing, warm, room_after=LOFT, now_ms=at_h(NOW_H))
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
        now, then = Air.of(21.0, 0.5), Air.of(27.0, 0.5)
        assert not piece_gains(shop, one, now, then, room_after=LOFT, now_ms=at_h(NOW_H))


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
