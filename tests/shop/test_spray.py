from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.finish_files import shipped_names
from curewatch.science import evaporation, humid_air
from curewatch.shop.clocks import Bias
from curewatch.shop.spray import (
    SEVERITY,
    Conditions,
    Limit,
    SprayCheck,
    Verdict,
    dew_error_k,
    dew_point_c,
    spray_check,
)
from curewatch.shop.words import Words
from tests.shop.scene import finish

WATERBORNE, NITRO, URETHANE = (
    finish(name) for name in ("waterborne", "nitro-lacquer", "two-part-urethane")
)
GOOD = Conditions(temp_c=21.0, rh_frac=0.5, surface_c=21.0, liquid_c=21.0)


def check(of: str = "waterborne", here: Conditions = GOOD, **changes: float | None) -> SprayCheck:
    return spray_check(finish(of), replace(here, **changes), Words())  # type: ignore[arg-type]


def limit(of: SprayCheck, name: str) -> Limit:
    return next(one for one in of.limits if one.name == name)


# ---- each limit by itself


def test_in_a_good_room_the_air_is_fit() -> None:
    for name in ("waterborne", "nitro-lacquer", "two-part-urethane"):
        good = check(name)
        assert (good.verdict, good.binding) == (Verdict.FIT, None)
        assert good.sentence == "fit to spray: every limit that was measured is kept"


@pytest.mark.parametrize(
    ("changes", "binding", "verdict"),
    [
        ({"temp_c": 17.9}, "air-low", Verdict.WAIT),
        ({"temp_c": 18.5}, "air-low", Verdict.TIGHT),
        ({"temp_c": 27.1}, "air-high", Verdict.WAIT),
        ({"temp_c": 26.5}, "air-high", Verdict.TIGHT),
        ({"surface_c": 17.0}, "surface-low", Verdict.WAIT),
        ({"surface_c": 27.5}, "surface-high", Verdict.WAIT),
        ({"liquid_c": 17.0}, "liquid-low", Verdict.WAIT),
        ({"liquid_c": 28.0}, "liquid-high", Verdict.WAIT),
        ({"rh_frac": 0.66}, "humidity-high", Verdict.TIGHT),
        ({"rh_frac": 0.85, "surface_c": 26.0}, "humidity-high", Verdict.WAIT),
        ({"rh_frac": 0.3}, "humidity-low", Verdict.TIGHT),
    ],
)
def test_each_limit_binds_when_it_alone_is_passed(
    changes: dict[str, float], binding: str, verdict: Verdict
) -> None:
    found = check(**changes)
    assert found.verdict is verdict
    assert found.binding is not None
    assert found.binding.name == binding
    assert found.sentence == f"{verdict.words}: {found.binding.reason}"


def test_a_surface_near_the_dew_point_stops_whatever_the_finish() -> None:
    dew = float(humid_air.dew_point_c(21.0, 0.5))
    for name in shipped_names():
        found = check(name, surface_c=dew + 1.0)
        cold = limit(found, "surface-over-dew-point")
        assert (found.verdict, cold.verdict) == (Verdict.WAIT, Verdict.WAIT)
        assert cold.margin == pytest.approx(-2.0)
        assert cold.value == pytest.approx(1.0)


def test_a_surface_inside_the_sensors_own_error_is_not_known() -> None:
    dew, error = float(humid_air.dew_point_c(21.0, 0.6)), 1.3
    inside = check("two-part-urethane", rh_frac=0.6, surface_c=dew + 3.0 + 0.5 * error)
    assert limit(inside, "surface-over-dew-point").verdict is Verdict.UNKNOWN
    assert limit(inside, "surface-over-dew-point").error > 0.65
    outside = check("two-part-urethane", rh_frac=0.6, surface_c=dew + 3.0 + 1.3 * error)
    assert limit(outside, "surface-over-dew-point").verdict is Verdict.TIGHT


def test_without_a_surface_the_air_is_judged_and_said_to_be_only_that() -> None:
    found = check(surface_c=None, rh_frac=0.8)
    near = limit(found, "surface-over-dew-point")
    assert near.reason.startswith("surface not measured; the air is")
    dew = float(humid_air.dew_point_c(21.0, 0.8))
    assert near.value == pytest.approx(21.0 - dew)
    assert found.notes[0] == f"surface not measured: it must be at least {dew + 3:.1f} °C"


def test_an_unmeasured_surface_is_asked_no_less_than_the_finish_may_be_sprayed_on() -> None:
    found = check(surface_c=None, rh_frac=0.5)
    assert found.notes[0] == "surface not measured: it must be at least 18.0 °C"


def test_fast_solvents_want_the_air_far_from_its_dew_point() -> None:
    found = check("nitro-lacquer", rh_frac=0.62)
    spread = limit(found, "air-over-dew-point")
    assert spread.verdict is Verdict.TIGHT
    assert spread.allowed == 5.0
    assert limit(check("nitro-lacquer", rh_frac=0.5), "air-over-dew-point").verdict is Verdict.FIT
    wet = check("nitro-lacquer", rh_frac=0.75, surface_c=27.0)
    assert limit(wet, "air-over-dew-point").verdict is Verdict.WAIT


def test_a_finish_with_a_warning_only_is_never_stopped_by_the_air_s_dew_point() -> None:
    found = check("waterborne", rh_frac=0.75, surface_c=26.0)
    spread = limit(found, "air-over-dew-point")
    assert spread.margin is not None
    assert spread.margin < 0.0
    assert spread.verdict is Verdict.TIGHT


def test_a_finish_without_an_air_limit_is_not_judged_by_it() -> None:
    bare = replace(WATERBORNE.limits, air_dew_warn_k=None, film_forming_c=None)
    found = spray_check(replace(WATERBORNE, limits=bare), GOOD, Words())
    names = {one.name for one in found.limits}
    assert "air-over-dew-point" not in names
    assert "film-forming" not in names
    assert found.wet_film_c is None


def test_film_forming_is_judged_at_the_wet_film_and_not_at_the_room() -> None:
    dry = check(temp_c=18.5, rh_frac=0.2, surface_c=18.5, liquid_c=18.5, air_speed_m_s=2.0)
    film = limit(dry, "film-forming")
    expected = float(evaporation.wet_film(18.5, 0.2, air_speed_m_s=2.0).temp_c)
    assert film.value == pytest.approx(expected)
    assert film.value < 12.0
    assert dry.wet_film_c == film.value
    milk = replace(
        WATERBORNE.limits,
        film_forming_c=replace(WATERBORNE.limits.film_forming_c, value=15.0),  # type: ignore[type-var]
    )
    cold = spray_check(
        replace(WATERBORNE, limits=milk),
        Conditions(temp_c=18.5, rh_frac=0.3, surface_c=18.5),
        Words(),
    )
    assert limit(cold, "film-forming").verdict is Verdict.WAIT
    assert "cools itself to" in limit(cold, "film-forming").reason


def test_the_verdict_is_the_worst_of_all_limits_and_binds_at_the_least_margin() -> None:
    found = check(temp_c=16.0, rh_frac=0.9, surface_c=16.0, liquid_c=16.0)
    assert found.verdict is Verdict.WAIT
    stopped = [one for one in found.limits if one.verdict is Verdict.WAIT]
    assert len(stopped) >= 4
    assert found.binding in stopped
    worst = max(SEVERITY[one.verdict] for one in found.limits)
    assert SEVERITY[found.verdict] == worst


def test_every_limit_says_what_would_clear_it() -> None:
    found = check(temp_c=16.0, rh_frac=0.7, surface_c=16.0, liquid_c=16.0)
    assert limit(found, "air-low").clears == "air warmer by 3.0 K"
    assert limit(found, "humidity-high").clears == "drier by 5 points"
    assert limit(check(), "humidity-high").clears == ""
    assert limit(check(), "air-low").clears == ""
    assert limit(check(temp_c=28.0), "air-high").clears == "air cooler by 2.0 K"
    assert limit(check(temp_c=None), "air-high").clears == "measure the air"


# ---- what was not measured


def test_air_that_was_not_measured_is_said_so_and_at_no_temperature() -> None:
    found = check(temp_c=None)
    air = [limit.reason for limit in found.limits if limit.name in ("air-low", "air-high")]
    assert air == ["air not measured", "air not measured"]


@pytest.mark.parametrize("missing", ["temp_c", "rh_frac"])
def test_without_temperature_or_humidity_nothing_can_be_told(missing: str) -> None:
    for name in shipped_names():
        found = check(name, **{missing: None})
        assert found.verdict is Verdict.UNKNOWN
        assert found.dew_point_c is None
        assert found.sentence.startswith("cannot tell: ")


def test_a_limit_that_is_passed_stops_though_others_are_not_measured() -> None:
    assert check(temp_c=5.0, rh_frac=None).verdict is Verdict.WAIT


def test_air_too_dry_for_a_dew_point_leaves_it_untold() -> None:
    bone_dry = replace(GOOD, rh_frac=0.0005)
    assert dew_point_c(bone_dry) is None
    assert dew_error_k(bone_dry) == 0.0
    assert check(rh_frac=0.0005).verdict is Verdict.UNKNOWN


def test_notes_name_what_a_reading_cannot_see_and_defer_to_label_sheet_and_code() -> None:
    found = check(liquid_c=None, surface_c=None, rh_frac=None)
    assert found.notes[0] == "surface not measured"
    assert "liquid not measured" in found.notes[1]
    assert "no gas detector" in found.notes[-1]
    assert len(check().notes) == 1


def test_the_dew_point_s_error_follows_from_both_sensors() -> None:
    here = Conditions(21.0, 0.5, bias=Bias(0.3, 0.025))
    by_rh = (humid_air.dew_point_c(21.0, 0.525) - humid_air.dew_point_c(21.0, 0.475)) / 2
    assert dew_error_k(here) == pytest.approx(float((by_rh**2 + 0.09) ** 0.5))
    assert dew_error_k(replace(here, rh_frac=1.0)) > 0.3
    assert dew_error_k(replace(here, temp_c=None)) == 0.0


def test_the_unit_of_the_shop_is_kept_in_every_sentence() -> None:
    found = spray_check(WATERBORNE, replace(GOOD, temp_c=16.0), Words(imperial=True))
    assert "air at 61 °F, at least 64 °F asked" in found.sentence


# ---- no verdict gets better when a hazard grows

NAMES = st.sampled_from(shipped_names())
TEMPS, RHS = st.floats(5.0, 35.0), st.floats(0.0, 1.0)


def worse_or_same(before: SprayCheck, after: SprayCheck) -> bool:
    return SEVERITY[after.verdict] >= SEVERITY[before.verdict]


@given(
    name=NAMES, temp=TEMPS, rh=st.floats(0.36, 1.0), more=st.floats(0.0, 0.6), bare=st.booleans()
)
def test_no_verdict_gets_better_when_the_air_gets_damper(
    *, name: str, temp: float, rh: float, more: float, bare: bool
) -> None:
    """Above the dry end of comfort: below it damper air is the better air."""
    surface = None if bare else temp
    here = Conditions(temp, rh, surface)
    low = finish(name).limits.rh_low_pct.value / 100
    if rh < low:
        return
    damper = replace(here, rh_frac=min(rh + more, 1.0))
    before, after = (spray_check(finish(name), one, Words()).limits for one in (here, damper))
    for first, second in zip(before, after, strict=True):
        if first.name != "film-forming":  # a damper film is a warmer one
            assert SEVERITY[second.verdict] >= SEVERITY[first.verdict]


@given(name=NAMES, temp=TEMPS, rh=RHS, surface=st.floats(0.0, 35.0), colder=st.floats(0.0, 20.0))
def test_no_dew_verdict_gets_better_when_the_surface_gets_colder(
    name: str, temp: float, rh: float, surface: float, colder: float
) -> None:
    here = Conditions(temp, rh, surface)
    limits = [
        limit(spray_check(finish(name), one, Words()), "surface-over-dew-point")
        for one in (here, replace(here, surface_c=surface - colder))
    ]
    assert SEVERITY[limits[1].verdict] >= SEVERITY[limits[0].verdict]


@given(name=NAMES, temp=TEMPS, rh=RHS, colder=st.floats(0.0, 20.0))
def test_no_verdict_gets_better_when_the_piece_falls_below_the_cold_limit(
    name: str, temp: float, rh: float, colder: float
) -> None:
    low = finish(name).limits.temp_low_c.value
    here = Conditions(temp, rh, low)
    before, after = (
        spray_check(finish(name), one, Words())
        for one in (here, replace(here, surface_c=low - colder))
    )
    assert worse_or_same(before, after)


@given(name=NAMES, temp=TEMPS, away=st.floats(0.0, 20.0))
def test_no_temperature_verdict_gets_better_farther_outside_its_limits(
    name: str, temp: float, away: float
) -> None:
    limits = finish(name).limits
    middle = (limits.temp_low_c.value + limits.temp_high_c.value) / 2
    farther = temp + (away if temp > middle else -away)
    before, after = (
        [
            limit(spray_check(finish(name), Conditions(at, 0.5), Words()), which)
            for which in ("air-low", "air-high")
        ]
        for at in (temp, farther)
    )
    worst_before, worst_after = (
        max(SEVERITY[one.verdict] for one in both) for both in (before, after)
    )
    assert worst_after >= worst_before


@given(
    name=NAMES,
    temp=TEMPS,
    rh=RHS,
    surface=st.none() | st.floats(0.0, 35.0),
    hide=st.sampled_from(["temp_c", "rh_frac"]),
)
def test_what_is_not_measured_is_never_the_reason_for_a_go(
    name: str, temp: float, rh: float, surface: float | None, hide: str
) -> None:
    here = Conditions(temp, rh, surface)
    blind = spray_check(finish(name), replace(here, **{hide: None}), Words())  # type: ignore[arg-type]
    assert blind.verdict in (Verdict.UNKNOWN, Verdict.WAIT)
