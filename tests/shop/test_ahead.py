"""When milestones will likely be reached, by the room's own outlook."""

from __future__ import annotations

from curewatch.shop.ahead import etas
from curewatch.shop.assessment import assess_piece
from curewatch.shop.finish import MilestoneName
from curewatch.shop.piece import Stay
from tests.shop.scene import HOUR_MS, at_h, finish, piece, shop_of, steady

WATERBORNE = finish("waterborne")
BUFF, OPENS = MilestoneName.BUFF, MilestoneName.RECOAT_OPENS


def test_in_a_steady_room_the_likely_time_is_the_rest_of_the_hours() -> None:
    hung = piece("waterborne", [0.0] * 4, planned=4)
    shop = shop_of({"loft": steady(20.0)}, finishes=[WATERBORNE], pieces=[hung])
    now = assess_piece(shop, hung, at_h(48.0))
    found = etas(now, shop, at_h(48.0))
    eta = found[BUFF]
    assert eta.early is not None
    assert eta.likely is not None
    assert eta.late is not None
    assert eta.early < eta.likely < eta.late
    assert abs(eta.likely - at_h(96.0)) < 0.5 * HOUR_MS
    assert OPENS not in found  # reached long ago


def test_where_nothing_was_ever_heard_nothing_is_told() -> None:
    hung = piece("waterborne", [0.0], stays=[Stay("cellar", at_h(-1.0))])
    shop = shop_of({"loft": steady(5.0)}, finishes=[WATERBORNE], pieces=[hung])
    assert etas(assess_piece(shop, hung, at_h(48.0)), shop, at_h(48.0)) == {}


def test_a_piece_that_hangs_nowhere_has_no_time_ahead() -> None:
    hung = piece("waterborne", [0.0], stays=[Stay("loft", at_h(-1.0), at_h(10.0))])
    shop = shop_of({"loft": steady(5.0)}, finishes=[WATERBORNE], pieces=[hung])
    assert etas(assess_piece(shop, hung, at_h(48.0)), shop, at_h(48.0)) == {}
