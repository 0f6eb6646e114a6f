"""How much film is on a piece: always a range, and never told where the profile is silent."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.shop.build import DOUBT, Build, the_build
from curewatch.shop.piece import Coat, WorkKind
from curewatch.shop.plain_compare import build_plain
from curewatch.shop.words import Words
from tests.shop.scene import at_h, finish, piece

WATERBORNE = finish("waterborne")


def built(*coats: float | None, work: tuple[tuple[WorkKind, float], ...] = ()) -> Build:
    laid = [Coat(at_h(n), wet_um=wet) for n, wet in enumerate(coats)]
    found = the_build(piece("waterborne", laid, work=work), WATERBORNE, at_h(100.0), Words())
    assert found is not None
    return found


def test_the_sum_of_coats_is_told_with_three_parts_in_ten_either_way() -> None:
    found = built(100.0, 100.0, None)
    assert found.film_um is not None
    assert WATERBORNE.film is not None
    dry = 3.0 * WATERBORNE.film.dry_um.value
    assert found.wet_um == pytest.approx(300.0)
    assert found.film_um.likely == pytest.approx(dry)
    assert found.film_um.low <= dry * (1.0 - DOUBT) + 1e-9
    assert found.film_um.high >= dry * (1.0 + DOUBT) - 1e-9
    assert (found.coats, found.measured) == (3, 2)
    assert "Nobody measured the wet film of 1 of them" in found.sentence
    assert "Nobody" not in built(100.0).sentence


def test_sanding_takes_film_and_widens_the_range() -> None:
    bare = built(100.0, 100.0)
    sanded = built(100.0, 100.0, work=((WorkKind.LEVEL, 50.0), (WorkKind.BUFF, 60.0)))
    later = built(100.0, 100.0, work=((WorkKind.LEVEL, 150.0),))
    assert bare.film_um is not None
    assert sanded.film_um is not None
    assert sanded.film_um.likely < bare.film_um.likely
    assert sanded.film_um.high - sanded.film_um.low > bare.film_um.high - bare.film_um.low
    assert later.film_um == bare.film_um


def test_there_is_never_less_than_no_film() -> None:
    worn = built(20.0, work=tuple((WorkKind.WET_SAND, 10.0 + n) for n in range(4)))
    assert worn.film_um is not None
    assert worn.film_um.low == worn.film_um.likely == 0.0


def test_before_its_first_coat_there_is_no_build() -> None:
    found = the_build(piece("waterborne", [50.0]), WATERBORNE, at_h(10.0), Words())
    assert found is None
    assert build_plain(found, WATERBORNE) is None


def test_without_the_profiles_solids_the_film_is_not_told() -> None:
    silent = replace(WATERBORNE, film=None)
    found = the_build(piece("waterborne", [0.0]), silent, at_h(10.0), Words())
    assert found is not None
    assert found.film_um is None
    assert "cannot be told" in found.sentence
    plain = build_plain(found, silent)
    assert plain is not None
    assert plain["film_um"] is None


def test_a_profile_without_a_band_for_its_solids_keeps_the_least_doubt() -> None:
    assert WATERBORNE.film is not None
    bare = replace(WATERBORNE.film.dry_um, low=None, high=None)
    own = replace(WATERBORNE, film=replace(WATERBORNE.film, dry_um=bare))
    found = the_build(piece("waterborne", [0.0]), own, at_h(10.0), Words())
    assert found is not None
    assert found.film_um is not None
    assert found.film_um.low == pytest.approx(0.7 * bare.value)
    assert found.film_um.high == pytest.approx(1.3 * bare.value)


@given(st.lists(st.floats(15.0, 400.0), min_size=1, max_size=8), st.floats(1.0, 2.0))
def test_thicker_coats_never_make_less_film(wet: list[float], times: float) -> None:
    thin, thick = built(*wet).film_um, built(*(one * times for one in wet)).film_um
    assert thin is not None
    assert thick is not None
    assert thin.low <= thick.low
    assert thin.likely <= thick.likely
    assert thin.high <= thick.high
