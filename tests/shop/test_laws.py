from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from curewatch.errors import BadInput
from curewatch.finish_files import shipped_names
from curewatch.science import evaporation, kinetics
from curewatch.shop.finish import ClockName, DryingLaw, Finish, MilestoneName
from curewatch.shop.laws import (
    air_speed_m_s,
    cure_law,
    drying_law,
    law_for,
    reference_climate,
    required_h,
    thickness_factor,
    usual_drying_h,
)
from curewatch.shop.piece import Coat
from curewatch.shop.reading import Standing
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


def at_reference(name: str, temp_c: float, rh_pct: float = 50.0) -> Finish:
    """A profile whose hours are counted at another climate."""
    of = finish(name)
    assert of.cure is not None
    figures = replace(
        of.cure,
        reference_temp_c=replace(of.cure.reference_temp_c, value=temp_c),
        reference_rh_pct=replace(of.cure.reference_rh_pct, value=rh_pct),
    )
    return replace(of, cure=figures)


@pytest.mark.parametrize("name", ["waterborne", "nitro-lacquer", "oil-varnish"])
def test_drying_hours_are_counted_at_the_profile_s_own_reference_climate(name: str) -> None:
    warm, usual = drying_law(at_reference(name, 25.0), LOFT), drying_law(finish(name), LOFT)
    assert warm is not None
    assert usual is not None
    climates = np.array([25.0, 21.0, 15.5]), np.array([0.5, 0.5, 0.5])
    there, here = warm.rates(*climates), usual.rates(*climates)
    assert there[0] == pytest.approx(1.0)
    assert here[1] == pytest.approx(1.0)
    assert there[1] < 0.9
    assert there / here == pytest.approx(np.full(3, there[1]))  # only the unit differs


def test_a_waterborne_s_drying_hours_follow_the_humidity_of_its_reference_too() -> None:
    law = drying_law(at_reference("waterborne", 23.0, 40.0), LOFT)
    assert law is not None
    rates = law.rates(np.array([23.0, 23.0]), np.array([0.4, 0.5]))
    assert rates[0] == pytest.approx(1.0)
    assert rates[1] < 0.95


def test_a_water_load_leaves_in_the_same_wall_time_whatever_the_reference() -> None:
    of, warm = finish("waterborne"), at_reference("waterborne", 25.0, 40.0)
    usual_h, warm_h = usual_drying_h(of), usual_drying_h(warm)
    law, warm_law = drying_law(of, LOFT), drying_law(warm, LOFT)
    assert usual_h is not None
    assert warm_h is not None
    assert law is not None
    assert warm_law is not None
    room = np.array([18.0]), np.array([0.6])
    wall_h, warm_wall_h = usual_h / law.rates(*room)[0], warm_h / warm_law.rates(*room)[0]
    assert warm_h < 0.85 * usual_h
    assert warm_wall_h == pytest.approx(wall_h)


def test_a_finish_without_a_cure_is_counted_at_the_usual_climate() -> None:
    assert reference_climate(finish("dose-cured")) == (21.0, 0.5)
    assert reference_climate(at_reference("waterborne", 25.0, 40.0)) == (25.0, 0.4)


def test_the_longest_gap_is_the_shop_s_own_or_follows_from_its_slowest_sensor() -> None:
    fast, slow = Sensor("a", "loft", 60.0), Sensor("b", "loft", 1200.0)
    assert longest_gap_s(replace(LOFT, longest_gap_s=77.0), (fast, slow)) == 77.0
    assert longest_gap_s(LOFT, (fast,)) == 1800.0
    assert longest_gap_s(LOFT, (fast, slow)) == 3600.0
    assert longest_gap_s(LOFT, (fast, Sensor("c", "loft"))) == 180 * 60.0
    assert longest_gap_s(LOFT, (Sensor("d", "cellar", 60.0),)) == 180 * 60.0


def recoat_h(of: Finish, wet_um: float | None) -> float:
    found = required_h(of, MilestoneName.RECOAT_OPENS, (Coat(T0_MS, wet_um),))
    assert found is not None
    return found


def test_a_thin_coat_never_undercuts_a_data_sheet_s_own_hours() -> None:
    of = finish("nitro-lacquer")
    usual, thin = of.drying.wet_film_um.value, of.drying.wet_film_um.value / 2.0
    asked = of.requirements[MilestoneName.RECOAT_OPENS]
    sheet = replace(asked, hours=replace(asked.hours, value=2.2, standing=Standing.DATA_SHEET))
    told = replace(of, requirements={**of.requirements, MilestoneName.RECOAT_OPENS: sheet})
    assert recoat_h(told, thin) == recoat_h(told, usual) == 2.2
    assert recoat_h(told, usual * 1.5) > 2.2  # a thick one still takes longer
    assert recoat_h(of, thin) < recoat_h(of, usual)  # the profile's own figure is no sheet's


def test_a_thin_coat_never_undercuts_a_sheet_s_water_load_nor_its_sanding_hours() -> None:
    of = finish("waterborne")
    load = of.drying.water_load_g_m2
    assert load is not None
    thin = of.drying.wet_film_um.value / 2.0
    sheet = replace(load, standing=Standing.DATA_SHEET)
    told = replace(of, drying=replace(of.drying, water_load_g_m2=sheet))
    assert recoat_h(told, thin) == recoat_h(told, None) == recoat_h(of, None)
    assert recoat_h(of, thin) < recoat_h(of, None)
    asked = of.requirements[MilestoneName.DRY_SAND]
    sanded = replace(asked, hours=replace(asked.hours, standing=Standing.DATA_SHEET))
    by_sheet = replace(of, requirements={**of.requirements, MilestoneName.DRY_SAND: sanded})
    coats = (Coat(T0_MS, thin),)
    assert required_h(by_sheet, MilestoneName.DRY_SAND, coats) == asked.hours.value
    assert (required_h(of, MilestoneName.DRY_SAND, coats) or 0.0) < asked.hours.value
