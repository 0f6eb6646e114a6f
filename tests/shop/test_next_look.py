"""When a piece's standing can change next."""

from __future__ import annotations

from curewatch.shop.assessment import PieceNow, assess_piece
from curewatch.shop.climate import MINUTE_MS
from curewatch.shop.next_look import NextLook
from curewatch.shop.piece import Stay
from curewatch.shop.watch import Watch
from curewatch.shop.window import WindowState
from tests.shop.scene import T0_MS, at_h, finish, piece, shop_of, steady

OUT = piece("two-part-urethane", planned=2, stays=[Stay("loft", T0_MS, at_h(1.2))])
SHOP = shop_of({"loft": steady(2.0)}, finishes=[finish("two-part-urethane")], pieces=[OUT])


def state(now: PieceNow) -> WindowState:
    assert now.window is not None
    return now.window.state


def test_a_piece_in_no_room_is_looked_at_when_its_last_call_comes_and_not_each_minute() -> None:
    now_ms = at_h(1.5)
    now = assess_piece(SHOP, OUT, now_ms)
    assert now.room is None
    look = NextLook.of(now, OUT, SHOP, now_ms)
    assert look.at_ms > now_ms + 30 * MINUTE_MS
    before, then = (assess_piece(SHOP, OUT, look.at_ms + late) for late in (-MINUTE_MS, 0))
    assert (state(before), state(then)) == (WindowState.OPEN, WindowState.CLOSING)


def test_a_watch_leaves_a_piece_in_no_room_alone_until_then() -> None:
    watch, now_ms = Watch(SHOP), at_h(1.5)
    watch.step(now_ms)
    last_call_ms = NextLook.of(watch.pieces_now["B12"], OUT, SHOP, now_ms).at_ms
    watch.looked = set()
    for at_ms in range(now_ms + MINUTE_MS, last_call_ms, MINUTE_MS):
        watch.step(at_ms)
    assert watch.looked == set()
    watch.step(last_call_ms)
    assert watch.looked == {"B12"}
