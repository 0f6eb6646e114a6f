from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from curewatch.science import humid_air
from curewatch.shop.alert import AlertKind
from curewatch.shop.assessment import assess_piece
from curewatch.shop.reading import Urgency
from curewatch.shop.room_conditions import RoomWork, room_conditions
from curewatch.shop.watch import room_work
from curewatch.shop.words import Words
from tests.shop.scene import at_h, every, finish, piece, readings, shop_of, steady

if TYPE_CHECKING:
    from curewatch.shop.climate import Series
    from curewatch.shop.conditions import Condition
    from curewatch.shop.reading import Quantity
    from curewatch.shop.shop import Shop

    Record = dict[tuple[str, Quantity], Series]

K = AlertKind


def loft(record: Record, name: str = "waterborne", *, tags: int = 1) -> Shop:
    hung = [piece(name, [0.0], tag=f"B{n}") for n in range(tags)]
    return shop_of({"loft": record}, finishes=[finish(name)], pieces=hung)


def found(
    shop: Shop, now_h: float, *, told: frozenset[tuple[AlertKind, str]] = frozenset()
) -> list[Condition]:
    now_ms = at_h(now_h)
    these = [assess_piece(shop, one, now_ms) for one in shop.pieces.values()]
    return room_conditions(shop, "loft", now_ms=now_ms, work=room_work(these), told=told)


def kinds(
    shop: Shop, now_h: float, *, told: frozenset[tuple[AlertKind, str]] = frozenset()
) -> list[AlertKind]:
    return [condition.kind for condition in found(shop, now_h, told=told)]


# ---- wet work


@pytest.mark.parametrize(
    ("temp_c", "rh_frac", "said"),
    [
        (17.0, 0.5, "17.0 °C, at least 18.0 °C asked"),
        (28.0, 0.4, "28.0 °C, at most 27.0 °C asked"),
        (21.0, 0.82, "relative humidity 82 %, under 80 % asked"),
    ],
)
def test_wet_work_in_a_room_outside_the_finish_s_limits_is_told(
    temp_c: float, rh_frac: float, said: str
) -> None:
    first = found(loft(steady(2.0, temp_c, rh_frac)), 0.5)[0]
    assert first.kind is K.WET_WORK_CLIMATE
    assert first.subject == "room:loft#waterborne"
    assert said in first.reason
    assert "(B0)" in first.reason
    assert first.hold_s == 600.0


def test_in_a_good_room_there_is_nothing_to_say() -> None:
    assert kinds(loft(steady(2.0)), 0.5) == []


def test_once_the_film_is_dry_the_finish_s_spraying_limits_no_longer_count() -> None:
    shop = loft(steady(3.0, 28.5, 0.4))
    assert K.WET_WORK_CLIMATE in kinds(shop, 0.5)
    assert K.WET_WORK_CLIMATE not in kinds(shop, 12.0)


@pytest.mark.parametrize(
    ("temp_c", "rh_frac", "holds"),
    [
        (18.3, 0.5, True),
        (18.6, 0.5, False),
        (26.7, 0.5, True),
        (26.4, 0.5, False),
        (21.0, 0.79, True),
        (21.0, 0.77, False),
    ],
)
def test_what_is_told_holds_until_the_value_has_passed_its_limit_by_a_margin(
    temp_c: float, rh_frac: float, *, holds: bool
) -> None:
    shop = loft(steady(2.0, temp_c, rh_frac))
    told = frozenset({(K.WET_WORK_CLIMATE, "room:loft#waterborne")})
    assert K.WET_WORK_CLIMATE not in kinds(shop, 0.5)
    assert (K.WET_WORK_CLIMATE in kinds(shop, 0.5, told=told)) is holds


def test_each_finish_in_a_room_is_judged_by_its_own_limits() -> None:
    hung = [piece("waterborne", tag="W"), piece("two-part-urethane", tag="U")]
    both = [finish("waterborne"), finish("two-part-urethane")]
    shop = shop_of({"loft": steady(2.0, 16.0, 0.4)}, finishes=both, pieces=hung)
    first = [c for c in found(shop, 0.5) if c.kind is K.WET_WORK_CLIMATE]
    assert [c.subject for c in first] == ["room:loft#waterborne"]
    assert "(W)" in first[0].reason


def test_a_climate_too_old_decides_nothing() -> None:
    shop = loft(steady(1.0, 10.0))
    shop.pieces["B0"] = replace(shop.pieces["B0"], coats=(piece("waterborne", [23.9]).coats))
    assert K.WET_WORK_CLIMATE in kinds(shop, 24.4)
    assert K.WET_WORK_CLIMATE not in kinds(shop, 24.6)


# ---- the film's own temperature


def test_a_wet_film_is_judged_at_its_own_temperature() -> None:
    shop = loft(readings(every(10, 24), 18.5, 0.2))
    of = finish("waterborne")
    strict = replace(of.limits, film_forming_c=replace(of.limits.temp_low_c, value=13.0))
    shop.finishes["waterborne", 1] = replace(of, limits=strict)
    (cold,) = found(shop, 0.5)
    assert cold.kind is K.FILM_COLD
    assert "cools itself to" in cold.reason
    assert "the air is 18.5 °C" in cold.reason
    told = frozenset({(K.FILM_COLD, cold.subject)})
    film = shop.book.wet_film_c(shop.room("loft"), shop.book.climates["loft"].at(at_h(0.5)))  # type: ignore[arg-type]
    just = replace(of.limits.temp_low_c, value=film - 0.3)
    shop.finishes["waterborne", 1] = replace(of, limits=replace(of.limits, film_forming_c=just))
    assert kinds(shop, 0.5) == []
    assert kinds(shop, 0.5, told=told) == [K.FILM_COLD]


def test_without_humidity_or_in_solvent_no_wet_film_is_judged() -> None:
    dry = readings(every(10, 24), 8.0)
    assert K.FILM_COLD not in kinds(loft(dry), 0.5)
    of = finish("nitro-lacquer")
    shop = loft(readings(every(10, 24), 8.0, 0.3), "nitro-lacquer")
    strict = replace(of.limits, film_forming_c=of.limits.temp_low_c)
    shop.finishes["nitro-lacquer", 1] = replace(of, limits=strict)
    assert K.FILM_COLD not in kinds(shop, 0.2)


# ---- dew


def test_a_surface_within_three_kelvin_of_the_dew_point_is_told() -> None:
    record = readings(every(10, 24), 21.0, 0.6, surface_c=15.0)
    (dew,) = [c for c in found(loft(record), 5.0) if c.kind is K.SURFACE_DEW]
    assert dew.subject == "room:loft"
    expected = float(humid_air.dew_point_c(21.0, 0.6))
    assert f"the surface is only {15.0 - expected:.1f} K above the dew point" in dew.reason
    far = readings(every(10, 24), 21.0, 0.6, surface_c=18.0)
    assert K.SURFACE_DEW not in kinds(loft(far), 5.0)


def test_without_a_surface_the_air_is_compared_and_said_to_be_only_that() -> None:
    (dew,) = [c for c in found(loft(steady(2.0, 21.0, 0.9)), 5.0) if c.kind is K.SURFACE_DEW]
    assert "surface not measured; the air is only 1.7 K above" in dew.reason


def test_a_told_dew_point_holds_half_a_kelvin_longer() -> None:
    record = readings(every(10, 24), 21.0, 0.6, surface_c=16.2)
    told = frozenset({(K.SURFACE_DEW, "room:loft")})
    assert K.SURFACE_DEW not in kinds(loft(record), 5.0)
    assert K.SURFACE_DEW in kinds(loft(record), 5.0, told=told)


def test_without_humidity_nothing_is_said_of_dew() -> None:
    assert K.SURFACE_DEW not in kinds(loft(steady(2.0, 21.0, None)), 5.0)


# ---- blush


def test_fresh_work_in_solvent_that_chills_below_the_dew_point_is_told_at_once() -> None:
    (told,) = [
        c for c in found(loft(steady(2.0, 25.0, 0.9), "nitro-lacquer"), 0.2) if c.kind is K.BLUSH
    ]
    assert (told.subject, told.urgency, told.hold_s) == (
        "room:loft#nitro-lacquer",
        Urgency.NOW,
        0.0,
    )
    assert "below the dew point (B0)" in told.reason
    assert "curewatch piece suspects B0" in told.next_action


@pytest.mark.parametrize(
    ("name", "rh_frac", "now_h"),
    [
        ("nitro-lacquer", 0.9, 0.51),  # half an hour is over
        ("nitro-lacquer", 0.7, 0.2),  # margin still above 0
        ("nitro-lacquer", None, 0.2),
        ("waterborne", 0.95, 0.2),
    ],
)
def test_blush_is_told_of_fresh_solvent_work_alone(
    name: str, rh_frac: float | None, now_h: float
) -> None:
    assert K.BLUSH not in kinds(loft(steady(2.0, 25.0, rh_frac), name), now_h)


def test_a_told_blush_holds_half_a_kelvin_longer() -> None:
    told = frozenset({(K.BLUSH, "room:loft#nitro-lacquer")})
    seen = [
        (kinds(shop, 0.2).count(K.BLUSH), kinds(shop, 0.2, told=told).count(K.BLUSH))
        for rh in (0.7, *(0.76 + 0.005 * n for n in range(20)), 0.9)
        for shop in [loft(steady(2.0, 25.0, rh), "nitro-lacquer")]
    ]
    assert set(seen) == {(0, 0), (0, 1), (1, 1)}


# ---- cold


def test_a_cold_room_on_a_young_film_is_told_once_it_has_been_cold_for_an_hour() -> None:
    (cold,) = [c for c in found(loft(steady(3.0, 14.0)), 20.0) if c.kind is K.COLD_YOUNG_FILM]
    assert cold.hold_s == 3600.0
    assert "below 15.0 °C they earn nothing" in cold.reason
    told = frozenset({(K.COLD_YOUNG_FILM, "room:loft#waterborne")})
    assert K.COLD_YOUNG_FILM in kinds(loft(steady(3.0, 15.3)), 20.0, told=told)
    assert K.COLD_YOUNG_FILM not in kinds(loft(steady(3.0, 15.3)), 20.0)


def test_a_film_past_its_first_days_or_on_a_warm_surface_is_not_young_and_cold() -> None:
    assert K.COLD_YOUNG_FILM not in kinds(loft(steady(4.0, 14.0)), 50.0)
    warm = readings(every(10, 48), 14.0, 0.5, surface_c=19.0)
    assert K.COLD_YOUNG_FILM not in kinds(loft(warm), 20.0)


def test_a_film_without_a_cure_clock_cannot_be_too_cold_for_it() -> None:
    shop = loft(steady(3.0, 2.0))
    shop.finishes["waterborne", 1] = replace(finish("waterborne"), cure=None)
    assert K.COLD_YOUNG_FILM not in kinds(shop, 20.0)


# ---- gaps


def holed(start_h: float, stop_h: float, days: float = 20.0) -> Record:
    hours = every(10, days * 24)
    hours = hours[(hours <= start_h) | (hours >= stop_h)]
    return readings(hours, 21.0, 0.5)


def test_a_gap_is_told_when_it_has_ended_and_for_a_week() -> None:
    shop = loft(holed(10.0, 15.0))
    assert K.GAP not in kinds(shop, 14.0)
    assert K.GAP not in kinds(shop, 15.0)
    (gap,) = [c for c in found(shop, 15.5) if c.kind is K.GAP]
    assert gap.subject == f"room:loft#gap-{at_h(15.0) // 1000}"
    assert "5.0 h without readings earned no hours, Wed 15 Nov 10:00 to Wed 15 Nov 15:00" in (
        gap.reason
    )
    assert K.GAP in kinds(shop, 15.0 + 7 * 24 - 0.1)
    assert K.GAP not in kinds(shop, 15.0 + 7 * 24 + 0.1)


def test_a_gap_longer_than_a_week_is_told_with_its_whole_length() -> None:
    (gap,) = [c for c in found(loft(holed(10.0, 250.0)), 251.0) if c.kind is K.GAP]
    assert "10.0 days without readings" in gap.reason


def test_a_gap_from_before_the_coat_counts_from_the_coat() -> None:
    shop = loft(holed(10.0, 15.0))
    shop.pieces["B0"] = piece("waterborne", [12.0], tag="B0")
    (gap,) = [c for c in found(shop, 15.5) if c.kind is K.GAP]
    assert "3.0 h without" in gap.reason


def test_a_gap_is_nobody_s_concern_once_the_film_has_cured() -> None:
    hours = every(10, 50 * 24)
    hours = hours[(hours < 700.0) | (hours > 705.0)]
    assert K.GAP not in kinds(loft(readings(hours, 21.0, 0.5)), 706.0)


def test_a_room_never_heard_has_nothing_said_of_it_but_by_its_sensors() -> None:
    shop = loft({})
    shop.book = shop_of({}, pieces=[]).book
    assert kinds(shop, 5.0) == []


def test_work_in_no_finish_s_reach_says_nothing() -> None:
    shop = loft(steady(1.0, 2.0))
    empty = RoomWork((), (), ())
    assert room_conditions(shop, "loft", now_ms=at_h(5.0), work=empty, told=()) == []


def test_many_pieces_are_named_and_then_counted() -> None:
    shop = loft(steady(2.0, 16.5), tags=9)
    assert "B0, B1, B2, B3, B4, B5 and 3 more" in found(shop, 0.5)[0].reason


def test_units_are_the_shop_s_in_every_line() -> None:
    shop = loft(steady(2.0, 17.0))
    shop.words = Words(imperial=True)
    assert "63 °F, at least 64 °F asked" in found(shop, 0.5)[0].reason
    assert not [condition for condition in found(shop, 0.5) if "°C" in condition.reason]
