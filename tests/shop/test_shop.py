from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from curewatch.errors import BadInput
from curewatch.shop.clocks import Bias
from curewatch.shop.piece import Coat, Stay
from curewatch.shop.room import Room, Sensor
from curewatch.shop.shop import Shop, biases
from tests.shop.scene import T0_MS, at_h, finish, piece, shop_of, steady

WATERBORNE = finish("waterborne")


def test_a_room_no_longer_configured_is_taken_with_the_usual_settings() -> None:
    shop = shop_of({"loft": steady(1.0)}, rooms=[Room("loft", "fan")])
    assert shop.room("loft").air == "fan"
    assert shop.room("gone") == Room("gone")


def test_a_finish_whose_profile_is_lost_is_asked_back_by_name_and_revision() -> None:
    hung = replace(piece("waterborne"), finish_revision=4)
    with pytest.raises(BadInput, match="'waterborne' revision 4 of piece B12 is not known"):
        shop_of({}, finishes=[WATERBORNE], pieces=[hung]).finish_of(hung)


def test_a_sensor_was_last_heard_up_to_the_moment_one_asks_about() -> None:
    shop = shop_of({"loft": steady(1.0)})
    assert shop.last_heard_ms("rack", T0_MS) is None
    shop.heard_ms["rack"] = np.array([at_h(1.0), at_h(2.0)], dtype=np.int64)
    assert shop.last_heard_ms("rack", at_h(0.5)) is None
    assert shop.last_heard_ms("rack", at_h(1.0)) == at_h(1.0)
    assert shop.last_heard_ms("rack", at_h(9.0)) == at_h(2.0)


def test_a_piece_is_where_its_stay_says_from_its_start_until_before_its_end() -> None:
    stays = [Stay("loft", at_h(1.0), at_h(2.0)), Stay("oven", at_h(2.0))]
    hung = piece("waterborne", stays=stays)
    shop = shop_of({}, finishes=[WATERBORNE], pieces=[hung])
    assert hung.room_at(at_h(0.5)) is None
    assert shop.pieces_in("loft", at_h(1.0)) == [hung]
    assert shop.pieces_in("loft", at_h(2.0)) == []
    assert shop.pieces_in("oven", at_h(2.0)) == [hung]


def test_coating_is_done_once_the_planned_coats_are_on() -> None:
    hung = piece("waterborne", [0.0, 2.0], planned=2)
    assert not hung.coating_done(at_h(1.0))
    assert hung.coating_done(at_h(2.0))
    assert not replace(hung, planned_coats=None).coating_done(at_h(9.0))


def test_a_scale_has_no_say_in_its_room_s_budget_gap_or_freshness() -> None:
    air = Sensor("a", "loft", 60.0, temp_bias_k=0.2, rh_bias_frac=0.01)
    scale = Sensor("scale", "loft", 86_400.0, air=False)
    alone, both = (Shop({"loft": Room("loft")}, sensors) for sensors in ((air,), (air, scale)))
    assert both.longest_gap_s("loft") == alone.longest_gap_s("loft") == 1800.0
    assert both.freshness_s("loft") == alone.freshness_s("loft")
    assert biases({"loft": Room("loft")}, (air, scale)) == {"loft": Bias(0.2, 0.01)}
    assert biases({"loft": Room("loft")}, (scale,)) == {}


def test_a_room_s_budget_is_that_of_its_worst_sensor() -> None:
    sensors = (
        Sensor("a", "loft", temp_bias_k=0.2, rh_bias_frac=0.05),
        Sensor("b", "loft", temp_bias_k=0.5, rh_bias_frac=0.01),
    )
    assert biases({"loft": Room("loft"), "bare": Room("bare")}, sensors) == {
        "loft": Bias(0.5, 0.05)
    }


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"wet_um": 0.5}, "a wet film of 0.5 um is not possible"),
        ({"wet_um": 4000.0}, "give 15 to 2000 um"),
        ({"passes": 0}, "at least one"),
        ({"mixed_at_ms": at_h(1.0)}, "mixed after the coat was sprayed"),
    ],
)
def test_a_coat_no_gun_can_lay_is_refused(wrong: dict[str, float], said: str) -> None:
    with pytest.raises(BadInput, match=said):
        Coat(T0_MS, **wrong)  # type: ignore[arg-type]
