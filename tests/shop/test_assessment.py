from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from curewatch.science import humid_air, wood
from curewatch.shop.assessment import PieceNow, assess, assess_piece, assess_room
from curewatch.shop.clocks import Bias
from curewatch.shop.finish import ClockName, MilestoneName
from curewatch.shop.moving_air import AirSource
from curewatch.shop.piece import Coat, Fill, Piece, Work, WorkKind
from curewatch.shop.reading import Quantity, Reading, RejectReason
from curewatch.shop.room import Room
from curewatch.shop.room_plan import RoomPlan
from curewatch.shop.shop import Refusals, Shop
from curewatch.shop.spray import Verdict
from curewatch.shop.spray_here import conditions_of
from curewatch.shop.window import WindowState
from curewatch.shop.words import Words
from tests.shop.scene import (
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

FINISHES = [finish(n) for n in ("waterborne", "two-part-urethane", "dose-cured", "acid-cure")]


def shop_with(*pieces: Piece, temp_c: float = 21.0, days: float = 40.0) -> Shop:
    return shop_of({"loft": steady(days, temp_c)}, finishes=FINISHES, pieces=pieces)


def now_of(hung: Piece, now_h: float, *, temp_c: float = 21.0, days: float = 40.0) -> PieceNow:
    return assess_piece(shop_with(hung, temp_c=temp_c, days=days), hung, at_h(now_h))


# ---- rooms


def test_an_old_reading_s_doubt_has_grown_in_the_room_s_checks_as_in_the_spray_check() -> None:
    shop = shop_of(
        {"loft": readings(every(10, 5.0), 21.0, 0.5)},
        finishes=FINISHES,
        pieces=[piece("waterborne")],
    )
    fresh, old = (assess_room(shop, "loft", at_h(hours)) for hours in (5.0, 5.4))
    assert fresh.fresh
    assert old.fresh
    (now,), (later,) = fresh.checks, old.checks
    for limit, aged_limit in zip(now.limits, later.limits, strict=True):
        assert aged_limit.error >= limit.error
    assert any(b.error > a.error for a, b in zip(now.limits, later.limits, strict=True))


def test_a_room_tells_its_climate_and_what_follows_from_it() -> None:
    record = readings(every(10, 48), 21.0, 0.5, surface_c=18.0)
    shop = shop_of({"loft": record}, finishes=FINISHES, pieces=[piece("waterborne")])
    now = assess_room(shop, "loft", at_h(30.0))
    dew = float(humid_air.dew_point_c(21.0, 0.5))
    assert now.fresh
    assert now.dew_point_c == pytest.approx(dew)
    assert now.surface_over_dew_k == pytest.approx(18.0 - dew)
    assert now.wood_emc_pct == pytest.approx(float(wood.emc_pct(21.0, 0.5)))
    assert now.coverage_24h_pct == pytest.approx(100.0)
    assert [check.finish for check in now.checks] == ["waterborne"]


def test_a_room_says_how_its_air_moves_as_configured_or_as_measured() -> None:
    shop = shop_of({"loft": steady(1.0)}, rooms=[Room("loft", air="gentle")])
    now = assess_room(shop, "loft", at_h(5.0))
    assert now.moves == "gentle"
    measured = replace(now.moving, source=AirSource.AIR_SPEED, speed_m_s=0.42)
    assert replace(now, moving=measured).moves == "measured at 0.42 m/s"


def test_without_a_surface_sensor_its_distance_from_the_dew_point_is_not_known() -> None:
    now = assess_room(shop_with(), "loft", at_h(30.0))
    assert now.dew_point_c is not None
    assert now.surface_over_dew_k is None


def test_a_stale_climate_is_shown_and_decides_nothing() -> None:
    shop = shop_with(piece("waterborne"), days=1.0)
    now = assess_room(shop, "loft", at_h(24.6))
    assert now.climate is not None
    assert not now.fresh
    assert (now.dew_point_c, now.wood_emc_pct) == (None, None)
    assert now.checks[0].verdict is Verdict.UNKNOWN
    assert assess_room(shop, "loft", at_h(24.4)).fresh


def test_a_room_never_heard_knows_nothing() -> None:
    shop = shop_of({"loft": {}}, finishes=FINISHES)
    now = assess_room(shop, "loft", at_h(1.0))
    assert (now.climate, now.fresh, now.coverage_24h_pct) == (None, False, 0.0)


def test_without_humidity_there_is_no_dew_point_nor_in_bone_dry_air() -> None:
    bare = shop_of({"loft": steady(1.0, rh_frac=None)})
    assert assess_room(bare, "loft", at_h(5.0)).wood_emc_pct is None
    dry = assess_room(shop_of({"loft": steady(1.0, rh_frac=0.0005)}), "loft", at_h(5.0))
    assert dry.wood_emc_pct is not None
    assert dry.dew_point_c is None


def test_a_room_s_conditions_carry_its_air_its_pressure_and_its_sensors_budget() -> None:
    room = Room("loft", air="fan", pressure_pa=90_000.0)
    shop = shop_of(
        {"loft": steady(1.0)}, rooms=[room], biases={"loft": Bias(0.7, 0.04)}, finishes=FINISHES
    )
    here = conditions_of(shop, "loft", shop.book.climates["loft"].at(at_h(5.0)))
    assert (here.air_speed_m_s, here.pressure_pa) == (2.0, 90_000.0)
    assert here.bias == Bias(0.7, 0.04)
    assert (here.temp_c, here.rh_frac, here.surface_c) == (21.0, 0.5, None)


def test_a_sensor_tells_its_newest_values_and_what_was_refused_of_it() -> None:
    shop = shop_with()
    for quantity, value in ((Quantity.TEMPERATURE, 21.5), (Quantity.HUMIDITY, 0.45)):
        shop.heard["rack", quantity] = Reading("rack", quantity, at_h(2.0), value)
    shop.heard_ms["rack"] = np.array([at_h(2.0)], dtype=np.int64)
    shop.frozen_since["rack"] = at_h(1.0)
    shop.refusals["rack"] = (Refusals(RejectReason.DUPLICATE, 3, at_h(1.5)),)
    (now,) = assess_room(shop, "loft", at_h(3.0)).sensors
    assert (now.temp_c, now.rh_frac, now.surface_c) == (21.5, 0.45, None)
    assert (now.last_heard_at, now.frozen_since) == (at_h(2.0), at_h(1.0))
    assert now.refused[0].count == 3


# ---- pieces


def test_the_whole_shop_leaves_out_the_pieces_that_have_left() -> None:
    here, gone = piece("waterborne"), replace(piece("waterborne", tag="C1"), left_ms=at_h(2.0))
    shop = shop_with(here, gone)
    assert [p.tag for p in assess(shop, at_h(1.0)).pieces] == ["B12", "C1"]
    later = assess(shop, at_h(2.0))
    assert [p.tag for p in later.pieces] == ["B12"]
    assert [room.name for room in later.rooms] == ["loft"]
    assert later.at_ms == at_h(2.0)


def test_a_piece_without_a_coat_asks_for_one() -> None:
    now = now_of(piece("waterborne", []), 5.0)
    assert (now.coats, now.window, now.clocks) == (0, None, {})
    assert now.sentence == "No coat is logged yet."
    assert now.next_action == "Log the first one: curewatch coat B12"
    assert now.milestone(MilestoneName.BUFF) is None


def test_a_piece_tells_every_clock_milestone_and_gap_since_its_last_coat() -> None:
    now = now_of(piece("waterborne", [0.0, 3.0]), 33.0)
    assert set(now.clocks) == {ClockName.DRYING, ClockName.CURE, ClockName.WALL}
    assert now.clocks[ClockName.CURE].effective_hours == pytest.approx(30.0)
    assert [stone.name for stone in now.milestones] == list(MilestoneName)
    assert now.last_coat_at == at_h(3.0)
    assert now.coverage_pct == pytest.approx(100.0)
    assert now.gaps == ()
    assert (now.wet, now.young) == (False, True)


def test_a_film_is_wet_until_it_sands_dry_and_young_in_its_first_days() -> None:
    hung = piece("waterborne")
    wet = [(h, now_of(hung, h).wet, now_of(hung, h).young) for h in (1.0, 2.5, 47.9, 48.1)]
    assert wet == [(1.0, True, True), (2.5, False, True), (47.9, False, True), (48.1, False, False)]


def test_where_a_finish_has_no_dry_sanding_it_is_wet_until_the_next_coat() -> None:
    of = finish("waterborne")
    asked = {k: v for k, v in of.requirements.items() if k is not MilestoneName.DRY_SAND}
    hung = piece("waterborne")
    shop = shop_with(hung)
    shop.finishes["waterborne", 1] = replace(of, requirements=asked, young_h=None)
    assert assess_piece(shop, hung, at_h(0.9)).wet
    assert not assess_piece(shop, hung, at_h(1.5)).wet
    assert not assess_piece(shop, hung, at_h(1.5)).young


def test_a_film_cured_by_dose_is_unknown_and_never_wet() -> None:
    now = now_of(piece("dose-cured", planned=1), 5.0)
    assert not now.wet
    assert now.coverage_pct is None
    assert now.window is not None
    assert now.window.state is WindowState.UNKNOWN
    assert now.sentence == now.window.sentence
    assert now.next_at is None


def test_at_the_instant_of_a_coat_no_coverage_is_told() -> None:
    assert now_of(piece("waterborne", [5.0]), 5.0).coverage_pct is None


@pytest.mark.parametrize(
    ("name", "now_h", "sentence", "due"),
    [
        ("two-part-urethane", 0.5, "Too early for the next coat", "opens_at"),
        ("two-part-urethane", 2.0, "Recoat window open until", "closes_at"),
        ("two-part-urethane", 3.5, "Recoat window closing", "closes_at"),
        ("acid-cure", 5.0, "In the forbidden middle", "reopens_at"),
    ],
)
def test_while_coats_are_to_come_the_window_leads(
    name: str, now_h: float, sentence: str, due: str
) -> None:
    now = now_of(piece(name, planned=3), now_h)
    assert now.sentence.startswith(sentence)
    assert now.window is not None
    assert now.next_at == getattr(now.window, due)
    assert now.next_at is not None


def test_after_a_missed_window_the_scuff_and_the_coat_lead_while_coats_are_planned() -> None:
    now = now_of(piece("two-part-urethane", planned=3), 9.0)
    assert now.sentence.startswith("Recoat window missed: it closed ")
    assert now.next_action == finish("two-part-urethane").missed_window
    assert now.window is not None
    assert now.next_at == now.window.passed_at
    assert now.next_at is not None


def test_before_a_middle_the_far_side_is_when_the_next_job_is_due() -> None:
    acid = now_of(piece("acid-cure", planned=3), 60.0)
    assert acid.window is not None
    assert acid.next_at == acid.window.reopens_at
    assert acid.sentence.startswith("Past the far side of the forbidden middle since ")


def test_a_missed_window_where_nobody_said_how_many_coats_leaves_the_lead_to_the_film() -> None:
    now = now_of(piece("two-part-urethane"), 9.0)
    assert now.sentence.startswith("Not ready to wet-sand: 9 of 72 effective hours.")
    assert now.next_action.startswith("Expect ")
    assert now.next_action.endswith(
        f"For another coat: {finish('two-part-urethane').missed_window}"
    )


def test_what_may_spoil_a_film_stands_in_its_sentence_for_as_long_as_it_is_told() -> None:
    late = piece("two-part-urethane", [0.0, 30.0], planned=2)
    soon, old = now_of(late, 40.0), now_of(late, 30.0 + 8 * 24.0)
    (deed,) = soon.deeds
    assert f"The coat of Thu 16 Nov 6:00: {deed.reason} {deed.next_action}" in soon.sentence
    assert "may not bond" in soon.sentence
    assert "may not bond" not in old.sentence
    dead = Coat(at_h(4.0), mixed_at_ms=at_h(0.0))
    pot = now_of(piece("two-part-urethane", [dead], planned=3), 5.5)
    assert "Sprayed from a pot aged " in pot.sentence
    early = piece("waterborne", [0.0, 0.2], planned=2)
    assert "The coat of" not in now_of(early, 1.0).sentence  # haze shows; it is told as an alert


def test_after_an_early_buff_the_gloss_is_to_be_judged_not_buffed() -> None:
    hung = piece("waterborne", [0.0], planned=1)
    level = Work(WorkKind.LEVEL, at_h(40.0))
    anyway = Work(WorkKind.BUFF, at_h(45.0), anyway=True)
    buffed = replace(hung, work=(level, anyway))
    young, cured = now_of(buffed, 50.0), now_of(buffed, 900.0)
    assert young.sentence.startswith("Buffed early, on Thu 16 Nov 21:00: 50 of ")
    assert "its gloss may still go" in young.sentence
    assert young.next_action.startswith("Judge the gloss from ")
    assert cured.sentence.startswith("Buffed early, on Thu 16 Nov 21:00; its hours are met since ")
    assert cured.next_action.startswith("Judge the gloss; level and buff once more")
    for now in (young, cured):
        assert "eady to buff" not in now.sentence
    frozen = now_of(buffed, 50.0, temp_c=2.0)
    assert frozen.sentence.startswith("Buffed early, on Thu 16 Nov 21:00: 0 of ")
    assert frozen.next_action.startswith("Look to the room")


def test_ahead_a_milestone_names_its_date_the_earliest_and_the_one_to_be_sure() -> None:
    hung = piece("waterborne", [0.0], planned=1)
    now = now_of(hung, 10.0, temp_c=25.0)
    assert now.next_action.startswith("Expect Thu 16 Nov afternoon; Thu 16 Nov morning at")
    assert " at the earliest, Sat 18 Nov " in now.next_action
    assert " to be sure (in " in now.next_action
    stone = now.milestone(MilestoneName.WET_SAND)
    assert stone is not None
    assert now.next_at == stone.eta_cautious_at


def test_where_a_person_planned_the_room_s_air_the_date_says_so_and_follows_it() -> None:
    hung = piece("waterborne", [0.0], planned=1)
    shop = shop_with(hung, temp_c=21.0)
    alone = assess_piece(shop, hung, at_h(10.0))
    shop.plans = {"loft": (RoomPlan("loft", at_h(12.0), temp_c=30.0, rh_frac=0.5),)}
    warmed = assess_piece(shop, hung, at_h(10.0))
    assert warmed.next_action.endswith(", if the room goes as planned.")
    assert "planned" not in alone.next_action
    for name in (MilestoneName.WET_SAND, MilestoneName.BUFF, MilestoneName.FULL_CURE):
        before, after = alone.milestone(name), warmed.milestone(name)
        assert before is not None
        assert after is not None
        assert after.planned
        assert not before.planned
        assert after.eta_at < before.eta_at  # type: ignore[operator]


def test_between_the_rule_and_its_late_end_the_rule_is_just_met() -> None:
    hung = piece("waterborne", [0.0], planned=1)
    shop = shop_with(hung, temp_c=28.0)
    stone = assess_piece(shop, hung, at_h(300.0)).milestone(MilestoneName.WET_SAND)
    assert stone is not None
    assert stone.reached_at is not None
    now = assess_piece(shop, hung, stone.reached_at + 60_000)
    assert now.sentence.startswith("The rule to wet-sand is just met (60 of 60 effective hours)")
    assert "witness panel" in now.next_action


def test_once_ready_a_piece_says_since_when_and_to_test_first() -> None:
    now = now_of(piece("waterborne", [0.0], planned=1), 80.0)
    assert now.sentence.startswith("Ready to wet-sand since")
    assert "test where it does not show" in now.next_action
    stone = now.milestone(MilestoneName.WET_SAND)
    assert stone is not None
    assert now.next_at == stone.cautious_at


def test_a_film_is_ready_to_buff_since_its_hours_were_met_and_it_was_levelled() -> None:
    coated = piece("waterborne", [0.0], planned=1)
    for level_h in (62.0, 96.0):
        hung = replace(coated, work=piece("", work=[(WorkKind.LEVEL, level_h)]).work)
        now = now_of(hung, 100.0)
        stone = now.milestone(MilestoneName.BUFF)
        assert stone is not None
        assert stone.cautious_at is not None
        assert at_h(62.0) < stone.cautious_at < at_h(96.0)
        assert now.next_at == max(stone.cautious_at, at_h(level_h))
        assert now.sentence.startswith(
            f"Ready to buff since {Words().at(now.next_at, at_h(100.0))}"
        )


def test_each_job_done_brings_the_next() -> None:
    coated = piece("waterborne", [0.0], planned=1)
    sanded = replace(coated, work=piece("", work=[(WorkKind.LEVEL, 70.0)]).work)
    buffed = replace(coated, work=piece("", work=[(WorkKind.BUFF, 75.0)]).work)
    assert "wet-sand" in now_of(coated, 80.0).sentence
    assert now_of(sanded, 80.0).sentence.startswith("Ready to buff since")
    assert now_of(buffed, 80.0).sentence.startswith("Not ready to hand over as cured: 80 of 504")


def test_in_a_room_that_earns_nothing_no_date_is_told() -> None:
    now = now_of(piece("waterborne", [0.0], planned=1), 100.0, temp_c=5.0)
    assert "no date can be told" in now.sentence
    assert "Look to the room" in now.next_action
    assert now.next_at is None


def test_poor_coverage_is_said_beside_the_hours() -> None:
    hung = piece("waterborne", [0.0], planned=1)
    assert "Readings cover only 50 % of the time." in now_of(hung, 48.0, days=1.0).sentence


def test_what_happens_later_does_not_show_now() -> None:
    hung = replace(piece("waterborne", [0.0, 9.0]), coats=(Coat(T0_MS), Coat(at_h(9.0))))
    assert (now_of(hung, 5.0).coats, now_of(hung, 9.0).coats) == (1, 2)


def test_a_piece_says_which_of_its_hours_a_person_assumed() -> None:
    hung = piece("waterborne")
    fill = Fill("loft", at_h(2.0), at_h(8.0), 21.0, 0.5, "the hub was off", 4)
    shop = shop_of({"loft": {}}, finishes=FINISHES, pieces=[hung])
    heard = np.concatenate((every(10.0, 2.0), every(10.0, 12.0, 8.0)))
    shop.book.splice("loft", block(readings(heard, 21.0, 0.5), fills=[fill]))
    shop.fills["loft"] = (fill,)
    now = assess_piece(shop, hung, at_h(20.0))
    assert now.fills == (fill,)
    assert now.assumed.startswith("Of these hours 6.0 h rest on a fill (number 4: the hub was off)")
    assert now.sentence.endswith(now.assumed)
    early = assess_piece(shop, hung, at_h(1.9))
    assert (early.fills, early.assumed) == ((), "")
