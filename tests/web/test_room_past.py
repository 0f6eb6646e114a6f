"""A room's record for its drawings: minutes, hours before them, and nothing where nothing is."""

from __future__ import annotations

import numpy as np
import pytest

from curewatch.science import humid_air
from curewatch.shop.book import ClockBook
from curewatch.shop.climate import MINUTE_MS, merge
from curewatch.shop.hourly import HOUR_MS
from curewatch.shop.reading import Quantity
from curewatch.shop.room import Room
from curewatch.shop.shop import Shop
from curewatch.web.room_past import RoomPast, room_past
from tests.shop.scene import T0_MS

STEP_MS = 10 * MINUTE_MS
TEMP, RH, PIECE = Quantity.TEMPERATURE, Quantity.HUMIDITY, Quantity.SURFACE_TEMPERATURE


def shop_of(start_ms: int, temps: list[float], *, piece_c: float | None = None) -> Shop:
    """Return a shop whose loft was heard every ten minutes."""
    at = start_ms + STEP_MS * np.arange(len(temps), dtype=np.int64)
    heard = {("s", TEMP): (at, np.array(temps)), ("s", RH): (at, np.full(len(temps), 0.5))}
    if piece_c is not None:
        heard["s", PIECE] = at, np.full(len(temps), piece_c)
    shop = Shop(rooms={"loft": Room("loft")}, sensors=(), book=ClockBook())
    shop.book.splice(
        "loft", merge(heard, first_minute=start_ms // MINUTE_MS, longest_gap_s=1800.0, fills=())
    )
    return shop


def test_it_is_the_track_minute_by_minute_and_unknown_after_the_newest_reading() -> None:
    shop = shop_of(T0_MS, [20.0, 21.0, 22.0])
    past = room_past(shop, "loft", T0_MS, T0_MS + 30 * MINUTE_MS)
    assert past.at_ms.size == 31
    assert past.temp_c[[0, 5, 10, 20]] == pytest.approx([20.0, 20.5, 21.0, 22.0])
    assert np.isnan(past.temp_c[21:]).all()
    assert np.isnan(past.surface_c).all()


def test_a_silence_is_unknown_in_between() -> None:
    quiet = shop_of(T0_MS, [20.0, 21.0])
    late = {("s", TEMP): (np.array([T0_MS, T0_MS + 4 * HOUR_MS]), np.array([20.0, 24.0]))}
    quiet.book.splice(
        "loft", merge(late, first_minute=T0_MS // MINUTE_MS, longest_gap_s=1800.0, fills=())
    )
    past = room_past(quiet, "loft", T0_MS, T0_MS + 4 * HOUR_MS)
    assert np.isnan(past.temp_c[60:180]).all()


def test_before_the_minutes_stand_the_hours_that_are_remembered() -> None:
    shop = shop_of(T0_MS, [20.0, 21.0, 22.0])

    def recall(
        _: str, first_hour: int, stop_hour: int
    ) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
        rows = np.full((3, stop_hour - first_hour), np.nan)
        rows[0, -5:], rows[1, -5:] = 18.0, 1000.0
        return rows

    shop.book.recall = recall
    now_ms = T0_MS + 20 * MINUTE_MS
    whole = room_past(shop, "loft", None, now_ms)
    assert whole.temp_c[:5] == pytest.approx(18.0)
    assert whole.at_ms[0] == T0_MS - 4.5 * HOUR_MS
    assert (np.diff(whole.at_ms) > 0.0).all()
    some = room_past(shop, "loft", T0_MS - 2 * HOUR_MS, now_ms)
    assert np.isfinite(some.temp_c[:2]).all()
    assert some.at_ms[0] == T0_MS - 1.5 * HOUR_MS


def test_a_room_never_heard_has_a_past_of_nothing() -> None:
    silent = Shop(rooms={"loft": Room("loft")}, sensors=(), book=ClockBook())
    for start in (None, T0_MS - 3 * HOUR_MS):
        past = room_past(silent, "loft", start, T0_MS)
        assert np.isnan(past.temp_c).all()
        assert past.over_dew_k.shape == past.emc_pct.shape == past.at_ms.shape


def test_over_the_dew_point_the_piece_counts_and_the_air_stands_for_one_not_measured() -> None:
    dew = float(humid_air.dew_point_c(20.0, 0.5))
    for piece_c, near in ((17.0, 17.0), (None, 20.0)):
        past = room_past(shop_of(T0_MS, [20.0, 20.0], piece_c=piece_c), "loft", T0_MS, T0_MS)
        assert past.over_dew_k[0] == pytest.approx(near - dew)


def test_every_tenth_minute_is_at_whole_tens() -> None:
    at = T0_MS + MINUTE_MS * np.arange(31.0)
    values = np.arange(31.0)
    kept = RoomPast(at, values, values, values).every(STEP_MS)
    assert kept.temp_c.tolist() == [0.0, 10.0, 20.0, 30.0]
