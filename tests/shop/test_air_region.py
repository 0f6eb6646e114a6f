"""The region of the air chart says at every point what the spray check says."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.finish_files import shipped_names
from curewatch.shop.air_edges import RegionEdge, beyond_of, edges_of, side_curve
from curewatch.shop.air_region import REGIONS_KEPT, AirRegion, Place, Regions, air_region
from curewatch.shop.clocks import Bias
from curewatch.shop.spray import Conditions, spray_check
from curewatch.shop.thinners import thinner_named
from curewatch.shop.words import Words
from tests.shop.scene import finish

NEAR_K, NEAR_RH = 0.15, 0.01  # half the width of a drawn line and its coarse grid
PLACES = [Place(0.1, 101325.0, Bias(), over) for over in (None, -3.0, 1.0)]


@lru_cache
def region(name: str, place: Place) -> AirRegion:
    return air_region(finish(name), place)


@pytest.mark.parametrize("place", PLACES, ids=lambda place: f"piece {place.piece_over_air_k}")
@pytest.mark.parametrize("name", shipped_names())
def test_it_agrees_with_the_check_everywhere_but_on_the_line_itself(
    name: str, place: Place
) -> None:
    draw = np.random.default_rng(3)
    found = region(name, place)
    for _ in range(25):
        temp, rh = float(draw.uniform(13.0, 33.0)), float(draw.uniform(0.03, 1.0))
        says = spray_check(finish(name), place.conditions(temp, rh), Words(), exact=True)
        around = {
            found.holds(temp + aside, rh + up)
            for aside in (-NEAR_K, 0.0, NEAR_K)
            for up in (-NEAR_RH, 0.0, NEAR_RH)
        }
        assert says.verdict.is_go in around, (temp, rh, says.sentence)


@given(name=st.sampled_from(shipped_names()), place=st.sampled_from(PLACES))
def test_its_edges_run_once_round_and_each_begins_where_the_last_ended(
    name: str, place: Place
) -> None:
    edges = region(name, place).edges
    for before, after in zip(edges, [*edges[1:], edges[0]], strict=True):
        assert before.points[-1] == pytest.approx(after.points[0])
    across, up = np.array(region(name, place).outline).T
    assert np.sum(across * np.roll(up, -1) - np.roll(across, -1) * up) < 0.0  # clockwise


def test_each_edge_names_the_limit_that_turns_there() -> None:
    place = PLACES[0]
    by_side = {edge.side: edge.limit for edge in region("shellac", place).edges}
    assert by_side == {"left": "air-low", "top": "humidity-high", "right": "air-high", "bottom": ""}
    assert {edge.limit for edge in region("shellac", place).beyond} >= {
        "blush",
        "surface-over-dew-point",
    }


def test_a_piece_colder_than_the_air_moves_the_cold_wall_and_lowers_the_top() -> None:
    there, cold = region("waterborne", PLACES[0]), region("waterborne", PLACES[1])
    assert (there.edges[0].limit, cold.edges[0].limit) == ("air-low", "surface-low")
    assert cold.edges[0].points[0][0] == pytest.approx(21.0)
    assert there.holds(24.0, 0.68)
    assert not cold.holds(24.0, 0.68)


def test_a_warning_bounds_nothing() -> None:
    """Dry air only warns; so does the air's own distance where a profile has no stop for it."""
    assert region("waterborne", PLACES[0]).holds(22.0, 0.1)
    limits = {edge.limit for edge in region("acid-cure", PLACES[0]).edges}
    assert "humidity-low" not in limits
    assert "air-over-dew-point" not in limits


def test_a_faster_thinner_blushes_in_drier_air() -> None:
    lacquer = finish("nitro-lacquer")
    found = {}
    for thinner in ("slow", "fast"):
        made = air_region(lacquer, PLACES[2], thinner=thinner_named(thinner))
        edges = [edge for edge in (*made.edges, *made.beyond) if edge.limit == "blush"]
        found[thinner] = min(edges[0].points)[1]
    assert found["fast"] < found["slow"]


def test_a_film_that_forms_warm_closes_the_cold_end_to_a_point() -> None:
    plain = finish("waterborne")
    asked = plain.limits.film_forming_c
    assert asked is not None
    warm = replace(plain, limits=replace(plain.limits, film_forming_c=replace(asked, value=17.0)))
    found = air_region(warm, PLACES[0])
    assert "left" not in {edge.side for edge in found.edges}
    assert not found.holds(18.0, 0.6)
    assert found.holds(24.0, 0.6)
    assert found.outline[0] == pytest.approx(found.outline[-1])


def test_limits_that_contradict_each_other_leave_nothing() -> None:
    plain = finish("waterborne")
    low = plain.limits.temp_low_c
    closed = replace(
        plain,
        limits=replace(plain.limits, temp_low_c=replace(low, value=30.0, low=None, high=None)),
    )
    assert air_region(closed, PLACES[0]) == AirRegion("waterborne", ())
    film = plain.limits.film_forming_c
    assert film is not None
    never = replace(plain, limits=replace(plain.limits, film_forming_c=replace(film, value=40.0)))
    assert air_region(never, PLACES[0]).edges == ()
    assert not air_region(never, PLACES[0]).holds(22.0, 0.5)


def test_both_ends_may_run_to_a_point_and_the_widest_part_counts() -> None:
    temps = np.arange(5.0)
    top = side_curve({"a": np.array([0.3, 0.6, 0.6, 0.6, 0.1])}, 5, sign=1.0)
    bottom = side_curve({"b": np.full(5, 0.4)}, 5, sign=-1.0)
    edges = edges_of(temps, top, bottom, walls=("l", "r"))
    assert [edge.side for edge in edges] == ["top", "bottom"]
    assert edges[0].points[0] == pytest.approx((1.0 - 2.0 / 3.0, 0.4))
    assert edges[0].points[-1] == pytest.approx((3.4, 0.4))
    apart = side_curve({"a": np.array([0.6, 0.3, 0.6, 0.6, 0.6])}, 5, sign=1.0)
    assert min(edges_of(temps, apart, bottom, walls=("l", "r"))[0].points)[0] > 1.0


def test_a_limit_that_rules_nowhere_is_told_only_where_it_turns() -> None:
    temps = np.arange(3.0)
    curve = side_curve(
        {"near": np.full(3, 0.5), "far": np.array([0.7, 0.8, 1.0]), "never": np.ones(3)},
        3,
        sign=1.0,
    )
    assert beyond_of(temps, curve, "top", ruling={"near"}) == [
        RegionEdge("far", "top", ((0.0, 0.7), (1.0, 0.8)))
    ]


def test_a_place_is_taken_from_what_was_measured() -> None:
    assert Place.of(Conditions(20.0, 0.5, surface_c=18.3)).piece_over_air_k == -1.5
    assert Place.of(Conditions(20.0, 0.5)).piece_over_air_k is None
    assert Place.of(Conditions(None, None, surface_c=18.0)).piece_over_air_k is None


def test_a_region_is_worked_out_once_until_its_profile_changes() -> None:
    regions, plain, place = Regions(), finish("dose-cured"), PLACES[0]
    first = regions.of(plain, place)
    assert regions.of(plain, place) is first
    stop = replace(plain.limits.rh_stop_pct, value=50.0, low=None, high=None)
    edited = replace(plain, limits=replace(plain.limits, rh_stop_pct=stop))
    assert regions.of(edited, place) != first
    for number in range(REGIONS_KEPT):
        regions.of(plain, replace(place, pressure_pa=100000.0 + number))
    assert regions.of(edited, place) is not first
    assert regions.of(plain, place, thinner=thinner_named("fast")) == first
