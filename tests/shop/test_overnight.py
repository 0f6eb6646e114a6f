"""What a cold night cost: by hand, and by what must hold of every night."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curewatch.shop.finish import ClockName, Figure, MilestoneName
from curewatch.shop.overnight import Lost, coldest_c, lost_hours, piece_lost
from curewatch.shop.overnight_hours import Stretch
from curewatch.shop.piece import Piece, Stay
from curewatch.shop.reading import Standing
from curewatch.shop.room_plan import RoomPlan
from tests.shop.scene import HOUR_MS, at_h, every, finish, piece, readings, shop_of

if TYPE_CHECKING:
    from curewatch.shop.finish import Finish
    from curewatch.shop.shop import Shop

CURE, DRYING = ClockName.CURE, ClockName.DRYING
WATERBORNE, DOSE = finish("waterborne"), finish("dose-cured")
DAYS = 12
EVENING = 10 * 24 + 18.0  # of the eleventh day
NIGHT = Stretch(at_h(EVENING), at_h(EVENING + 14.0))
HUNG = (Stay("loft", at_h(0.0)),)


def bare(lowest_c: float = -30.0) -> Finish:
    """Return a finish with a plain band of 30 to 90 kJ/mol and a floor far below any room."""
    oil = finish("oil-varnish")
    assert oil.cure is not None
    figure = Figure(60.0, Standing.FROM_MEMORY, low=30.0, high=90.0)
    floor = replace(oil.cure.lower_limit_c, value=lowest_c)
    return replace(oil, cure=replace(oil.cure, ea_kj_mol=figure, lower_limit_c=floor))


BARE = bare()


def shop_with(
    cold_c: float = 8.0,
    *,
    cold_from_h: float = EVENING,
    cold_h: float = 10.0,
    hung: tuple[Piece, ...] = (),
    days: float = DAYS,
    hole: tuple[float, float] | None = None,
) -> Shop:
    """Return a shop whose loft is at 21 degC but for one cold stretch; `hole` has no readings."""
    hours = every(10.0, days * 24.0)
    if hole is not None:
        hours = hours[(hours < hole[0]) | (hours > hole[1])]
    cold = (hours >= cold_from_h) & (hours < cold_from_h + cold_h)
    series = readings(hours, np.where(cold, cold_c, 21.0), 0.5)
    return shop_of({"loft": series}, finishes=[WATERBORNE, BARE, DOSE], pieces=hung)


def lost(shop: Shop, own: Finish = BARE, stretch: Stretch = NIGHT) -> Lost:
    """Return what a stretch cost in the loft."""
    found = lost_hours(shop, own, HUNG, stretch, clock=CURE)
    assert found is not None
    return found


def test_ten_hours_at_eight_degrees_cost_four_to_eight_hours() -> None:
    # by hand: exp(-Ea/R (1/281.15 - 1/294.15)) is 0.567 at 30 kJ/mol, 0.182 at 90, 0.321 at 60;
    # ten hours earn 5.7, 1.8, 3.2, so 4.3, 8.2, 6.8 are lost
    found = lost(shop_with(), stretch=Stretch(at_h(EVENING), at_h(EVENING + 10.0)))
    assert found.covered_h == pytest.approx(10.0)
    assert found.against_reference is not None
    assert found.against_reference.low == pytest.approx(4.3, abs=0.1)
    assert found.against_reference.likely == pytest.approx(6.8, abs=0.1)
    assert found.against_reference.high == pytest.approx(8.2, abs=0.1)


def test_a_room_that_was_warm_before_was_expected_to_stay_so() -> None:
    found = lost(shop_with())
    assert found.expected is not None
    assert found.against_expected is not None
    assert found.expected.likely == pytest.approx(14.0, abs=0.2)
    assert found.expected.low <= found.expected.likely <= found.expected.high
    assert found.against_expected.likely == pytest.approx(6.8, abs=0.3)
    assert found.against_expected.low < 4.4
    assert found.against_expected.high > 8.0


def test_a_room_that_is_cold_every_night_loses_nothing_unexpected() -> None:
    hours = every(10.0, DAYS * 24.0)
    cold = (hours % 24.0 >= 18.0) | (hours % 24.0 < 8.0)
    series = readings(hours, np.where(cold, 14.0, 21.0), 0.5)
    shop = shop_of({"loft": series}, finishes=[BARE])
    found = lost(shop)
    assert found.against_expected is not None
    assert found.against_reference is not None
    assert found.against_expected.likely == pytest.approx(0.0, abs=0.3)
    assert found.against_reference.low > 2.0


def test_what_came_after_the_start_does_not_move_what_was_expected() -> None:
    mild, cold = lost(shop_with(20.0)), lost(shop_with(2.0))
    assert mild.expected == cold.expected


@pytest.mark.parametrize("since_h", [1.0, 3.0, 6.0, 12.0])
def test_after_a_night_at_nothing_no_more_is_expected_than_the_room_ever_gave(
    since_h: float,
) -> None:
    shop = shop_with(8.0, cold_from_h=EVENING - 10.0 - since_h)
    found = lost(shop, WATERBORNE)
    assert found.expected is not None
    assert found.expected.likely <= 14.0 * 1.001
    assert found.against_expected is not None
    assert found.against_expected.likely <= 0.02


def test_what_was_planned_beforehand_was_expected_and_what_was_said_afterwards_was_not() -> None:
    told_h = EVENING - 1.0
    expected = []
    for entered_h in (told_h, EVENING + 14.0):
        shop = shop_with()
        off = RoomPlan("loft", at_h(EVENING), temp_c=8.0, left_alone=True)
        shop.plans = {"loft": (replace(off, entered_ms=at_h(entered_h)),)}
        found = lost(shop)
        assert found.expected is not None
        expected.append(found.expected.likely)
    unplanned = lost(shop_with())
    assert unplanned.expected is not None
    assert expected[0] < 0.7 * unplanned.expected.likely
    assert expected[1] == unplanned.expected.likely


def test_a_room_that_earns_nothing_is_expected_to_earn_nothing() -> None:
    shop = shop_with(8.0, cold_from_h=0.0, cold_h=DAYS * 24.0 + 1.0)
    found = lost(shop, WATERBORNE)
    assert found.expected is not None
    assert found.expected.high == pytest.approx(0.0, abs=1e-6)
    assert found.against_reference is not None
    assert found.against_reference.likely == pytest.approx(14.0)


def test_below_the_floor_every_hour_is_lost_whatever_the_activation_energy() -> None:
    found = lost(shop_with(), WATERBORNE, Stretch(at_h(EVENING + 0.5), at_h(EVENING + 9.5)))
    assert found.against_reference is not None
    assert found.against_reference.low == found.against_reference.high == pytest.approx(9.0)


def test_hours_without_readings_are_not_counted() -> None:
    hole = (EVENING + 2.0, EVENING + 6.0)
    found = lost(shop_with(hole=hole))
    assert found.covered_h == pytest.approx(10.0, abs=0.4)
    assert found.against_reference is not None
    assert found.against_reference.high < found.covered_h


def test_a_record_that_ends_in_the_stretch_is_counted_to_its_end() -> None:
    found = lost(shop_with(days=(EVENING + 4.0) / 24.0))
    assert found.covered_h == pytest.approx(4.0, abs=0.1)


def test_where_nothing_was_measured_nothing_is_told() -> None:
    late = Stretch(at_h(400.0), at_h(410.0))
    found = lost(shop_with(), stretch=late)
    assert found == Lost(CURE, 0.0, None, None, None, None, 10.0)
    found = replace(found, unseen_h=14.0)
    nowhere = lost_hours(shop_with(), BARE, (), NIGHT, clock=CURE)
    assert nowhere == found
    cellar = lost_hours(shop_with(), BARE, (Stay("cellar", at_h(0.0)),), NIGHT, clock=CURE)
    assert cellar == found
    assert lost_hours(shop_with(), DOSE, HUNG, NIGHT, clock=CURE) is None


def test_without_a_record_before_the_stretch_nothing_was_to_be_expected() -> None:
    begin = EVENING + 1.0
    hours = every(10.0, 24.0, start_h=begin)
    shop = shop_of({"loft": readings(hours, 10.0, 0.5)}, finishes=[BARE])
    found = lost(shop)
    assert found.covered_h == pytest.approx(13.0, abs=0.1)
    assert found.against_reference is not None
    assert found.expected is None
    assert found.against_expected is None


def test_the_coldest_reading_is_told() -> None:
    shop = shop_with(8.0)
    assert coldest_c(shop, HUNG, NIGHT) == pytest.approx(8.0)
    assert coldest_c(shop, (Stay("cellar", at_h(0.0)),), NIGHT) is None
    assert coldest_c(shop, (Stay("loft", at_h(0.0), at_h(1.0)),), NIGHT) is None


def waiting(coat_h: float, *, tag: str = "B12", coats: int = 4, planned: int = 4) -> Piece:
    """Return a piece with all its coats laid at one hour."""
    return piece("waterborne", [coat_h] * coats, tag=tag, planned=planned)


def test_a_piece_comes_later_by_about_the_hours_that_were_lost() -> None:
    hung = waiting(EVENING - 60.0)
    shop = shop_with(16.0, hung=(hung,))
    found = piece_lost(shop, hung, NIGHT)
    assert found is not None
    assert found.next_up is MilestoneName.BUFF
    assert found.later_h is not None
    assert found.later_h.low <= found.later_h.likely <= found.later_h.high
    # by hand at 55 kJ/mol: 16 degC earns 0.679 an hour, so ten hours lose 3.2; the outlook after
    # it earns 0.9 to 1 an hour: 3.2 to 3.6 h later
    assert 3.2 <= found.later_h.likely <= 3.6
    assert found.blind_h == pytest.approx(0.0, abs=0.01)
    assert not found.young
    assert found.harmed is False


def test_a_young_film_in_the_cold_may_be_harmed() -> None:
    young, old = waiting(EVENING - 6.0, tag="Y1"), waiting(EVENING - 100.0, tag="O1")
    shop = shop_with(8.0, hung=(young, old))
    chilled = piece_lost(shop, young, NIGHT)
    past = piece_lost(shop, old, NIGHT)
    assert chilled is not None
    assert past is not None
    assert chilled.young
    assert chilled.chilled_h == pytest.approx(10.0, abs=0.3)
    assert chilled.harmed is True
    assert chilled.floor_c == 15.0
    assert past.chilled_h == 0.0
    assert past.harmed is False


def test_only_the_cold_of_the_stretch_counts_and_coats_of_it_too() -> None:
    before = waiting(EVENING - 20.0)
    shop = shop_with(8.0, cold_from_h=EVENING - 10.0, cold_h=12.0, hung=(before,))
    found = piece_lost(shop, before, NIGHT)
    assert found is not None
    assert found.chilled_h == pytest.approx(2.0, abs=0.3)
    fresh = waiting(EVENING + 1.0)
    shop = shop_with(8.0, cold_h=6.0, hung=(fresh,))
    found = piece_lost(shop, fresh, NIGHT)
    assert found is not None
    assert found.chilled_h == pytest.approx(5.0, abs=0.3)
    assert found.young


def test_a_young_film_that_was_not_watched_may_or_may_not_be_harmed() -> None:
    hung = waiting(EVENING - 6.0)
    shop = shop_with(21.0, hole=(EVENING + 2.0, EVENING + 8.0), hung=(hung,))
    found = piece_lost(shop, hung, NIGHT)
    assert found is not None
    assert found.unseen_h == pytest.approx(6.0, abs=0.4)
    assert found.harmed is None


def test_a_bare_piece_and_one_that_is_cured_have_nothing_to_lose() -> None:
    naked = piece("waterborne", [])
    shop = shop_with(hung=(naked,))
    assert piece_lost(shop, naked, NIGHT) is None
    later = waiting(EVENING + 20.0)
    assert piece_lost(shop_with(hung=(later,)), later, NIGHT) is None
    quick = replace(
        WATERBORNE,
        requirements={
            name: replace(rule, hours=replace(rule.hours, value=1.0), per_coat=False)
            for name, rule in WATERBORNE.requirements.items()
        },
    )
    done = waiting(10.0)
    shop = shop_with(hung=(done,))
    shop.finishes["waterborne", 1] = quick
    found = piece_lost(shop, done, NIGHT)
    assert found is not None
    assert found.next_up is None
    assert found.later_h is None


def test_a_finish_without_clocks_has_no_milestone_and_no_young_days() -> None:
    hung = piece("dose-cured", [EVENING - 6.0])
    found = piece_lost(shop_with(hung=(hung,)), hung, NIGHT)
    assert found is not None
    assert found.next_up is None
    assert found.floor_c is None
    assert found.harmed is False


def test_a_piece_between_coats_waits_for_its_next_one() -> None:
    hung = waiting(EVENING - 0.2, coats=1)
    shop = shop_with(8.0, cold_h=1.0, hung=(hung,))
    soon = Stretch(at_h(EVENING - 0.2), at_h(EVENING + 0.4))
    found = piece_lost(shop, hung, soon)
    assert found is not None
    assert found.next_up is MilestoneName.RECOAT_OPENS


def test_how_much_later_is_unknown_without_an_outlook_or_a_room() -> None:
    moved = replace(waiting(EVENING - 60.0), stays=(Stay("loft", at_h(0.0), at_h(EVENING + 5.0)),))
    found = piece_lost(shop_with(16.0, hung=(moved,)), moved, NIGHT)
    assert found is not None
    assert found.next_up is MilestoneName.BUFF
    assert found.later_h is None
    away = replace(
        moved,
        stays=(
            Stay("loft", at_h(0.0), at_h(EVENING + 5.0)),
            Stay("cellar", at_h(EVENING + 5.0)),
        ),
    )
    found = piece_lost(shop_with(16.0, hung=(away,)), away, NIGHT)
    assert found is not None
    assert found.later_h is None


def test_where_the_room_earns_nothing_no_date_can_be_late() -> None:
    hung = waiting(EVENING - 60.0)
    series = readings(every(10.0, DAYS * 24.0), 5.0, 0.5)
    shop = shop_of({"loft": series}, finishes=[WATERBORNE], pieces=[hung])
    found = piece_lost(shop, hung, NIGHT)
    assert found is not None
    assert found.next_up is MilestoneName.WET_SAND
    assert found.later_h is None


def test_later_is_counted_by_the_outlook_at_the_end_and_not_by_the_week_before() -> None:
    hung = waiting(EVENING - 60.0)
    shop = shop_with(16.0, hung=(hung,))
    shop.plans = {"loft": (RoomPlan("loft", NIGHT.stop_ms, temp_c=16.0, rh_frac=0.5),)}
    slow = piece_lost(shop, hung, NIGHT)
    assert slow is not None
    assert slow.later_h is not None
    short = lost(shop, WATERBORNE).against_expected
    assert short is not None
    # the room is kept at 16 degC from then on, where an hour is worth 0.679
    assert slow.later_h.likely == pytest.approx(short.likely / 0.679, rel=0.03)


def test_what_would_have_come_within_the_night_is_later_by_the_rest_of_the_night_too() -> None:
    hung = waiting(EVENING - 90.0)  # 96 h asked: due 6 h into the night
    shop = shop_with(14.0, hung=(hung,))
    found = piece_lost(shop, hung, NIGHT)
    assert found is not None
    assert found.next_up is MilestoneName.BUFF
    assert found.later_h is not None
    # ten hours below the floor earn nothing: 90 + 4 h by the morning, and 2 h more at 21 degC,
    # as 16 h after the evening in place of 6
    assert found.later_h.likely == pytest.approx(10.0, abs=0.5)


def test_a_clock_that_credits_unseen_hours_nothing_comes_later_by_them() -> None:
    hung = waiting(EVENING - 60.0)
    shop = shop_with(21.0, hung=(hung,), hole=(EVENING + 6.0, EVENING + 8.0))
    found = piece_lost(shop, hung, NIGHT)
    assert found is not None
    assert found.later_h is not None
    assert found.blind_h == pytest.approx(2.0, abs=0.4)
    assert found.later_h.likely == pytest.approx(2.0, abs=0.4)


def test_where_little_was_measured_no_time_is_told_but_bounds_of_what_was_lost() -> None:
    hung = waiting(EVENING - 60.0)
    shop = shop_with(21.0, hung=(hung,), hole=(EVENING + 1.0, EVENING + 13.5))
    found = piece_lost(shop, hung, NIGHT)
    assert found is not None
    assert found.next_up is MilestoneName.BUFF
    assert found.later_h is None
    assert found.blind_h == pytest.approx(12.6, abs=0.4)
    cost = lost(shop, BARE)
    assert not cost.told
    assert cost.unseen_h == pytest.approx(12.6, abs=0.4)
    assert cost.bounds is not None
    least, most = cost.bounds
    assert least <= 0.0
    assert most == pytest.approx(cost.unseen_h, abs=0.1)
    assert lost(shop_with()).told


def test_no_bounds_are_given_where_no_outlook_says_what_the_unseen_hours_could_earn() -> None:
    away = (Stay("loft", at_h(0.0), at_h(EVENING + 2.0)), Stay("cellar", at_h(EVENING + 2.0)))
    nowhere = away[:1]
    for stays in (away, nowhere):
        found = lost_hours(shop_with(), BARE, stays, NIGHT, clock=CURE)
        assert found is not None
        assert found.covered_h == pytest.approx(2.0)
        assert found.against_expected is not None
        assert found.bounds is None
        assert not found.told


def test_how_much_later_is_unknown_from_a_room_that_was_never_heard_on() -> None:
    late = EVENING + 13.0
    gone = replace(waiting(EVENING - 60.0), stays=(Stay("loft", at_h(0.0), at_h(late)),))
    moved = replace(
        gone, stays=(Stay("loft", at_h(0.0), NIGHT.stop_ms), Stay("cellar", NIGHT.stop_ms))
    )
    for hung in (gone, moved):
        found = piece_lost(shop_with(16.0, hung=(hung,)), hung, NIGHT)
        assert found is not None
        assert found.blind_h < 1.1
        assert found.later_h is None


def test_a_profile_without_a_cure_clock_waits_for_its_drying_alone() -> None:
    hung = waiting(EVENING - 60.0)
    shop = shop_with(hung=(hung,))
    shop.finishes["waterborne", 1] = replace(WATERBORNE, cure=None)
    found = piece_lost(shop, hung, NIGHT)
    assert found is not None
    assert found.next_up is None


@settings(max_examples=15, deadline=None)
@given(
    cold_c=st.floats(0.0, 20.9),
    shorter_h=st.floats(0.5, 8.0),
    more_h=st.floats(0.0, 5.0),
)
def test_a_longer_cold_stretch_never_loses_less(
    cold_c: float, shorter_h: float, more_h: float
) -> None:
    short, long = (
        lost(shop_with(cold_c, cold_h=hours)) for hours in (shorter_h, shorter_h + more_h)
    )
    for kind in ("against_reference", "against_expected"):
        less, more = getattr(short, kind), getattr(long, kind)
        for end in ("low", "likely", "high"):
            assert getattr(more, end) >= getattr(less, end) - 1e-9
        assert more.low <= more.likely <= more.high


@settings(max_examples=15, deadline=None)
@given(split_h=st.floats(1.0, 13.0))
def test_a_night_is_the_sum_of_its_parts(split_h: float) -> None:
    shop = shop_with()
    at = NIGHT.start_ms + round(split_h * HOUR_MS)
    whole = lost(shop).against_reference
    parts = [
        lost(shop, stretch=one).against_reference
        for one in (Stretch(NIGHT.start_ms, at), Stretch(at, NIGHT.stop_ms))
    ]
    assert whole is not None
    assert sum(part.likely for part in parts if part is not None) == pytest.approx(
        whole.likely, abs=1e-6
    )
