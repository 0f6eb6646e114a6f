"""The coats of a piece as layers: each as thick as laid, holding what the film model says."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from curewatch.science.film import MOST_COATS
from curewatch.shop.film_layers import FilmLayers, film_layers
from curewatch.shop.milestones import PieceClocks
from curewatch.shop.piece import Coat
from curewatch.shop.sink import sink_back
from tests.shop.scene import at_h, finish, piece, shop_of, steady

if TYPE_CHECKING:
    from curewatch.shop.finish import Finish

WATER = finish("waterborne")


def clocks_of(coats_h: list[float | Coat], now_h: float, profile: Finish = WATER) -> PieceClocks:
    mine = piece(profile.name, coats_h)
    shop = shop_of({"loft": steady(now_h / 24 + 1, 21.0)}, finishes=[profile], pieces=[mine])
    return PieceClocks(mine, profile, book=shop.book, rooms=shop.rooms, now_ms=at_h(now_h))


def seen(coats_h: list[float | Coat], now_h: float, profile: Finish = WATER) -> FilmLayers:
    return film_layers(clocks_of(coats_h, now_h, profile), pace=1.0)


def test_what_the_layers_hold_is_what_the_surface_has_still_to_fall() -> None:
    clocks = clocks_of([0.0, 2.0, 4.0, 24.0], 40.0)
    found, sink = film_layers(clocks, pace=1.0), sink_back(clocks)
    assert sink is not None
    assert found.fall_um == pytest.approx(sink.remaining_um, rel=1e-9)
    assert found.known
    assert found.dry


def test_a_fresh_coat_holds_what_it_was_laid_with_and_the_ones_below_less() -> None:
    film = WATER.film
    assert film is not None
    layers = seen([0.0, 20.0], 20.0).layers
    assert layers[1].held_frac == pytest.approx(film.volatile_frac.value, rel=1e-9)
    assert layers[0].held_frac is not None
    assert 0.0 < layers[0].held_frac < film.volatile_frac.value
    assert [layer.laid_at for layer in layers] == [at_h(0.0), at_h(20.0)]


def test_the_layers_lose_with_every_hour_and_a_slower_pace_keeps_more() -> None:
    early, late = seen([0.0, 3.0], 10.0), seen([0.0, 3.0], 100.0)
    slow = film_layers(clocks_of([0.0, 3.0], 100.0), pace=1.5)
    assert early.fall_um is not None
    assert late.fall_um is not None
    assert slow.fall_um is not None
    assert late.fall_um < slow.fall_um < early.fall_um


def test_a_coat_laid_twice_as_wet_is_twice_as_thick_when_dry() -> None:
    film, usual_um = WATER.film, WATER.drying.wet_film_um.value
    assert film is not None
    layers = seen([0.0, Coat(at_h(3.0), 2.0 * usual_um)], 10.0).layers
    assert layers[0].film_um == pytest.approx(film.dry_um.value)
    assert layers[1].film_um == pytest.approx(2.0 * film.dry_um.value)


def test_without_film_figures_the_wet_films_are_told_and_nothing_of_what_they_hold() -> None:
    bare = replace(WATER, film=None)
    usual_um = bare.drying.wet_film_um.value
    found = seen([0.0, Coat(at_h(3.0), 77.0)], 10.0, bare)
    assert [layer.film_um for layer in found.layers] == [usual_um, 77.0]
    assert {layer.held_frac for layer in found.layers} == {None}
    assert found.fall_um is None
    assert not found.known
    assert not found.dry


@pytest.mark.parametrize("case", ["no cure clock", "more coats than the model takes"])
def test_where_the_model_has_no_clock_or_too_many_coats_only_thickness_is_told(case: str) -> None:
    if case == "no cure clock":
        found = seen([0.0, 3.0], 10.0, replace(WATER, cure=None))
    else:
        found = seen([0.1 * number for number in range(MOST_COATS + 1)], 10.0)
    assert found.dry
    assert found.fall_um is None
    assert {layer.held_frac for layer in found.layers} == {None}
