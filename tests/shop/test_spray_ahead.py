"""The hours ahead of a spray check, and when the next coat may follow."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
import pytest

from curewatch.science import evaporation
from curewatch.shop.finish import DryingLaw, MilestoneName
from curewatch.shop.laws import usual_drying_h
from curewatch.shop.room import Room
from curewatch.shop.room_plan import RoomPlan
from curewatch.shop.spray import SEVERITY, Conditions, Verdict, spray_check
from curewatch.shop.spray_ahead import Ahead, SprayAhead, leads, spray_ahead
from curewatch.shop.spray_answer import Job, room_answer, typed_answer
from curewatch.shop.spray_outlook import LEADS_H, MOST_H, PATHS, air_ahead, steady_air
from curewatch.shop.spray_recoat import recoat
from curewatch.shop.thinners import LACQUER_THINNERS
from curewatch.shop.words import Words
from tests.shop.scene import DAY_MS, HOUR_MS, at_h, every, finish, readings, shop_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from curewatch.shop.shop import Shop
    from curewatch.shop.spray_answer import SprayAnswer
    from curewatch.shop.spray_outlook import AirAhead

WORDS = Words()
WATERBORNE, NITRO = finish("waterborne"), finish("nitro-lacquer")


def heated(hour: float) -> float:
    """Return the temperature of a shop that is heated from 7 to 18 h [degC]."""
    return 21.0 if 7.0 <= hour % 24.0 < 18.0 else 13.0


def steady(value: float) -> Callable[[float], float]:
    return lambda _: value


@lru_cache
def shop(
    hours: float,
    temp: Callable[[float], float] = heated,
    rh: float | None = 0.5,
    *,
    swings: float = 0.0,
) -> Shop:
    """Return a shop whose loft has a record of so many hours."""
    at = every(10.0, hours)
    rng = np.random.default_rng(1)
    noise = swings * np.repeat(rng.normal(size=at.size // 18 + 1), 18)[: at.size]
    temps = np.array([temp(float(hour)) for hour in at]) + noise
    temps[-1] = temp(hours)
    return shop_of({"loft": readings(at, temps, rh)})


def now_ms(hours: float) -> int:
    return at_h(hours)


def asked(
    hours: float,
    *,
    of: str = "waterborne",
    temp: Callable[[float], float] = heated,
    coats: int = 1,
    swings: float = 0.0,
    **known: float | None,
) -> SprayAnswer:
    here = replace(Conditions(temp(hours), 0.5), **known)  # type: ignore[arg-type]
    facts = shop(hours, temp, swings=swings)
    return room_answer(facts, "loft", Job(finish(of), coats=coats), here=here, now_ms=now_ms(hours))


def turned(found: SprayAhead | None, hours: float) -> list[float | None]:
    assert found is not None
    turns = (found.turns.early, found.turns.likely, found.turns.late)
    return [None if at is None else (at - now_ms(hours)) / HOUR_MS for at in turns]


AFTERNOON = 9 * 24 + 14.0
NIGHT = 9 * 24 + 4.0


# ---- the outlook as the check takes it


def test_the_air_goes_on_from_the_newest_reading_with_a_band_around_it() -> None:
    air = air_ahead(shop(AFTERNOON, swings=1.0), "loft", now_ms(AFTERNOON))
    assert air is not None
    assert air.temp_c.shape == air.rh_frac.shape == (len(PATHS), LEADS_H.size)
    likely, colder, warmer, damper, drier = range(len(PATHS))
    assert air.temp_c[likely, 0] == pytest.approx(21.0)
    assert air.rh_frac[likely, 0] == pytest.approx(0.5, abs=0.01)
    assert np.all(air.temp_c[colder] < air.temp_c[likely])
    assert np.all(air.temp_c[warmer] > air.temp_c[likely])
    assert np.all(air.rh_frac[damper] >= air.rh_frac[likely])
    assert np.all(air.rh_frac[drier] <= air.rh_frac[likely])
    # the ends of temperature keep the likely vapour: colder air is the damper for it
    assert np.all(air.rh_frac[colder] >= air.rh_frac[likely])
    assert air.at_ms(4) == now_ms(AFTERNOON) + HOUR_MS
    assert not air.planned


def test_a_room_never_heard_and_a_room_without_temperature_have_no_air_ahead() -> None:
    assert air_ahead(shop_of({}, rooms=[Room("loft")]), "loft", now_ms(1.0)) is None
    damp_only = shop_of({"loft": readings(every(10.0, 3.0), None, 0.5)})
    assert air_ahead(damp_only, "loft", now_ms(3.0)) is None
    assert steady_air(Conditions(None, 0.5)) is None


def test_a_room_without_a_hygrometer_has_temperature_ahead_and_no_humidity() -> None:
    bare = shop_of({"loft": readings(every(10.0, 30.0), 21.0, None)})
    air = air_ahead(bare, "loft", now_ms(30.0))
    assert air is not None
    assert np.all(np.isnan(air.rh_frac))
    assert air.conditions(Conditions(21.0, None), 4).rh_frac is None


def test_hours_from_before_the_minute_record_count_and_a_gap_in_it_does_not() -> None:
    """Two days ago the sensor was silent for hours; the outlook is none the worse for it."""
    at = np.concatenate([every(10.0, 24.0 * 6), every(10.0, 48.0, start_h=24.0 * 6 + 8.0)])
    temps = np.array([heated(float(hour)) for hour in at])
    gappy = shop_of({"loft": readings(at, temps, 0.5)})
    end = float(at[-1])
    air = air_ahead(gappy, "loft", now_ms(end))
    assert air is not None
    assert np.all(np.isfinite(air.temp_c))
    assert air.temp_c[0, 0] == pytest.approx(heated(end), abs=0.5)


def test_what_a_person_says_the_room_will_be_is_obeyed() -> None:
    told = shop_of({"loft": readings(every(10.0, AFTERNOON), 21.0, 0.5)})
    told.plans["loft"] = (
        RoomPlan("loft", now_ms(AFTERNOON) + HOUR_MS, temp_c=12.0, why="heater off"),
    )
    here = Conditions(21.0, 0.5)
    job = Job(WATERBORNE, coats=4)
    found = room_answer(told, "loft", job, here=here, now_ms=now_ms(AFTERNOON))
    assert found.ahead is not None
    assert found.ahead.planned
    assert found.now.verdict is Verdict.FIT
    assert found.verdict is Verdict.WAIT
    assert turned(found.ahead, AFTERNOON)[1] == pytest.approx(2.5, abs=1.1)  # settles in 3 h


def test_a_colder_piece_stays_colder_and_a_warmer_one_comes_to_the_air() -> None:
    air = steady_air(Conditions(20.0, 0.5))
    assert air is not None
    cold, warm, none = (Conditions(20.0, 0.5, surface_c=at) for at in (17.0, 26.0, None))
    assert air.conditions(cold, 8).surface_c == pytest.approx(17.0)
    assert air.conditions(warm, 8).surface_c == pytest.approx(20.0)
    assert air.conditions(none, 8).surface_c is None
    assert np.all(air.on_piece(cold) == 17.0)
    assert np.all(air.on_piece(none) == 20.0)
    assert air.conditions(replace(cold, liquid_c=9.0), 1).liquid_c is None  # of now only
    # where the air now is not known nothing is taken off
    assert air.conditions(Conditions(None, None, surface_c=3.0), 1).surface_c == 20.0


# ---- which hours


def test_quarter_hours_are_judged_at_first_and_hours_later_up_to_the_end() -> None:
    assert leads(0.1) == [1]
    assert leads(1.0) == [1, 2, 3, 4]
    assert leads(1.1) == [1, 2, 3, 4, 5]
    assert leads(4.3) == [1, 2, 3, 4, 5, 6, 7, 8, 12, 16, 18]
    assert leads(1000.0)[-1] == round(MOST_H * 4)


# ---- the span


def test_a_steady_room_is_fit_until_the_last_coat_has_flashed() -> None:
    found = asked(AFTERNOON, temp=steady(21.0), coats=3)
    assert found.ahead is not None
    assert found.recoat is not None
    assert (found.verdict, found.ahead.verdict, found.ahead.limit) == (
        Verdict.FIT,
        Verdict.FIT,
        None,
    )
    assert turned(found.ahead, AFTERNOON) == [None, None, None]
    latest = found.recoat.last.latest
    assert latest is not None
    ends = (found.ahead.until_ms - now_ms(AFTERNOON)) / HOUR_MS
    assert latest <= ends < latest + 0.25
    assert found.clears == ()
    assert not found.ahead.cut


def test_an_evening_that_turns_is_told_and_decides() -> None:
    """Heating stops at 18 h; one coat at 14 h is through by then, four are not."""
    one, four = (asked(AFTERNOON, coats=coats) for coats in (1, 4))
    assert (one.verdict, one.ahead_decides) == (Verdict.FIT, False)
    assert one.decisive is one.now
    assert four.now.verdict is Verdict.FIT
    assert four.verdict is Verdict.WAIT
    assert four.ahead_decides
    assert four.binding is not None
    assert four.binding.name == "air-low"
    assert four.ahead is not None
    assert four.ahead.limit == "air-low"
    assert turned(four.ahead, AFTERNOON)[1] == 4.0
    fewer = next(one for one in four.clears if one.change == "fewer-coats")
    assert (fewer.by, fewer.unit) == (2, "coats")
    assert fewer.words.startswith("only 2 coats now")
    again = asked(AFTERNOON, coats=2)
    assert again.ahead is not None
    assert again.ahead.verdict is fewer.gives


def test_fewer_coats_are_no_way_out_where_not_even_one_is_through() -> None:
    late = 9 * 24 + 17.5
    found = asked(late, coats=3)
    assert found.now.verdict is Verdict.FIT
    assert found.verdict is Verdict.WAIT
    assert "fewer-coats" not in {one.change for one in found.clears}


def test_one_coat_of_several_is_said_in_the_singular() -> None:
    found = asked(9 * 24 + 16.0, coats=2)
    fewer = next(one for one in found.clears if one.change == "fewer-coats")
    assert fewer.words.startswith("only 1 coat now")


def test_a_room_that_warms_in_the_morning_says_to_wait_and_the_wait_holds() -> None:
    found = asked(NIGHT)
    assert found.now.verdict is Verdict.WAIT
    wait = next(one for one in found.clears if one.change == "wait")
    assert wait.by == pytest.approx(3.0)
    assert wait.at_ms == now_ms(NIGHT + 3.0)
    assert wait.gives is not None
    assert wait.gives.is_go
    then = spray_check(WATERBORNE, Conditions(heated(NIGHT + 3.0), 0.5 * 1497.0 / 2488.0), WORDS)
    assert then.verdict.is_go  # the night's vapour in the morning's air, by Magnus


def test_a_room_that_never_warms_has_no_hour_to_wait_for() -> None:
    found = asked(NIGHT, temp=steady(12.0))
    assert "wait" not in {one.change for one in found.clears}


def test_a_wide_band_costs_the_verdict_its_ease_and_may_turn_early() -> None:
    """The room has swung by kelvins at random: an end of the band is too cold, the middle not."""
    found = asked(AFTERNOON, temp=steady(20.0), swings=2.0, coats=4)
    assert found.now.verdict is Verdict.FIT
    assert found.ahead is not None
    assert found.verdict is Verdict.TIGHT
    assert found.ahead_decides
    early, likely, late = turned(found.ahead, AFTERNOON)
    assert early is not None
    assert (likely, late) == (None, None)
    assert found.ahead.limit == "air-low"
    assert found.binding is not None
    assert found.binding.name == "air-low"


def test_the_span_is_no_better_than_its_worst_likely_hour_and_told_by_its_limit() -> None:
    for found in (asked(AFTERNOON, coats=4), asked(NIGHT), asked(AFTERNOON, temp=steady(18.4))):
        assert found.ahead is not None
        worst = max((hour.likely.verdict for hour in found.ahead.hours), key=SEVERITY.__getitem__)
        assert SEVERITY[found.ahead.verdict] >= SEVERITY[worst]
        for hour in found.ahead.hours:
            assert SEVERITY[hour.best.verdict] <= SEVERITY[hour.likely.verdict]
            assert SEVERITY[hour.worst.verdict] >= SEVERITY[hour.likely.verdict]
    tight = asked(AFTERNOON, temp=steady(18.4)).ahead
    assert tight is not None
    assert tight.limit == "air-low"


def test_a_finish_cured_by_dose_is_looked_ahead_as_far_as_can_be_and_says_so() -> None:
    found = asked(AFTERNOON, of="dose-cured", temp=steady(21.0))
    assert found.recoat is None
    assert found.ahead is not None
    assert found.ahead.cut
    assert found.ahead.until_ms == now_ms(AFTERNOON) + 3 * DAY_MS


def test_a_room_whose_air_is_not_known_has_nothing_ahead() -> None:
    found = asked(AFTERNOON, temp_c=None, rh_frac=None)
    assert (found.ahead, found.recoat) == (None, None)
    assert found.verdict is Verdict.UNKNOWN
    assert [one.words for one in found.clears] == ["measure temperature and humidity"]


def test_lacquer_is_looked_ahead_with_its_own_thinner() -> None:
    air = steady_air(Conditions(25.0, 0.74), now_ms(0.0))
    assert air is not None
    look = Ahead(NITRO, Conditions(25.0, 0.74), air, WORDS)
    margins = [
        one.likely.blush.margin_wood_k
        for ahead in (look, replace(look, thinner=LACQUER_THINNERS["retarded"]))
        for one in spray_ahead(ahead, 0.5).hours[:1]
        if one.likely.blush is not None
    ]
    assert margins[1] > margins[0] + 0.5


# ---- the next coat


def test_in_the_sheet_s_room_the_next_coat_takes_the_sheet_s_time() -> None:
    for name in ("waterborne", "nitro-lacquer", "two-part-urethane", "shellac"):
        found = typed_answer(Job(finish(name)), Conditions(21.0, 0.5), WORDS).recoat
        assert found is not None
        assert found.sheet_h == usual_drying_h(finish(name))
        assert found.one.likely == pytest.approx(found.sheet_h, rel=1e-3)
        assert (found.sheet_temp_c, found.sheet_rh_pct) == (21.0, 50.0)
        assert found.one == found.last


def test_damp_air_keeps_a_waterborne_coat_as_much_longer_as_its_water_leaves_slower() -> None:
    """At 80 % a still room takes 2.9 times as long (worked out beside the drying law)."""
    found = typed_answer(Job(WATERBORNE), Conditions(21.0, 0.8), WORDS).recoat
    assert found is not None
    assert found.one.likely == pytest.approx(2.9 * found.sheet_h, rel=0.02)
    law = evaporation.WaterDrying()
    rate = float(evaporation.drying_rate_water(21.0, 0.8, law=law))
    assert found.one.likely == pytest.approx(found.sheet_h / rate)


def test_humidity_keeps_no_lacquer_waiting() -> None:
    dry, damp = (typed_answer(Job(NITRO), Conditions(21.0, rh), WORDS).recoat for rh in (0.4, 0.7))
    assert dry is not None
    assert damp is not None
    assert dry.one.likely == damp.one.likely


def test_the_band_holds_the_finish_s_doubt_at_eight_in_ten() -> None:
    """By hand: load 45 to 85, share 0.7 to 0.9, each even by ratio, beside the rate's own."""
    here = Conditions(21.0, 0.5)
    found = typed_answer(Job(WATERBORNE), here, WORDS).recoat
    assert found is not None
    parts = [np.log(85 / 45) / 12**0.5, np.log(0.9 / 0.7) / 12**0.5]
    law = evaporation.WaterDrying()
    spread = evaporation.spread_water(21.0, 0.5, law=law, temp_bias_k=0.3, rh_bias_frac=0.025)
    parts += [float(spread.temp), float(spread.rh), float(spread.air)]
    by = np.exp(1.2816 * np.hypot.reduce(parts))
    assert found.one.earliest == pytest.approx(found.sheet_h / by, rel=1e-3)
    assert found.one.latest == pytest.approx(found.sheet_h * by, rel=1e-3)


def test_a_finish_that_cures_as_it_dries_follows_the_piece_and_its_own_activation_energy() -> None:
    urethane = finish("two-part-urethane")
    warm, cold = (
        typed_answer(Job(urethane), Conditions(22.0, 0.5, surface_c=at), WORDS).recoat
        for at in (22.0, 16.0)
    )
    assert warm is not None
    assert cold is not None
    assert warm.one.likely is not None
    assert cold.one.likely is not None
    assert cold.one.likely > 1.2 * warm.one.likely
    assert urethane.cure is not None
    sure = replace(urethane.cure.ea_kj_mol, low=None, high=None)
    narrow = recoat(
        replace(urethane, cure=replace(urethane.cure, ea_kj_mol=sure)),
        Conditions(16.0, 0.5),
        _steady(Conditions(16.0, 0.5)),
    )
    wide = recoat(urethane, Conditions(16.0, 0.5), _steady(Conditions(16.0, 0.5)))
    assert narrow is not None
    assert wide is not None
    assert narrow.one.latest is not None
    assert wide.one.latest is not None
    assert narrow.one.latest < wide.one.latest


def _steady(here: Conditions) -> AirAhead:
    air = steady_air(here)
    assert air is not None
    return air


def test_in_saturated_air_a_coat_never_flashes_and_the_check_says_wait() -> None:
    found = typed_answer(Job(WATERBORNE), Conditions(21.0, 1.0), WORDS)
    assert found.recoat is not None
    assert (found.recoat.one.likely, found.recoat.one.latest) == (None, None)
    leaving = next(one for one in found.now.limits if one.name == "water-leaving")
    assert leaving.verdict is Verdict.WAIT


def test_without_humidity_a_waterborne_coat_has_no_answer_and_a_lacquer_has() -> None:
    here = Conditions(21.0, None)
    assert typed_answer(Job(WATERBORNE), here, WORDS).recoat is None
    assert typed_answer(Job(NITRO), here, WORDS).recoat is not None


def test_a_finish_without_a_time_for_the_next_coat_has_no_answer() -> None:
    opens = MilestoneName.RECOAT_OPENS
    without = {name: asked for name, asked in NITRO.requirements.items() if name is not opens}
    bare = replace(NITRO, requirements=without)
    assert typed_answer(Job(bare), Conditions(21.0, 0.5), WORDS).recoat is None
    dose = finish("dose-cured")
    assert dose.drying.law is DryingLaw.NONE
    assert typed_answer(Job(dose), Conditions(21.0, 0.5), WORDS).recoat is None


def test_coats_follow_each_other_as_soon_as_each_has_flashed() -> None:
    one, three = (
        typed_answer(Job(WATERBORNE, coats=coats), Conditions(21.0, 0.5), WORDS).recoat
        for coats in (1, 3)
    )
    assert one is not None
    assert three is not None
    assert three.one == one.one
    for once, thrice in (
        (one.one.earliest, three.last.earliest),
        (one.one.likely, three.last.likely),
        (one.one.latest, three.last.latest),
    ):
        assert once is not None
        assert thrice == pytest.approx(3.0 * once)


def test_in_a_room_that_cools_the_last_coats_take_longer() -> None:
    found = asked(AFTERNOON, coats=5).recoat
    assert found is not None
    assert found.one.likely is not None
    assert found.last.likely is not None
    assert found.last.likely > 5.0 * found.one.likely * 1.05


def test_a_sheet_figure_without_a_band_leaves_the_hours_as_sure_as_the_rest() -> None:
    opens = NITRO.requirements[MilestoneName.RECOAT_OPENS]
    sure = replace(opens, hours=replace(opens.hours, low=None, high=None))
    narrow = replace(NITRO, requirements={**NITRO.requirements, MilestoneName.RECOAT_OPENS: sure})
    ends = [typed_answer(Job(one), Conditions(21.0, 0.5), WORDS).recoat for one in (narrow, NITRO)]
    assert ends[0] is not None
    assert ends[1] is not None
    assert ends[0].one.latest is not None
    assert ends[1].one.latest is not None
    assert ends[0].one.latest < ends[1].one.latest
