"""Cold check: a hard, brittle film whose air cools too fast, by the room or by being carried."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from curewatch.shop.alert import AlertKind
from curewatch.shop.assessment import assess_piece
from curewatch.shop.cold_check import felt_falls_k
from curewatch.shop.piece import Stay
from curewatch.shop.room_conditions import can_cold_check, room_conditions
from curewatch.shop.watch import room_work
from tests.shop.scene import T0_MS, at_h, every, finish, piece, readings, shop_of

if TYPE_CHECKING:
    from curewatch.shop.climate import Series
    from curewatch.shop.conditions import Condition
    from curewatch.shop.piece import Piece
    from curewatch.shop.reading import Quantity
    from curewatch.shop.shop import Shop

    Record = dict[tuple[str, Quantity], Series]

FALLS_H = 48.0
K = AlertKind.COLD_CHECK


def falling(k_per_h: float, *, hours: float = 2.0, start_c: float = 22.0) -> Record:
    """Return a room that falls at this rate for so long, from the second day on."""
    at = every(5.0, 72.0)
    return readings(at, start_c - k_per_h * np.clip(at - FALLS_H, 0.0, hours), 0.4)


def scene(hung: Piece, **rooms: Record) -> Shop:
    return shop_of(rooms, finishes=[finish(hung.finish)], pieces=[hung])


def found(shop: Shop, now_h: float, *, told: bool = False, room: str = "loft") -> list[Condition]:
    now_ms = at_h(now_h)
    here = [assess_piece(shop, one, now_ms) for one in shop.pieces.values()]
    work = room_work([one for one in here if one.room == room])
    subjects = {f"room:{room}#{one.finish}" for one in here}
    keys = {(K, subject) for subject in subjects} if told else set()
    said = room_conditions(shop, room, now_ms=now_ms, work=work, told=keys)
    return [one for one in said if one.kind is K]


def test_a_room_that_falls_faster_than_the_finish_bears_is_told() -> None:
    shop = scene(piece("nitro-lacquer"), loft=falling(4.5))
    assert found(shop, FALLS_H + 1.0) == []  # the fall must last
    (one,) = found(shop, FALLS_H + 2.0)
    assert one.subject == "room:loft#nitro-lacquer"
    assert "B12 cooled by 9.0 K to 13.0 °C within 2 h" in one.reason
    assert "beyond 4.0 K an hour" in one.reason
    assert "Slow the cooling" in one.next_action


def test_a_slower_fall_is_borne_and_one_that_is_over_is_past() -> None:
    slow = scene(piece("nitro-lacquer"), loft=falling(3.8))
    assert found(slow, FALLS_H + 2.0) == []
    fast = scene(piece("nitro-lacquer"), loft=falling(4.5))
    assert found(fast, FALLS_H + 4.1) == []


def test_what_is_told_holds_until_the_fall_is_past_its_limit_by_a_margin() -> None:
    shop = scene(piece("nitro-lacquer"), loft=falling(3.9))  # 7.8 K; 8 K are borne
    assert found(shop, FALLS_H + 2.0) == []
    assert found(shop, FALLS_H + 2.0, told=True)
    shop = scene(piece("nitro-lacquer"), loft=falling(3.7))
    assert found(shop, FALLS_H + 2.0, told=True) == []


@pytest.mark.parametrize(
    ("name", "brittle"),
    [
        ("nitro-lacquer", True),
        ("acrylic-lacquer", True),
        ("shellac", True),
        ("waterborne", False),
        ("oil-varnish", False),
        ("acid-cure", False),
        ("two-part-urethane", False),
    ],
)
def test_only_brittle_families_are_watched(name: str, *, brittle: bool) -> None:
    shop = scene(piece(name), loft=falling(6.0))
    assert can_cold_check(assess_piece(shop, shop.pieces["B12"], at_h(50.0))) is brittle
    assert bool(found(shop, FALLS_H + 2.0)) is brittle


def test_a_wet_film_and_a_bare_piece_do_not_crack() -> None:
    wet = scene(piece("nitro-lacquer", [FALLS_H + 1.9]), loft=falling(6.0))
    assert found(wet, FALLS_H + 2.0) == []
    bare = scene(piece("nitro-lacquer", []), loft=falling(6.0))
    assert found(bare, FALLS_H + 2.0) == []


def moved(*, back: bool = False) -> Piece:
    stays = [
        Stay("loft", T0_MS, at_h(50.0)),
        Stay("shed", at_h(50.0), at_h(50.5) if back else None),
    ]
    if back:
        stays.append(Stay("loft", at_h(50.5)))
    return piece("nitro-lacquer", stays=stays)


def test_a_piece_carried_from_the_warm_into_the_cold_is_told_at_once() -> None:
    rooms = {"loft": readings(every(5, 72), 21.0, 0.4), "shed": readings(every(5, 72), 6.0, 0.6)}
    shop = scene(moved(), **rooms)
    stayed = piece("nitro-lacquer", tag="S1", room="shed")
    shop.pieces["S1"] = stayed
    (one,) = found(shop, 50.1, room="shed")
    assert "B12 cooled by 15.0 K to 6.0 °C" in one.reason
    assert "S1" not in one.reason
    assert found(shop, 52.1, room="shed") == []


def test_a_piece_carried_into_the_warm_does_not_crack() -> None:
    rooms = {"loft": readings(every(5, 72), 6.0, 0.4), "shed": readings(every(5, 72), 21.0, 0.4)}
    assert found(scene(moved(), **rooms), 50.5, room="shed") == []


def test_a_short_visit_to_the_cold_is_over_when_it_is_back() -> None:
    rooms = {"loft": readings(every(5, 72), 21.0, 0.4), "shed": readings(every(5, 72), 6.0, 0.6)}
    shop = scene(moved(back=True), **rooms)
    assert found(shop, 50.25, room="shed")
    assert found(shop, 50.6) == []


def test_a_piece_from_a_room_without_a_record_is_judged_by_what_is_known() -> None:
    cold = readings(every(5, 72), 6.0, 0.6)
    assert found(scene(moved(), loft={}, shed=cold), 50.5, room="shed") == []
    late = readings(every(5, 20, 52.0), 21.0, 0.4)  # its record begins after the piece had left
    assert found(scene(moved(), loft=late, shed=cold), 50.5, room="shed") == []
    shop = scene(moved(), shed=cold)
    climate = shop.book.climates["shed"].at(at_h(50.5))
    assert climate is not None
    falls = felt_falls_k(shop, ["B12"], room="shed", climate=climate, now_ms=at_h(50.5))
    assert falls == {"B12": 0.0}
