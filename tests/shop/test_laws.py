from __future__ import annotations

from dataclasses import replace

import pytest

from curewatch.errors import BadInput
from curewatch.finish_files import shipped_names
from curewatch.science import evaporation, kinetics
from curewatch.shop.finish import ClockName, DryingLaw, MilestoneName
from curewatch.shop.laws import (
    air_speed_m_s,
    cure_law,
    drying_law,
    law_for,
    thickness_factor,
    usual_drying_h,
)
from curewatch.shop.piece import Coat
from curewatch.shop.room import Room, Sensor, longest_gap_s
from tests.shop.scene import T0_MS, finish

LOFT = Room("loft")


def test_a_finish_s_cure_law_has_its_figures_and_its_energy_s_standard_error() -> None:
    law = cure_law(finish("waterborne"))
    assert law is not None
    assert law.law == kinetics.CureLaw(55.0, 0.3, 21.0, 0.5, 15.0, 32.0)
    assert law.ea_se_kj_mol == pytest.approx(45 / 12**0.5)
    assert law.on_surface
    assert law.needs_humidity


def test_a_figure_without_a_band_has_no_standard_error() -> None:
    exponent = finish("waterborne").drying.thickness_exponent
    assert exponent.standard_error == pytest.approx(1 / 12**0.5)
    assert replace(exponent, low=None).standard_error == 0.0


def test_a_cure_that_humidity_does_not_move_needs_none() -> None:
    law = cure_law(finish("two-part-urethane"))
    assert law is not None
    assert not law.needs_humidity


def test_each_family_dries_by_its_own_law() -> None:
    water = drying_law(finish("waterborne"), replace(LOFT, air="fan", pressure_pa=90_000.0))
    assert water is not None
    assert water.law == evaporation.WaterDrying(air_speed_m_s=2.0, p_pa=90_000.0)
    assert water.needs_humidity
    assert not water.on_surface
    solvent = drying_law(finish("nitro-lacquer"), LOFT)
    assert solvent is not None
    assert isinstance(solvent.law, evaporation.SolventDrying)
    assert not solvent.needs_humidity
    for name in shipped_names():
        of = finish(name)
        if of.drying.law is DryingLaw.CURE:
            assert drying_law(of, LOFT) is cure_law(of)
        if of.drying.law is DryingLaw.NONE:
            assert (drying_law(of, LOFT), cure_law(of)) == (None, None)
        assert law_for(of, ClockName.CURE, LOFT) is cure_law(of)
        assert law_for(of, ClockName.DRYING, LOFT) is drying_law(of, LOFT)


def test_an_unknown_word_for_the_air_names_the_known_ones() -> None:
    assert air_speed_m_s("still") == 0.15
    with pytest.raises(BadInput, match="say one of still, gentle, fan"):
        air_speed_m_s("stormy")


def test_a_coat_without_a_measured_film_is_the_usual_one() -> None:
    of = finish("waterborne")
    assert thickness_factor(of, Coat(T0_MS)) == 1.0
    assert thickness_factor(of, Coat(T0_MS, wet_um=100.0)) == 1.0
    assert thickness_factor(of, Coat(T0_MS, wet_um=50.0)) == pytest.approx(0.5)


def test_waterborne_drying_is_the_share_of_its_water_over_the_film_s_evaporation() -> None:
    of = finish("waterborne")
    rate = float(evaporation.wet_film(21.0, 0.5, air_speed_m_s=0.15).rate_g_m2_h)
    assert usual_drying_h(of) == pytest.approx(65 * 0.8 / rate, rel=1e-6)
    told = replace(of, drying=replace(of.drying, water_load_g_m2=None))
    assert usual_drying_h(told) is None
    assert usual_drying_h(finish("nitro-lacquer")) == (
        finish("nitro-lacquer").requirements[MilestoneName.RECOAT_OPENS].hours.value
    )


def test_the_longest_gap_is_the_shop_s_own_or_follows_from_its_slowest_sensor() -> None:
    fast, slow = Sensor("a", "loft", 60.0), Sensor("b", "loft", 1200.0)
    assert longest_gap_s(replace(LOFT, longest_gap_s=77.0), (fast, slow)) == 77.0
    assert longest_gap_s(LOFT, (fast,)) == 1800.0
    assert longest_gap_s(LOFT, (fast, slow)) == 3600.0
    assert longest_gap_s(LOFT, (fast, Sensor("c", "loft"))) == 180 * 60.0
    assert longest_gap_s(LOFT, (Sensor("d", "cellar", 60.0),)) == 180 * 60.0
