"""How long a film was too cold in its first days."""

from __future__ import annotations

import numpy as np
import pytest

from curewatch.shop.assessment import assess_piece
from curewatch.shop.chill import chilled_h
from curewatch.shop.milestones import PieceClocks
from curewatch.shop.piece import Stay
from curewatch.shop.reading import Quantity
from tests.shop.scene import HOUR_MS, at_h, finish, piece, shop_of

WATERBORNE = finish("waterborne")
HOURS = 240


def room(cold_from_h: float, cold_to_h: float, surface_c: float | None = None):  # noqa: ANN201
    """Return a room's readings: 21 degC, 10 degC for a while; a surface sensor if told."""
    times = np.array([at_h(n / 6) for n in range(6 * HOURS)], dtype=np.int64)
    at = (times - at_h(0.0)) / HOUR_MS
    air = np.where((at >= cold_from_h) & (at < cold_to_h), 10.0, 21.0)
    record = {
        ("s", Quantity.TEMPERATURE): (times, air),
        ("s", Quantity.HUMIDITY): (times, np.full(times.size, 0.5)),
    }
    if surface_c is not None:
        record["s", Quantity.SURFACE_TEMPERATURE] = (times, np.full(times.size, surface_c))
    return record


def clocks(record, coats_h=(0.0,), now_h: float = 200.0, **scene):  # noqa: ANN001, ANN003, ANN201
    """Return the clocks of a waterborne piece, and its shop."""
    hung = piece("waterborne", coats_h, **scene)
    shop = shop_of({"loft": record}, finishes=[WATERBORNE], pieces=[hung])
    of = PieceClocks(hung, WATERBORNE, book=shop.book, rooms=shop.rooms, now_ms=at_h(now_h))
    return of, shop


@pytest.mark.parametrize(
    ("cold", "coats_h", "wanted"),
    [
        ((10.0, 20.0), (0.0,), 10.0),  # within the first two days
        ((40.0, 60.0), (0.0,), 8.0),  # the second half came too late to harm it
        ((60.0, 80.0), (0.0,), 0.0),
        ((60.0, 80.0), (0.0, 50.0), 20.0),  # young again with the second coat
        ((10.0, 20.0), (0.0, 4.0), 10.0),  # two young coats are cold once
    ],
)
def test_cold_hours_count_while_a_coat_is_young(
    cold: tuple[float, float], coats_h: tuple[float, ...], wanted: float
) -> None:
    of, shop = clocks(room(*cold), coats_h)
    assert chilled_h(of, shop.book) == pytest.approx(wanted, abs=0.4)


def test_the_pieces_own_warmth_counts_where_it_is_measured() -> None:
    of, shop = clocks(room(10.0, 20.0, surface_c=18.0))
    assert chilled_h(of, shop.book) == 0.0


def test_cold_in_a_room_the_piece_was_not_in_is_not_its_own() -> None:
    of, shop = clocks(room(10.0, 20.0), stays=[Stay("loft", at_h(-1.0), at_h(5.0))])
    assert chilled_h(of, shop.book) == 0.0
    elsewhere, shop = clocks(room(10.0, 20.0), stays=[Stay("cellar", at_h(-1.0))])
    assert chilled_h(elsewhere, shop.book) == 0.0
    late, shop = clocks(room(10.0, 20.0), stays=[Stay("loft", at_h(100.0))])
    assert chilled_h(late, shop.book) == 0.0


def test_a_ready_piece_that_was_chilled_says_that_the_hours_may_not_tell() -> None:
    hung = piece("waterborne", (0.0,), planned=1)
    shop = shop_of({"loft": room(5.0, 20.0)}, finishes=[WATERBORNE], pieces=[hung])
    now = assess_piece(shop, hung, at_h(150.0))
    assert now.sentence.startswith("Ready to")
    assert "too cold for 15 h" in now.sentence


def test_a_film_cured_by_dose_has_no_floor_to_be_under() -> None:
    dose = finish("dose-cured")
    hung = piece("dose-cured", (0.0,))
    shop = shop_of({"loft": room(5.0, 20.0)}, finishes=[dose], pieces=[hung])
    of = PieceClocks(hung, dose, book=shop.book, rooms=shop.rooms, now_ms=at_h(100.0))
    assert chilled_h(of, shop.book) == 0.0
