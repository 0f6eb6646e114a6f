"""No verdict of the spray check gets better when a hazard grows, and none when less is known."""

from __future__ import annotations

import csv
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curewatch.finish_files import shipped_names
from curewatch.science.saturation import water_pressure_pa
from curewatch.shop.clocks import Bias
from curewatch.shop.finish import DryingLaw
from curewatch.shop.spray import (
    SEVERITY,
    Conditions,
    Verdict,
    aged,
    dew_point_c,
    spray_check,
    verdict_without_blush,
)
from curewatch.shop.spray_change import CHANGES
from curewatch.shop.spray_clear import Case, clears
from curewatch.shop.thinners import LACQUER_THINNERS
from curewatch.shop.words import Words
from tests.shop.scene import finish

if TYPE_CHECKING:
    from hypothesis.strategies import SearchStrategy

REFERENCE = Path(__file__).parents[1] / "reference"
WORDS = Words()
NAMES = st.sampled_from(shipped_names())
BLUSHING = [name for name in shipped_names() if finish(name).drying.law is DryingLaw.SOLVENT]
OTHERS = [name for name in shipped_names() if name not in BLUSHING]
WARM = st.floats(2.0, 40.0)
HUMID = st.floats(0.02, 1.0)


def places(*, bare: bool = True) -> SearchStrategy[Conditions]:
    """Any place; with `bare`, piece and liquid may not have been measured."""
    maybe = st.none() | WARM if bare else WARM
    return st.builds(
        Conditions,
        temp_c=WARM,
        rh_frac=HUMID,
        surface_c=maybe,
        liquid_c=maybe,
        air_speed_m_s=st.sampled_from([0.15, 0.5, 2.0]),
    )


def worsens(name: str, before: Conditions, after: Conditions) -> bool:
    """Whether the verdict after is no better than before, fresh coats aside."""
    first, second = (verdict_without_blush(finish(name), one, WORDS) for one in (before, after))
    return SEVERITY[second] >= SEVERITY[first]


def kept_vapour(here: Conditions, colder: float) -> Conditions:
    """Return the place with its air colder and its water vapour kept."""
    (cooler,) = (change for change in CHANGES if change.name == "cooler")
    made = cooler.made(replace(here, surface_c=None, liquid_c=None), colder)
    assert made is not None
    return replace(made, surface_c=here.surface_c, liquid_c=here.liquid_c)


@given(name=NAMES, here=places(), hotter=st.floats(0.0, 20.0))
def test_hotter_above_the_limit(name: str, here: Conditions, hotter: float) -> None:
    high = finish(name).limits.temp_high_c.value
    hot = replace(here, temp_c=high + 0.1)
    assert worsens(name, hot, replace(hot, temp_c=high + 0.1 + hotter))


@given(name=NAMES, here=places(), colder=st.floats(0.0, 20.0))
def test_air_colder_with_its_vapour_kept(name: str, here: Conditions, colder: float) -> None:
    limits = finish(name).limits
    middle = (limits.temp_low_c.value + limits.temp_high_c.value) / 2.0
    low = limits.rh_low_pct.value / 100.0
    assert here.temp_c is not None
    assert here.rh_frac is not None
    here = replace(here, temp_c=min(here.temp_c, middle), rh_frac=max(here.rh_frac, low))
    assert worsens(name, here, kept_vapour(here, colder))


@given(name=NAMES, here=places(), colder=st.floats(0.0, 25.0))
def test_a_colder_piece(name: str, here: Conditions, colder: float) -> None:
    limits = finish(name).limits
    middle = (limits.temp_low_c.value + limits.temp_high_c.value) / 2.0
    here = replace(here, surface_c=middle if here.surface_c is None else here.surface_c)
    assert here.surface_c is not None
    here = replace(here, surface_c=min(here.surface_c, middle))
    assert here.surface_c is not None
    assert worsens(name, here, replace(here, surface_c=here.surface_c - colder))


@given(name=NAMES, here=places(), away=st.floats(0.0, 20.0))
def test_a_liquid_farther_outside_its_limits(name: str, here: Conditions, away: float) -> None:
    limits = finish(name).limits
    for edge, sign in ((limits.temp_low_c.value, -1.0), (limits.temp_high_c.value, 1.0)):
        near = replace(here, liquid_c=edge + sign * 0.1)
        assert worsens(name, near, replace(near, liquid_c=edge + sign * (0.1 + away)))


@given(
    name=NAMES,
    here=places(),
    temp_k=st.floats(0.0, 3.0),
    rh=st.floats(0.0, 0.15),
    by=st.floats(1.0, 4.0),
)
def test_sensors_that_may_be_farther_off(
    name: str, here: Conditions, temp_k: float, rh: float, by: float
) -> None:
    sure = replace(here, bias=Bias(temp_k, rh, temp_k))
    assert worsens(name, sure, replace(here, bias=Bias(temp_k * by, rh * by, temp_k * by)))


@given(name=NAMES, here=places(), surface_k=st.floats(0.0, 4.0), more=st.floats(0.0, 4.0))
def test_a_probe_on_the_piece_that_may_be_farther_off(
    name: str, here: Conditions, surface_k: float, more: float
) -> None:
    sure = replace(here, bias=Bias(0.3, 0.025, surface_k))
    assert worsens(name, sure, replace(here, bias=Bias(0.3, 0.025, surface_k + more)))


@given(name=NAMES, here=places(), age=st.floats(0.0, 3600.0), more=st.floats(0.0, 7200.0))
def test_an_older_reading(name: str, here: Conditions, age: float, more: float) -> None:
    assert worsens(name, aged(here, age), aged(here, age + more))


def test_a_reading_of_this_moment_has_no_doubt_of_age() -> None:
    here = Conditions(21.0, 0.5)
    assert aged(here, 0.0) is here
    assert aged(here, -5.0) is here
    assert aged(here, 1.0).bias == aged(here, 300.0).bias  # by steps of five minutes
    old = aged(here, 3600.0).bias
    assert old.temp_k == pytest.approx(np.hypot(0.3, 1.0))
    assert old.rh_frac == pytest.approx(np.hypot(0.025, 0.04))


@given(name=NAMES, here=places(bare=False))
def test_a_piece_and_a_liquid_like_the_room_that_nobody_measured(
    name: str, here: Conditions
) -> None:
    """What was not measured is taken to be like the room, and known less well."""
    like = replace(here, surface_c=here.temp_c, liquid_c=here.temp_c)
    assert worsens(name, like, replace(like, surface_c=None))
    assert worsens(name, like, replace(like, liquid_c=None))
    assert worsens(name, like, replace(like, surface_c=None, liquid_c=None))


@given(name=NAMES, here=places(), hide=st.sampled_from(["temp_c", "rh_frac"]))
def test_air_that_nobody_measured_is_never_a_go(name: str, here: Conditions, hide: str) -> None:
    blind = replace(here, **{hide: None})  # type: ignore[arg-type]
    assert not spray_check(finish(name), blind, WORDS).verdict.is_go


@settings(max_examples=12)  # each follows fresh coats
@given(
    name=st.sampled_from(BLUSHING),
    here=places(),
    hazard=st.sampled_from(["piece", "damp", "sensors", "age"]),
    much=st.floats(0.0, 10.0),
)
def test_the_whole_check_of_a_lacquer(
    name: str, here: Conditions, hazard: str, much: float
) -> None:
    figures = finish(name).limits
    assert here.rh_frac is not None
    here = replace(here, rh_frac=max(here.rh_frac, figures.rh_low_pct.value / 100.0))
    assert here.rh_frac is not None
    piece = min(18.0 if here.surface_c is None else here.surface_c, 22.0)
    worse = {
        "piece": replace(here, surface_c=piece - much),
        "damp": replace(here, rh_frac=min(here.rh_frac + much / 20.0, 1.0)),
        "sensors": replace(here, bias=Bias(0.3 + much / 4.0, 0.025 + much / 100.0)),
        "age": aged(here, much * 360.0),
    }[hazard]
    before = replace(here, surface_c=piece) if hazard == "piece" else here
    first, second = (
        spray_check(finish(name), one, WORDS, exact=True).verdict for one in (before, worse)
    )
    assert SEVERITY[second] >= SEVERITY[first]


# ---- what is said to clear it does


def made_by_hand(here: Conditions, change: str, by: float) -> Conditions:
    """Make a change anew, by rules of its own."""
    assert here.temp_c is not None
    assert here.rh_frac is not None
    sign = 1.0 if change.endswith(("warmer", "moister")) else -1.0
    if change in ("drier", "moister"):
        return replace(here, rh_frac=here.rh_frac + sign * by / 100.0)
    if change.startswith("surface"):
        assert here.surface_c is not None
        return replace(here, surface_c=here.surface_c + sign * by)
    if change.startswith("liquid"):
        assert here.liquid_c is not None
        return replace(here, liquid_c=here.liquid_c + sign * by)
    after = here.temp_c + sign * by
    before_pa, after_pa = water_pressure_pa(np.array([here.temp_c, after]))
    rh = min(here.rh_frac * float(before_pa / after_pa), 1.0)

    def along(temp_c: float | None) -> float | None:
        assert here.temp_c is not None
        if temp_c is None:
            return None
        if sign * (temp_c - here.temp_c) <= 0.0:
            return temp_c + sign * by
        return sign * max(sign * temp_c, sign * after)

    return replace(
        here,
        temp_c=after,
        rh_frac=rh,
        surface_c=along(here.surface_c),
        liquid_c=along(here.liquid_c),
    )


def holds(name: str, here: Conditions) -> int:
    """Verify every entry said to clear a check; return how many there were."""
    case = Case(finish(name), (here,), WORDS)
    now = spray_check(finish(name), here, WORDS, exact=True).verdict
    found = clears(case)
    for one in found:
        assert one.gives is not None
        assert one.gives.is_go
        assert SEVERITY[one.gives] < SEVERITY[now]
        if "+" in one.change:
            continue  # its amounts are in words only
        thinner, after = None, here
        if one.change.startswith("thinner-"):
            thinner = LACQUER_THINNERS[one.change.removeprefix("thinner-")]
            assert "if the sheet allows" in one.words
        else:
            assert one.by is not None
            after = made_by_hand(here, one.change, one.by)
        then = spray_check(finish(name), after, WORDS, thinner=thinner, exact=True).verdict
        assert then is one.gives
        assert (Verdict.TIGHT.words in one.words) is (one.gives is Verdict.TIGHT)
    return len(found)


@settings(max_examples=40, deadline=None)
@given(
    name=st.sampled_from(OTHERS),
    here=st.builds(
        Conditions,
        temp_c=st.floats(8.0, 34.0),
        rh_frac=st.floats(0.1, 0.98),
        surface_c=st.none() | st.floats(8.0, 34.0),
        liquid_c=st.none() | st.floats(8.0, 34.0),
    ),
)
def test_every_change_said_to_clear_a_check_does(name: str, here: Conditions) -> None:
    holds(name, here)


@pytest.mark.parametrize("name", ["nitro-lacquer", "shellac"])
@pytest.mark.parametrize("here", [Conditions(24.0, 0.72), Conditions(17.0, 0.66, 15.0)])
def test_every_change_said_to_clear_a_lacquer_does(name: str, here: Conditions) -> None:
    assert holds(name, here)


# ---- held against the psychrometric tables


def grid() -> list[dict[str, str]]:
    """Return the psychrometric tables; their sources stand in their columns."""
    with (REFERENCE / "psychrometric_grid.csv").open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def test_the_dew_point_of_a_check_is_that_of_the_tables() -> None:
    """Within 0.02 K, the spread between the tables' own sources."""
    rows = [
        row
        for row in grid()
        if 10.0 <= float(row["t_C"]) <= 35.0 and float(row["td_C_psychrolib"]) > 0.0
    ]
    assert len(rows) > 50
    for row in rows:
        here = Conditions(
            float(row["t_C"]), float(row["rh_pct"]) / 100.0, pressure_pa=float(row["p_Pa"])
        )
        theirs = float(row["td_C_psychrolib"])
        check = spray_check(finish("two-part-urethane"), here, WORDS)
        near = next(one for one in check.limits if one.name == "surface-over-dew-point")
        assert check.dew_point_c == dew_point_c(here) == pytest.approx(theirs, abs=0.02)
        assert near.value == pytest.approx(float(row["t_C"]) - theirs, abs=0.02)
        assert (near.verdict is Verdict.WAIT) is (float(row["t_C"]) - theirs < 3.0)


def test_a_warmer_room_has_the_humidity_the_tables_give_its_vapour() -> None:
    """Vapour pressure of one row over the saturation pressure of another, both from IAPWS."""
    rows = [row for row in grid() if row["p_Pa"] == "101325"]
    saturated = {float(row["t_C"]): float(row["es_water_Pa_iapws"]) for row in rows}
    (warmer,) = (change for change in CHANGES if change.name == "warmer")
    told = 0
    for row in rows:
        temp = float(row["t_C"])
        if not (10.0 <= temp <= 25.0 and temp + 5.0 in saturated):
            continue
        made = warmer.made(Conditions(temp, float(row["rh_pct"]) / 100.0), 5.0)
        assert made is not None
        assert made.rh_frac is not None
        theirs = float(row["e_Pa"]) / saturated[temp + 5.0]
        assert made.rh_frac == pytest.approx(theirs, abs=0.0005)  # of two formulas for saturation
        told += 1
    assert told > 20
