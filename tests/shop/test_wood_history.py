"""A piece's wood, followed from what its rooms asked of it; not told where that is not known."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from curewatch.science.wood import emc_pct
from curewatch.shop.piece import Coat, Stay
from curewatch.shop.wood_history import LIMIT_POINTS, WoodNow, _sentence, wood_now
from tests.shop.scene import DAY_MS, HOUR_MS, T0_MS, at_h, every, finish, piece, readings, shop_of

if TYPE_CHECKING:
    from curewatch.shop.climate import Series
    from curewatch.shop.piece import Piece
    from curewatch.shop.reading import Quantity
    from curewatch.shop.shop import Shop

    Record = dict[tuple[str, Quantity], Series]

COAT_H = 24 * 24.0  # more than three weeks of record come before the first coat
DAMP, DRY = float(emc_pct(20.0, 0.6)), float(emc_pct(20.0, 0.4))


def air(days: float, *spells: tuple[float, float], start_day: float = 0.0) -> Record:
    """Return a record at 20 degC whose humidity changes at these days: (day, fraction)."""
    hours = every(20.0, (days - start_day) * 24.0, start_day * 24.0)
    rh = np.full(hours.size, spells[0][1])
    for day, value in spells[1:]:
        rh[hours >= day * 24.0] = value
    return readings(hours, 20.0, rh)


def shop_with(hung: Piece, **rooms: Record) -> Shop:
    return shop_of(rooms, finishes=[finish(hung.finish)], pieces=[hung])


def wood(hung: Piece, now_h: float, **rooms: Record) -> WoodNow:
    found = wood_now(shop_with(hung, **rooms), hung, at_h(now_h))
    assert found is not None
    return found


def coated(*more_h: float) -> Piece:
    return piece("waterborne", [COAT_H, *more_h])


def test_in_a_room_that_never_changes_the_wood_is_at_rest() -> None:
    found = wood(coated(), COAT_H + 100.0, loft=air(40, (0, 0.5)))
    asked = float(emc_pct(20.0, 0.5))
    assert found.known
    assert [found.room_emc_pct, found.before_emc_pct, found.now_pct] == pytest.approx([asked] * 3)
    assert found.drift_points == pytest.approx(0.0, abs=1e-9)
    assert found.settles_h == 0.0
    assert found.before_coverage_pct == found.coverage_pct == 100.0
    assert "at rest within 1 point" in found.sentence


def test_after_its_room_has_dried_the_wood_follows_in_weeks() -> None:
    found = wood(coated(COAT_H + 48.0), COAT_H + 10 * 24 + 5, loft=air(50, (0, 0.6), (24, 0.4)))
    middle = DRY + (DAMP - DRY) * np.exp(-10.0 / 14.0)
    near = {"abs": 0.01}  # the last reading before the change is joined to it by a straight line
    assert found.at_first_coat_pct == pytest.approx(DAMP, **near)
    two_days = DRY + (DAMP - DRY) * np.exp(-2.0 / 14.0)
    assert found.at_last_coat_pct == pytest.approx(two_days, **near)
    assert found.now_pct == pytest.approx(middle, **near)
    assert found.since_first_coat_points == pytest.approx(middle - DAMP, **near)
    assert found.drift_points == pytest.approx(DRY - middle, **near)
    assert found.settles_h == pytest.approx(
        14 * 24 * np.log((middle - DRY) / LIMIT_POINTS), abs=3.0
    )
    early, late = found.settles_early_h, found.settles_late_h
    assert early is not None
    assert late is not None
    assert early < found.settles_h < late
    assert f"{middle - DRY:.1f} points to lose" in found.sentence
    assert "for a solid body" in found.sentence


def test_damper_air_is_told_as_moisture_to_gain() -> None:
    found = wood(coated(), COAT_H + 4 * 24, loft=air(50, (0, 0.4), (24, 0.6)))
    assert found.drift_points is not None
    assert found.drift_points > 0.0
    assert "points to gain" in found.sentence


def test_days_and_nights_are_not_news_to_wood() -> None:
    hours = every(20.0, 40 * 24.0)
    record = readings(hours, 20.0, 0.5 + 0.15 * np.sin(hours / 24 * 2 * np.pi))
    found = wood(coated(), COAT_H + 100.0, loft=record)
    assert found.drift_points == pytest.approx(0.0, abs=0.15)


# ---- where it is not known


@pytest.mark.parametrize(("days", "known"), [(6.5, False), (7.5, True)])
def test_at_least_a_week_of_the_room_before_the_first_coat_must_be_known(
    days: float, *, known: bool
) -> None:
    record = air(40, (0, 0.5), start_day=24 - days)
    found = wood(coated(), COAT_H + 90.0, loft=record)
    assert found.known is known
    assert found.before_coverage_pct == pytest.approx(100 * days / 14, abs=0.3)
    if not known:
        assert "of the 14 days before the first coat 46 % are known" in found.sentence
        assert found.now_pct is found.drift_points is found.settles_h is None
        assert not found.moves(told=True)


def test_without_humidity_the_wood_cannot_be_told() -> None:
    found = wood(coated(), COAT_H + 90.0, loft=readings(every(20, 40 * 24.0), 20.0))
    assert not found.known
    assert found.room_emc_pct is found.before_emc_pct is None


def test_a_room_not_heard_for_three_days_says_nothing_of_its_wood() -> None:
    hung, rooms = coated(), {"loft": air(30, (0, 0.5))}
    last = wood(hung, 30 * 24.0, **rooms)
    assert last.known
    stale_h = (last.stale_ms - T0_MS) / HOUR_MS
    assert wood(hung, stale_h - 0.1, **rooms).known
    after = wood(hung, stale_h, **rooms)
    assert not after.known
    assert "the room's air of the last three days is not known" in after.sentence


def test_where_the_last_three_days_are_mostly_a_gap_nothing_is_told() -> None:
    record = readings(np.concatenate([every(20, 26.9 * 24), every(20, 24.0, 29 * 24.0)]), 20.0, 0.5)
    found = wood(coated(), 30 * 24.0, loft=record)
    assert not found.known
    assert found.room_emc_pct is None


def test_where_too_much_of_the_time_is_a_gap_nothing_is_told() -> None:
    kept = np.concatenate([every(20, 25 * 24), every(20, 10 * 24.0, 50 * 24.0)])
    found = wood(coated(), 59 * 24.0, loft=readings(kept, 20.0, 0.5))
    assert found.coverage_pct == pytest.approx(100 * 30 / 56, abs=2.0)
    assert not found.known
    assert "of the time since then is known" in found.sentence


def test_a_short_gap_is_bridged() -> None:
    kept = np.concatenate([every(20, 26 * 24), every(20, 4 * 24.0, 28 * 24.0)])
    rh = np.where(kept < 27 * 24, 0.6, 0.4)
    found = wood(coated(), 31.5 * 24.0, loft=readings(kept, 20.0, rh))
    assert found.known
    assert found.now_pct is not None
    assert DRY < found.now_pct < DAMP


def test_a_piece_in_no_room_or_in_one_without_a_record_tells_nothing() -> None:
    gone = piece("waterborne", [COAT_H], stays=[Stay("loft", T0_MS, at_h(COAT_H))])
    shop = shop_with(gone, loft=air(30, (0, 0.5)), cellar={})
    assert wood_now(shop, gone, at_h(COAT_H + 5)) is None
    elsewhere = piece("waterborne", [COAT_H], room="cellar")
    assert wood_now(shop, elsewhere, at_h(COAT_H + 5)) is None


# ---- rooms and days


def test_a_piece_takes_its_past_along_to_another_room() -> None:
    stays = [Stay("loft", at_h(COAT_H - 2), at_h(COAT_H + 48)), Stay("oven", at_h(COAT_H + 48))]
    hung = piece("waterborne", [COAT_H], stays=stays)
    rooms = {"loft": air(60, (0, 0.6)), "oven": air(60, (0, 0.4))}
    found = wood(hung, COAT_H + 7 * 24 + 2, **rooms)
    assert found.at_first_coat_pct == pytest.approx(DAMP)  # before its first stay: in that room
    assert found.room_emc_pct == pytest.approx(DRY)
    assert found.now_pct == pytest.approx(DRY + (DAMP - DRY) * np.exp(-5.0 / 14.0))


def test_what_a_new_room_asks_is_told_from_its_own_record_at_once() -> None:
    stays = [Stay("loft", T0_MS, at_h(COAT_H + 47.5)), Stay("oven", at_h(COAT_H + 47.5))]
    hung = piece("waterborne", [COAT_H], stays=stays)
    found = wood(hung, COAT_H + 49, loft=air(60, (0, 0.6)), oven=air(60, (0, 0.4)))
    assert found.room_emc_pct == pytest.approx(DRY)
    assert found.drift_points == pytest.approx(DRY - DAMP, abs=0.02)


def test_wood_is_judged_once_a_day_counted_from_its_first_coat() -> None:
    hung, rooms = coated(), {"loft": air(50, (0, 0.6), (24, 0.4))}
    early, late = (wood(hung, COAT_H + h, **rooms) for h in (48.6, 72.4))
    assert early == late
    assert early.judged_at == at_h(COAT_H + 48)
    after = wood(hung, COAT_H + 72.5, **rooms)
    assert after.judged_at == early.judged_at + DAY_MS
    assert early.next_ms == at_h(COAT_H + 72.5)


def test_on_the_day_of_the_first_coat_the_wood_is_that_of_the_day_before() -> None:
    found = wood(coated(), COAT_H + 0.2, loft=air(50, (0, 0.6)))
    assert found.judged_at == at_h(COAT_H - 24)
    assert found.at_first_coat_pct == found.now_pct == pytest.approx(DAMP)


def test_before_any_coat_it_tells_whether_the_wood_has_come_to_rest() -> None:
    bare = piece("waterborne", [], stays=[Stay("loft", at_h(COAT_H))])
    found = wood(bare, COAT_H + 3.5 * 24, loft=air(50, (0, 0.6), (24, 0.4)))
    assert found.known
    assert found.at_first_coat_pct is found.at_last_coat_pct is None
    assert found.since_first_coat_points is None
    assert found.drift_points is not None
    assert found.drift_points < -1.0
    ahead = replace(bare, coats=(Coat(at_h(COAT_H + 200)),))  # as a replay knows it
    assert wood(ahead, COAT_H + 3.5 * 24, loft=air(50, (0, 0.6), (24, 0.4))) == found


@pytest.mark.parametrize(
    ("points", "told", "moves"),
    [
        (1.0, False, True),
        (-1.0, False, True),
        (0.9, False, False),
        (0.9, True, True),
        (-0.9, True, True),
        (0.79, True, False),
    ],
)
def test_what_is_told_holds_until_well_inside_the_limit(
    points: float, *, told: bool, moves: bool
) -> None:
    at = WoodNow(judged_at=0, known=True, sentence="", drift_points=points)
    assert at.moves(told=told) is moves


def test_a_plate_that_is_at_rest_already_is_so_at_once() -> None:
    said = _sentence(9.0, 7.9, np.array([0.0, 30.0, 90.0]))
    assert "30 h (a plate at once, 3.8 days for a solid body)" in said
    assert "min for a plate" not in said
    assert "10 h for a plate" in _sentence(9.0, 7.5, np.array([10.0, 30.0, 90.0]))
