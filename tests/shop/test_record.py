"""A piece's history told coat by coat."""

from __future__ import annotations

from dataclasses import replace

import pytest

from curewatch.shop.joining import Joining
from curewatch.shop.piece import Fill, Outcome, Piece, Stay, WorkKind
from curewatch.shop.record import RecordFacts, air_between, record_facts
from tests.shop.scene import (
    DAY_MS,
    HOUR_MS,
    T0_MS,
    at_h,
    block,
    every,
    finish,
    piece,
    readings,
    shop_of,
    steady,
)


def told(body: Piece | None = None, *, now_h: float = 60.0, days: float = 3.0) -> RecordFacts:
    """Return the record of a piece in a steady room."""
    here = body or piece("waterborne", (2.0, 5.0))
    shop = shop_of({"loft": steady(days)}, finishes=[finish("waterborne")], pieces=[here])
    return record_facts(shop, here, at_h(now_h))


def test_a_steady_room_at_the_reference_gives_wall_hours_and_its_own_climate() -> None:
    found = told()
    first, second = found.coats
    assert first.wall_h is first.drying_h is first.cure_h is None
    assert (second.wall_h, second.room) == (3.0, "loft")
    assert second.cure_h == pytest.approx(3.0, rel=1e-6)  # 21 degC and 50 % are the reference
    assert second.drying_h is not None
    assert second.air.mean_temp_c == pytest.approx(21.0)
    assert second.air.dampest_rh_frac == pytest.approx(0.5)
    assert second.air.coverage_pct == pytest.approx(100.0)


def test_the_air_of_a_coat_runs_from_an_hour_before_it_to_the_next_or_a_day() -> None:
    first, second = told().coats
    assert (first.air.start_ms, first.air.stop_ms) == (at_h(1.0), at_h(5.0))
    assert (second.air.start_ms, second.air.stop_ms) == (at_h(4.0), at_h(29.0))
    assert told(now_h=6.0).coats[1].air.stop_ms == at_h(6.0)


def test_means_are_of_what_was_measured_with_the_coldest_and_the_dampest() -> None:
    hours = every(10.0, 6.0)
    climate = readings(hours, [18.0 if h < 3.0 else 24.0 for h in hours], 0.4 + 0.02 * hours)
    body = piece("waterborne", (0.0,))
    shop = shop_of({"loft": climate}, finishes=[finish("waterborne")], pieces=[body])
    air = air_between(shop, body, T0_MS, at_h(6.0))
    assert (air.coldest_c, air.warmest_c) == (18.0, 24.0)
    assert air.mean_temp_c == pytest.approx(21.0, abs=0.1)
    assert air.mean_rh_frac == pytest.approx(0.46, abs=0.001)
    assert air.dampest_rh_frac == pytest.approx(0.52, abs=0.001)


def test_a_silence_is_a_gap_and_lowers_the_coverage() -> None:
    hours = [*every(10.0, 10.0), *every(10.0, 10.0, 20.0)]
    body = piece("waterborne", (0.0,))
    climate = readings(hours, 21.0, 0.5)
    shop = shop_of({"loft": climate}, finishes=[finish("waterborne")], pieces=[body])
    found = record_facts(shop, body, at_h(30.0))
    assert found.gaps == ((at_h(10.0), at_h(20.0)),)
    assert found.air is not None
    assert found.air.coverage_pct == pytest.approx(100.0 * 20.0 / 30.0, abs=0.1)


def test_what_a_person_filled_in_is_told_apart() -> None:
    body = piece("waterborne", (0.0,))
    shop = shop_of({"loft": {}}, finishes=[finish("waterborne")], pieces=[body])
    climate = readings(every(10.0, 2.0), 21.0, 0.5)
    fill = Fill("loft", at_h(2.0), at_h(4.0), 19.0, 0.55, "a thermometer on the wall")
    shop.book.splice("loft", block(climate, fills=[fill]))
    air = air_between(shop, body, T0_MS, at_h(4.0))
    assert air.assumed_pct == pytest.approx(50.0, abs=1.0)
    assert air.coldest_c == pytest.approx(19.0)


def test_nothing_is_told_of_a_room_without_readings_or_a_piece_in_none() -> None:
    nowhere = piece("waterborne", (2.0,), stays=[])
    found = told(nowhere)
    assert found.coats[0].room is None
    assert found.coats[0].air.mean_temp_c is None
    assert found.coats[0].air.dampest_rh_frac is None
    assert found.coats[0].air.coverage_pct == 0.0
    unheard = piece("waterborne", (2.0,), room="cellar")
    assert told(unheard).coats[0].air.coverage_pct == 0.0


def test_a_stay_that_had_not_begun_or_was_over_has_no_part() -> None:
    stays = [Stay("attic", T0_MS, at_h(1.0)), Stay("loft", at_h(1.0))]
    body = piece("waterborne", (2.0,), stays=stays)
    attic = readings(every(10.0, 72.0), 5.0, 0.9)
    shop = shop_of(
        {"loft": steady(3.0), "attic": attic}, finishes=[finish("waterborne")], pieces=[body]
    )
    air = record_facts(shop, body, at_h(30.0)).coats[0].air
    assert air.coldest_c == pytest.approx(21.0)
    assert air_between(shop, body, T0_MS, at_h(2.0)).coldest_c == pytest.approx(5.0)


def test_work_and_findings_stand_in_order_with_the_age_the_film_had() -> None:
    body = replace(
        piece("waterborne", (0.0,), work=[(WorkKind.SCUFF, 30.0)]),
        outcomes=(Outcome(at_h(20.0), "fine"), Outcome(at_h(90.0), "clear")),
    )
    found = told(body)
    assert [stage.entry.at_ms for stage in found.stages] == [at_h(20.0), at_h(30.0)]
    assert found.stages[1].age.effective_h == pytest.approx(30.0, rel=1e-6)
    assert found.last.effective_h == pytest.approx(60.0, rel=1e-6)


def test_a_piece_that_left_is_told_up_to_then_and_looked_at_again_later() -> None:
    body = replace(
        piece("waterborne", (0.0,), stays=[Stay("loft", T0_MS, at_h(48.0))]),
        left_ms=at_h(48.0),
        outcomes=(Outcome(at_h(59.0), "fine"),),
    )
    found = told(body)
    assert found.until_ms == at_h(48.0) - 1
    assert found.gaps == ()
    assert found.standing.room == "loft"
    assert len(found.stages) == 1
    assert told(body, now_h=40.0).until_ms == at_h(40.0)


def test_a_bare_piece_has_a_record_without_coats() -> None:
    found = told(piece("waterborne", ()))
    assert (found.coats, found.air, found.gaps) == ((), None, ())
    assert found.last.wall_h is None


def test_a_finish_without_a_cure_clock_tells_no_cure_hours() -> None:
    body = piece("dose-cured", (0.0, 4.0))
    shop = shop_of({"loft": steady(2.0)}, finishes=[finish("dose-cured")], pieces=[body])
    found = record_facts(shop, body, at_h(20.0))
    assert found.coats[1].cure_h is None
    assert found.coats[1].wall_h == 4.0


def test_parts_are_named_and_a_part_says_what_it_is_joined_onto() -> None:
    body, neck = piece("waterborne", (0.0,)), piece("waterborne", (0.0,), tag="N7")
    shop = shop_of({"loft": steady(2.0)}, finishes=[finish("waterborne")], pieces=[body, neck])
    shop.joinings = (Joining("N7", "B12", T0_MS + DAY_MS),)
    shop.parts = {"N7": neck}
    now_ms = T0_MS + DAY_MS + HOUR_MS
    assert record_facts(shop, body, now_ms).parts == ("N7",)
    assert record_facts(shop, neck, now_ms).part_of == "B12"
