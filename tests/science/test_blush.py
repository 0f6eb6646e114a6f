"""Blush: the margins of the shipped thinners, what moves them which way, and refusals."""

from collections.abc import Callable
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curewatch.errors import BadInput
from curewatch.science.blush import (
    USUAL_COAT,
    SprayedCoat,
    ThinnerBlend,
    blush,
    laid_coat,
    sprayed_convection_w_m2k,
)
from curewatch.science.film_solvents import FILM_SOLVENTS
from curewatch.science.heat_transfer import heat_transfer_w_m2k
from curewatch.science.humid_air import dew_point_c
from curewatch.shop.thinners import LACQUER_THINNERS, THINNERS
from tests.validation_page import furthest

FAST, MEDIUM, SLOW, RETARDED = (thinner.blend for thinner in LACQUER_THINNERS.values())
RH = np.linspace(0.3, 1.0, 15)
BLENDS = st.sampled_from([thinner.blend for thinner in THINNERS.values()])


# --- figures of an earlier, separate computation of the same equations (no outside source) ---


@pytest.mark.parametrize(("rh_frac", "margin_k"), [(0.5, 7.7), (0.6, 4.9), (0.7, 2.4), (0.8, 0.3)])
def test_the_usual_blend_keeps_the_earlier_prototypes_margins(
    rh_frac: float, margin_k: float, agreement: Callable
) -> None:
    # 0.6 K: the prototype's constants for solvents and wood were not written down.
    ours = blush(25.0, rh_frac, blend=MEDIUM).margin_wood_k
    assert ours == pytest.approx(margin_k, abs=0.6)
    agreement(
        check="blush margin of the usual thinner at 25 degC, 50 to 80 %",
        source="a separate earlier computation of the same equations, no outside source",
        tolerance="0.6 K",
        measured=furthest(ours, margin_k),
        unit="K",
        n=1,
    )


def test_a_fast_blend_condenses_at_eighty_per_cent_where_the_usual_one_does_not() -> None:
    assert blush(25.0, 0.8, blend=FAST).condensed_wood_g_m2 > 0.1
    assert blush(25.0, 0.8, blend=MEDIUM).condensed_wood_g_m2 == 0.0


def test_a_retarded_blend_keeps_about_a_kelvin_more() -> None:
    more = (
        blush(25.0, RH, blend=RETARDED).margin_wood_k - blush(25.0, RH, blend=MEDIUM).margin_wood_k
    )
    assert np.all((more[RH < 0.8] > 0.5) & (more[RH < 0.8] < 1.5))


def test_an_edge_of_the_usual_blend_takes_a_gram_of_water_at_about_seventy_per_cent() -> None:
    edge = blush(25.0, RH, blend=MEDIUM)
    assert np.interp(1.0, edge.condensed_edge_g_m2, RH) == pytest.approx(0.7, abs=0.05)


# --- what moves it which way ---


@settings(max_examples=15)
@given(blend=BLENDS, temp_c=st.floats(5.0, 40.0), heat=st.floats(4.0, 20.0))
def test_damper_air_never_raises_a_margin_nor_takes_water_away(
    blend: ThinnerBlend, temp_c: float, heat: float
) -> None:
    film = blush(temp_c, RH, blend=blend, convection_w_m2k=heat)
    assert np.all(np.diff(film.margin_wood_k) <= 1e-6)
    assert np.all(np.diff(film.margin_edge_k) <= 1e-6)
    assert np.all(np.diff(film.condensed_wood_g_m2) >= -1e-6)
    assert np.all(np.diff(film.condensed_edge_g_m2) >= -1e-6)


@settings(max_examples=15)
@given(
    temp_c=st.floats(5.0, 40.0),
    heat=st.floats(4.0, 20.0),
    wet_um=st.floats(40.0, 200.0),
    solids_frac=st.floats(0.1, 0.4),
)
def test_a_slower_thinner_never_lowers_a_margin(
    temp_c: float, heat: float, wet_um: float, solids_frac: float
) -> None:
    coat = SprayedCoat(wet_um, solids_frac)
    films = [
        blush(temp_c, RH, blend=blend, coat=coat, convection_w_m2k=heat)
        for blend in (FAST, MEDIUM, SLOW, RETARDED)
    ]
    for faster, slower in pairwise(films):
        assert np.all(slower.margin_wood_k >= faster.margin_wood_k - 1e-6)
        assert np.all(slower.margin_edge_k >= faster.margin_edge_k - 1e-6)


@settings(max_examples=15)
@given(blend=BLENDS, temp_c=st.floats(5.0, 40.0), surface_k=st.floats(-10.0, 10.0))
def test_an_edge_chills_further_than_a_face(
    blend: ThinnerBlend, temp_c: float, surface_k: float
) -> None:
    coat = SprayedCoat(surface_c=temp_c + surface_k)
    film = blush(temp_c, RH, blend=blend, coat=coat)
    assert np.all(film.lowest_edge_c <= film.lowest_film_c + 1e-6)


def test_a_colder_piece_lowers_the_margin() -> None:
    margins = [
        float(blush(21.0, 0.6, blend=MEDIUM, coat=SprayedCoat(surface_c=s)).margin_wood_k)
        for s in (15.0, 18.0, 21.0, 24.0)
    ]
    assert margins == sorted(margins)
    as_the_air = float(blush(21.0, 0.6, blend=MEDIUM).margin_wood_k)
    assert margins[2] == as_the_air


def test_a_piece_below_the_dew_point_is_wet_from_the_start() -> None:
    film = blush(21.0, 0.6, blend=RETARDED, coat=SprayedCoat(surface_c=10.0))
    assert film.margin_wood_k < 0.0
    assert film.condensed_wood_g_m2 > 0.0


def test_air_blown_at_a_piece_lowers_its_margin() -> None:
    margins = blush(25.0, 0.6, blend=MEDIUM, convection_w_m2k=[4.0, 6.0, 9.0]).margin_wood_k
    assert np.all(np.diff(margins) < 0.0)


def test_thinner_coats_chill_a_face_less() -> None:
    thin = blush(25.0, 0.6, blend=MEDIUM, coat=SprayedCoat(wet_um=50.0))
    assert thin.margin_wood_k > blush(25.0, 0.6, blend=MEDIUM).margin_wood_k


# --- the answer itself ---


@settings(max_examples=15)
@given(blend=BLENDS, temp_c=st.floats(0.0, 40.0))
def test_margin_dew_point_water_and_time_tell_one_story(blend: ThinnerBlend, temp_c: float) -> None:
    film = blush(temp_c, RH, blend=blend)
    np.testing.assert_allclose(film.dew_point_c, dew_point_c(temp_c, RH))
    for margin, lowest, water, wet in (
        (film.margin_wood_k, film.lowest_film_c, film.condensed_wood_g_m2, film.wet_wood_s),
        (film.margin_edge_k, film.lowest_edge_c, film.condensed_edge_g_m2, film.wet_edge_s),
    ):
        np.testing.assert_allclose(margin, lowest - film.dew_point_c)
        assert np.all((water > 0.0) == (margin < 0.0))
        assert np.all((wet > 0.0) == (water > 0.01))
        assert np.all((wet >= 0.0) & (wet <= 600.0))
    assert np.all((film.lowest_at_s >= 0.0) & (film.lowest_at_s <= 600.0))


def test_a_light_bloom_dries_off_within_the_ten_minutes() -> None:
    film = blush(25.0, 0.5, blend=MEDIUM)
    assert film.condensed_edge_g_m2 > 0.01
    assert 10.0 < film.wet_edge_s < 200.0


def test_a_film_is_wet_all_the_while_in_saturated_air() -> None:
    # The first hundredth of a gram takes a few seconds.
    assert blush(25.0, 1.0, blend=MEDIUM).wet_wood_s == pytest.approx(600.0, abs=5.0)


def test_climates_broadcast_and_a_table_agrees_with_single_coats() -> None:
    table = blush([[10.0], [25.0]], [0.4, 0.6, 0.9], blend=FAST, convection_w_m2k=5.0)
    assert table.margin_wood_k.shape == (2, 3)
    assert table.lowest_at_s.shape == table.wet_edge_s.shape == table.dew_point_c.shape == (2, 3)
    one = blush(25.0, 0.9, blend=FAST, convection_w_m2k=5.0)
    assert one.margin_wood_k.shape == ()
    for name in ("margin_wood_k", "margin_edge_k", "condensed_wood_g_m2", "wet_edge_s"):
        assert getattr(table, name)[1, 2] == pytest.approx(float(getattr(one, name)), abs=1e-6)


def test_what_is_laid_weighs_what_it_should() -> None:
    coat = laid_coat(MEDIUM, USUAL_COAT)
    grams = [
        1000.0 * amount * solvent.molar_kg_mol
        for amount, solvent in zip(coat.mol_m2, coat.solvents, strict=True)
    ]
    resin = 1000.0 * 0.2 * coat.resin_mol_m2
    assert resin / (resin + sum(grams)) == pytest.approx(0.2)
    assert [g / sum(grams) for g in grams] == pytest.approx(list(MEDIUM.mass_fractions.values()))
    um = resin / 1.2 + sum(
        g * 1000.0 / s.density_kg_m3 for g, s in zip(grams, coat.solvents, strict=True)
    )
    assert um == pytest.approx(100.0)  # g/m2 over g/cm3 is um
    assert coat.resin_heat_j_m2k == pytest.approx(1.5 * resin)


@pytest.mark.parametrize("speed_m_s", [0.0, 0.15, 0.5, 2.0])
def test_the_gun_stirs_the_air_at_least_so_much(speed_m_s: float) -> None:
    plain = float(heat_transfer_w_m2k(speed_m_s, 10.0, mean_temp_c=20.0))
    assert sprayed_convection_w_m2k(speed_m_s, 25.0) == pytest.approx(max(plain, 4.0))


def test_still_air_gives_four_and_a_fan_more() -> None:
    still, gentle, fan = sprayed_convection_w_m2k([0.15, 0.5, 2.0], 25.0)
    assert still == 4.0
    assert still < gentle < fan


@settings(max_examples=15)
@given(
    blend=BLENDS,
    temp_c=st.floats(-40.0, 80.0),
    surface_c=st.floats(-40.0, 80.0),
    heat=st.floats(0.5, 100.0),
    wet_um=st.floats(10.0, 500.0),
)
def test_whatever_is_believed_is_answered(
    blend: ThinnerBlend, temp_c: float, surface_c: float, heat: float, wet_um: float
) -> None:
    coat = SprayedCoat(wet_um, 0.05, surface_c)
    film = blush(temp_c, [0.001, 0.5, 1.0], blend=blend, coat=coat, convection_w_m2k=heat)
    coldest = min(temp_c, surface_c)
    for lowest in (film.lowest_film_c, film.lowest_edge_c):
        assert np.all(lowest <= surface_c)
        assert np.all(lowest > coldest - 75.0)  # the deepest chill met by trial is 57 K
    for amount in (film.condensed_wood_g_m2, film.condensed_edge_g_m2, film.wet_wood_s):
        assert np.all(np.isfinite(amount) & (amount >= 0.0))


# --- refusals ---


def test_a_blend_of_an_unknown_solvent_is_refused_with_what_is_known() -> None:
    with pytest.raises(BadInput, match=r"'mine': solvent 'petrol' is not in the table.*acetone"):
        ThinnerBlend("mine", {"petrol": 1.0})


@pytest.mark.parametrize("share", [0.0, -0.2, float("nan")])
def test_a_share_that_is_none_is_refused(share: float) -> None:
    with pytest.raises(BadInput, match="the share of acetone is"):
        ThinnerBlend("mine", {"toluene": 1.0, "acetone": share})


@pytest.mark.parametrize("shares", [{}, {"acetone": 0.5}, {"acetone": 50.0, "toluene": 50.0}])
def test_shares_that_do_not_sum_to_one_are_refused(shares: dict[str, float]) -> None:
    with pytest.raises(BadInput, match="they must sum to 1"):
        ThinnerBlend("mine", shares)


def test_a_blend_cannot_be_changed_from_outside() -> None:
    shares = {"acetone": 1.0}
    blend = ThinnerBlend("mine", shares)
    shares["acetone"] = 0.5
    assert blend.mass_fractions["acetone"] == 1.0


@pytest.mark.parametrize(
    ("figure", "value"),
    [("wet_um", 5.0), ("wet_um", 1000.0), ("solids_frac", 0.0), ("solids_frac", 20.0)],
)
def test_a_coat_that_cannot_be_meant_is_refused(figure: str, value: float) -> None:
    with pytest.raises(BadInput, match=figure):
        SprayedCoat(**{figure: value})


def test_a_surface_out_of_range_is_refused() -> None:
    with pytest.raises(BadInput, match="surface_c is 200"):
        SprayedCoat(surface_c=200.0)


@pytest.mark.parametrize(
    ("given_wrong", "complaint"),
    [
        ({"temp_c": 200.0}, "temp_c is 200"),
        ({"rh_frac": 50.0}, "rh_frac is 50"),
        ({"rh_frac": 0.0}, "rh_frac"),
        ({"convection_w_m2k": 0.0}, "convection_w_m2k is 0"),
        ({"p_pa": -1.0}, "p_pa is -1"),
        ({"temp_c": [1.0, 2.0, 3.0], "rh_frac": [0.5, 0.6]}, "do not fit"),
    ],
)
def test_air_that_cannot_be_is_refused(given_wrong: dict[str, float], complaint: str) -> None:
    air = {"temp_c": 25.0, "rh_frac": 0.5, **given_wrong}
    with pytest.raises(BadInput, match=complaint):
        blush(air.pop("temp_c"), air.pop("rh_frac"), blend=MEDIUM, **air)


def test_every_solvent_alone_can_be_a_blend() -> None:
    for name in FILM_SOLVENTS:
        film = blush(20.0, 0.5, blend=ThinnerBlend(name, {name: 1.0}))
        assert film.lowest_edge_c <= film.lowest_film_c <= 20.0
