"""What the trade knows, told by the clocks. Common practice, no source: every fact here is one."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from curewatch.shop.alert import AlertKind
from curewatch.shop.climate import MINUTE_MS
from curewatch.shop.deeds import work_deed
from curewatch.shop.finish import ClockName, MilestoneName
from curewatch.shop.milestones import Milestone, PieceClocks
from curewatch.shop.piece import Coat, Work, WorkKind
from tests.shop.scene import HOUR_MS, at_h, every, finish, piece, readings, shop_of, steady

if TYPE_CHECKING:
    from curewatch.shop.climate import Series
    from curewatch.shop.finish import Finish
    from curewatch.shop.piece import Piece
    from curewatch.shop.reading import Quantity

    Record = dict[tuple[str, Quantity], Series]

WATERBORNE = finish("waterborne")
EIGHT_COATS_H = [0.0, 2.0, 4.0, 6.0, 24.0, 26.0, 28.0, 30.0]
LAST_H = EIGHT_COATS_H[-1]
OPENS, WET_SAND, BUFF = MilestoneName.RECOAT_OPENS, MilestoneName.WET_SAND, MilestoneName.BUFF


def clocks_of(
    hung: Piece, record: Record, days: float = 30.0, *, of: Finish = WATERBORNE
) -> PieceClocks:
    shop = shop_of({"loft": record}, finishes=[of], pieces=[hung])
    return PieceClocks(hung, of, book=shop.book, rooms=shop.rooms, now_ms=at_h(days * 24.0))


def days_after_the_last(stone: Milestone) -> float:
    assert stone.cautious_at is not None
    return (stone.cautious_at - at_h(LAST_H)) / HOUR_MS / 24.0


def test_a_heavy_coat_at_21_degrees_and_half_humid_still_air_takes_the_next_after_an_hour() -> None:
    """Common practice, no source: 45 to 75 minutes."""
    opens = clocks_of(piece("waterborne", [0.0]), steady(2.0), 2.0).ready(OPENS)
    assert opens.reached_at is not None
    assert 45 <= (opens.reached_at - at_h(0.0)) / MINUTE_MS <= 75


def test_eight_coats_are_buff_ready_about_eight_days_after_the_last_and_not_at_four() -> None:
    """Common practice, no source: one full day for every coat."""
    hung = piece("waterborne", EIGHT_COATS_H)
    clock_alone = replace(WATERBORNE, film=None)
    buff = clocks_of(hung, steady(30.0), of=clock_alone).ready(BUFF)
    assert clocks_of(hung, steady(30.0)).ready(BUFF).reached_at == buff.reached_at
    assert 7.8 <= days_after_the_last(buff) <= 8.5
    at_four = clocks_of(hung, steady(30.0), LAST_H / 24.0 + 4.0).ready(BUFF)
    assert (at_four.reached_at, at_four.cautious_at) == (None, None)
    assert at_four.reached_hours == pytest.approx(96.0, rel=1e-6)


@pytest.mark.parametrize("cautious", [True, False])
def test_ten_coats_levelled_twelve_hours_after_the_last_are_refused_with_the_reason(
    *, cautious: bool
) -> None:
    """Common practice, no source: the film is still shrinking and the gloss dies back."""
    hung = piece("waterborne", [*EIGHT_COATS_H, 48.0, 50.0])
    shop = shop_of({"loft": steady(10.0)}, finishes=[WATERBORNE], pieces=[hung])
    refused = work_deed(hung, shop, Work(WorkKind.LEVEL, at_h(62.0)), cautious=cautious)
    assert refused is not None
    assert refused.kind is AlertKind.WORK_EARLY
    assert "12.0 of 60 effective hours on 10 coats" in refused.reason
    assert "still shrinking" in refused.reason
    assert "full time" in refused.next_action


def test_wet_sanding_waits_two_to_three_days() -> None:
    """Common practice, no source."""
    hung = piece("waterborne", EIGHT_COATS_H)
    sand = clocks_of(hung, steady(30.0)).ready(WET_SAND)
    assert 2.0 <= days_after_the_last(sand) <= 3.0


def test_the_same_room_five_degrees_colder_takes_visibly_longer() -> None:
    """Common practice, no source: ten degrees halve the pace, so five cost about two fifths."""
    hung = piece("waterborne", EIGHT_COATS_H)
    warm, cold = (clocks_of(hung, steady(40.0, at), 40.0).ready(BUFF) for at in (21.0, 16.0))
    assert cold.reached_at is not None
    assert warm.reached_at is not None
    ratio = (cold.reached_at - at_h(LAST_H)) / (warm.reached_at - at_h(LAST_H))
    assert 1.3 <= ratio <= 1.6
    assert days_after_the_last(cold) - days_after_the_last(warm) > 2.5


def test_a_cold_night_costs_hours_that_the_daily_mean_hides() -> None:
    """Common practice, no source: what the stove loses by night the day does not bring back."""
    hours = every(10, 10 * 24)
    night = (hours % 24 < 7.0) | (hours % 24 > 20.0)
    swinging = readings(hours, np.where(night, 10.0, 26.0), 0.5)
    mean_c = float(np.mean(np.where(night, 10.0, 26.0)))
    assert mean_c > WATERBORNE.limits.temp_low_c.value - 1.0
    hung = piece("waterborne", [0.0] * 8)
    real, by_mean = (
        clocks_of(hung, record, 9.0).reading(ClockName.CURE)
        for record in (swinging, steady(10.0, mean_c))
    )
    assert real is not None
    assert by_mean is not None
    claimed, earned = by_mean.effective_hours, real.effective_hours
    assert claimed - earned > 5.0


def test_moving_air_opens_a_window_sooner_than_warmth_does() -> None:
    """Common practice, no source: air movement is the strongest lever on a waterborne coat."""
    hung = piece("waterborne", [0.0])
    warm = clocks_of(hung, steady(2.0, 26.0), 2.0).ready(OPENS)
    shop = shop_of({"loft": steady(2.0)}, finishes=[WATERBORNE], pieces=[hung])
    shop.rooms["loft"] = type(shop.rooms["loft"])("loft", "fan")
    fan = PieceClocks(hung, WATERBORNE, book=shop.book, rooms=shop.rooms, now_ms=at_h(48.0)).ready(
        OPENS
    )
    assert fan.reached_at is not None
    assert warm.reached_at is not None
    assert fan.reached_at < warm.reached_at


def test_a_thin_coat_over_a_wet_one_does_not_open_the_window_sooner() -> None:
    """Common practice, no source: coats laid too fast trap what the lower one still holds."""
    wet = piece("waterborne", [0.0])
    over = replace(wet, coats=(wet.coats[0], Coat(at_h(0.2), wet_um=30.0)))
    alone = clocks_of(wet, steady(2.0), 2.0).ready(OPENS)
    opens = clocks_of(over, steady(2.0), 2.0).ready(OPENS)
    assert alone.reached_at is not None
    assert opens.reached_at is not None
    assert opens.reached_at > alone.reached_at


def test_coats_a_day_apart_ask_nothing_of_each_other() -> None:
    far = clocks_of(piece("waterborne", [0.0, 24.0]), steady(4.0), 4.0)
    near = clocks_of(piece("waterborne", [0.0]), steady(4.0), 4.0)
    assert far.ready(OPENS).required_hours == near.ready(OPENS).required_hours
