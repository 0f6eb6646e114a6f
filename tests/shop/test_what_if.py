"""What another climate would do to a finish's clocks: ranges, caps, and what the wood does."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.science.kinetics import GAS_CONSTANT_J_MOLK
from curewatch.shop.finish import ClockName, Figure
from curewatch.shop.reading import Standing
from curewatch.shop.room import Room
from curewatch.shop.what_if import Air, Speed, ea_band, heated, on_schedule, plausible, speeds
from tests.shop.scene import finish

CURE, DRYING = ClockName.CURE, ClockName.DRYING
LOFT = Room("loft")
NAMES = ("waterborne", "nitro-lacquer", "two-part-urethane", "oil-varnish", "shellac")
TEMPS = st.floats(-5.0, 60.0)
HUMIDITIES = st.floats(0.0, 1.0)


def found(name: str, before: Air, after: Air, *, room_after: Room = LOFT) -> dict[ClockName, Speed]:
    """Return the speeds in one room."""
    return speeds(finish(name), before, after, room=LOFT, room_after=room_after)


def arrhenius(ea_kj_mol: float, temp_c: float, from_c: float) -> float:
    """Return the ratio of two rates by hand."""
    inverse = 1.0 / (temp_c + 273.15) - 1.0 / (from_c + 273.15)
    return math.exp(-ea_kj_mol * 1000.0 / GAS_CONSTANT_J_MOLK * inverse)


@pytest.mark.parametrize(
    ("to_c", "low", "high"),
    [(27.0, 1.28, 2.09), (32.0, 1.56, 3.8), (38.0, 1.95, 7.5)],  # 30 and 90 kJ/mol, by hand
)
def test_without_a_band_of_its_own_a_finish_spans_what_wood_finishes_span(
    to_c: float, low: float, high: float
) -> None:
    lacquer = finish("acrylic-lacquer")
    assert lacquer.cure is not None
    bare = replace(
        lacquer,
        cure=replace(lacquer.cure, ea_kj_mol=Figure(55.0, Standing.DATA_SHEET)),
    )
    air = Air.of(21.0, 0.5)
    speed = speeds(bare, air, heated(air, to_c), room=LOFT, room_after=LOFT)[CURE]
    assert speed.against_room is not None
    assert speed.against_room.low == pytest.approx(low, rel=0.01)
    assert speed.against_room.high == pytest.approx(high, rel=0.01)
    assert speed.against_room.likely == pytest.approx(arrhenius(55.0, to_c, 21.0), rel=1e-9)


def test_the_band_always_holds_the_profiles_own_figure() -> None:
    own = finish("two-part-urethane")
    assert own.cure is not None
    assert ea_band(own) == (28.0, 60.0)
    odd = replace(own, cure=replace(own.cure, ea_kj_mol=Figure(20.0, Standing.LEARNT_HERE)))
    assert ea_band(odd) == (20.0, 90.0)
    assert ea_band(finish("dose-cured")) == (30.0, 90.0)


def test_heated_air_keeps_its_water_and_the_wood_dries() -> None:
    # 18 degC and 45 % heated: computed independently for the trade's background, to the per cent
    air = Air.of(18.0, 0.45)
    for temp_c, rh, emc in ((27.0, 0.26, 5.4), (32.0, 0.20, 4.2), (38.0, 0.14, 3.1)):
        warm = heated(air, temp_c)
        assert warm.mean_rh_frac() == pytest.approx(rh, abs=0.005)
        assert warm.mean_emc_pct() == pytest.approx(emc, abs=0.05)


def test_cooled_air_stops_at_saturation() -> None:
    assert heated(Air.of(21.0, 0.8), 5.0).mean_rh_frac() == 1.0


def test_what_is_not_measured_stays_unknown() -> None:
    nothing = Air.of(None, None)
    assert heated(nothing, 27.0).mean_temp_c() is None
    assert nothing.mean_emc_pct() is None
    speed = found("waterborne", nothing, Air.of(27.0, 0.4))[CURE]
    assert speed.against_reference is not None
    assert speed.against_room is None
    assert speed.as_it_is is None
    dry = found("waterborne", Air.of(18.0, None), Air.of(27.0, None))[DRYING]
    assert dry.against_reference is None
    lacquer = found("nitro-lacquer", Air.of(18.0, None), Air.of(27.0, None))[DRYING]
    assert lacquer.against_room is not None  # humidity is no rate for it


def test_against_air_that_earns_nothing_there_is_no_ratio() -> None:
    speed = found("waterborne", Air.of(8.0, 0.5), Air.of(21.0, 0.5))[CURE]
    assert speed.as_it_is is not None
    assert speed.as_it_is.high == 0.0
    assert speed.against_room is None
    assert speed.against_reference is not None
    assert speed.against_reference.likely == pytest.approx(1.0)


def test_a_finish_cured_by_dose_has_no_clock_to_speed() -> None:
    assert found("dose-cured", Air.of(18.0, 0.5), Air.of(27.0, 0.5)) == {}


def test_the_cap_of_credit_holds() -> None:
    air = Air.of(18.0, 0.45)
    at_cap, beyond = (found("nitro-lacquer", air, heated(air, t))[CURE] for t in (38.0, 50.0))
    assert at_cap.against_room == beyond.against_room


def test_a_fan_speeds_drying_and_leaves_the_cure_alone() -> None:
    air = Air.of(20.0, 0.5)
    speed = found("waterborne", air, air, room_after=Room("loft", air="fan"))
    cure, drying = speed[CURE].against_room, speed[DRYING].against_room
    assert cure is not None
    assert drying is not None
    assert cure.low == cure.high == 1.0
    assert 1.5 < drying.low < drying.high


def test_which_solvent_leads_is_part_of_a_lacquers_doubt() -> None:
    laws = plausible(finish("nitro-lacquer"), DRYING, LOFT)
    assert len(laws) == len(set(laws)) == 9  # three solvents, three speeds of the air
    air = Air.of(18.0, 0.45)
    speed = found("nitro-lacquer", air, heated(air, 27.0))[DRYING]
    assert speed.against_room is not None
    assert speed.against_room.low < speed.against_room.high


def test_a_heater_on_a_schedule_never_cools() -> None:
    day = Air(np.array([10.0, 24.0, 10.0]), np.array([0.6, 0.4, 0.6]))
    heat = on_schedule(day, 21.0, [True, True, False])
    assert heat.temp_c.tolist() == [21.0, 24.0, 10.0]
    assert heat.rh_frac[0] < 0.35
    assert heat.rh_frac[1:].tolist() == pytest.approx([0.4, 0.6])


def test_a_day_is_the_mean_of_its_rates_not_the_rate_of_its_mean() -> None:
    # 10 h at 21 degC and 14 h at 10 degC: 18.7 h a day at 30 kJ/mol, 13.4 at 90 (by hand:
    # 10 + 14 x 0.62 and 10 + 14 x 0.24); no finish here credits 10 degC, so the floor is lowered
    oil = finish("oil-varnish")
    assert oil.cure is not None
    figure = Figure(60.0, Standing.FROM_MEMORY, low=30.0, high=90.0)
    low = replace(oil.cure.lower_limit_c, value=0.0)
    oil = replace(oil, cure=replace(oil.cure, ea_kj_mol=figure, lower_limit_c=low))
    day = Air(np.array([21.0] * 10 + [10.0] * 14), np.full(24, 0.5))
    speed = speeds(oil, day, day, room=LOFT, room_after=LOFT)[CURE]
    assert speed.against_reference is not None
    assert 24.0 * speed.against_reference.high == pytest.approx(18.7, abs=0.05)
    assert 24.0 * speed.against_reference.low == pytest.approx(13.4, abs=0.05)


@given(name=st.sampled_from(NAMES), old_c=TEMPS, new_c=TEMPS, rh=HUMIDITIES)
def test_a_range_holds_the_profiles_own_figure(
    name: str, old_c: float, new_c: float, rh: float
) -> None:
    air = Air.of(old_c, rh)
    for speed in found(name, air, heated(air, new_c)).values():
        for one in (speed.against_reference, speed.against_room, speed.as_it_is):
            assert one is None or one.low <= one.likely <= one.high


@given(name=st.sampled_from(NAMES), cold_c=TEMPS, by_k=st.floats(0.0, 30.0), rh=HUMIDITIES)
def test_warmer_never_lowers_the_rate_of_cure(
    name: str, cold_c: float, by_k: float, rh: float
) -> None:
    air = Air.of(cold_c, rh)
    cold = found(name, air, air)[CURE].against_reference
    warm = found(name, air, heated(air, cold_c + by_k))[CURE].against_reference
    assert cold is not None
    assert warm is not None
    for end in ("low", "likely", "high"):
        assert getattr(warm, end) >= getattr(cold, end) * (1.0 - 1e-9)


@given(temp_c=TEMPS, rh=HUMIDITIES)
def test_the_wood_gets_no_drier_where_nothing_is_heated(temp_c: float, rh: float) -> None:
    air = Air.of(temp_c, rh)
    same = heated(air, temp_c)
    old, new = air.mean_emc_pct(), same.mean_emc_pct()
    assert old is not None
    assert new is not None
    assert new == pytest.approx(old, rel=1e-9, abs=1e-12)
    off = on_schedule(air, temp_c - 1.0, [True])
    assert off.mean_emc_pct() == pytest.approx(old, rel=1e-9, abs=1e-12)


@given(temp_c=st.floats(0.0, 40.0), by_k=st.floats(0.5, 20.0), rh=st.floats(0.05, 0.95))
def test_heated_air_always_dries_the_wood(temp_c: float, by_k: float, rh: float) -> None:
    air = Air.of(temp_c, rh)
    old, new = air.mean_emc_pct(), heated(air, temp_c + by_k).mean_emc_pct()
    assert old is not None
    assert new is not None
    assert new < old
