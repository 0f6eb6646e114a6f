"""The humidity of a cold room, as it was when the room was that cold before."""

import numpy as np
import numpy.typing as npt
import pytest

from curewatch.science.humid_air import saturation_pressure_pa
from curewatch.science.outlook_climate import climate_ahead
from curewatch.science.outlook_cold import COLDER_K, ENOUGH_H, MEMORY_H, SELDOM, dampest_seen
from curewatch.science.outlook_paths import PlannedClimate

FloatArray = npt.NDArray[np.float64]


def steam(temp_c: FloatArray, rh_frac: FloatArray) -> FloatArray:
    return np.asarray(rh_frac * np.asarray(saturation_pressure_pa(temp_c)))


def room(cold_c: float, cold_rh: float, nights: int) -> tuple[FloatArray, FloatArray]:
    """Return three weeks at 20 degC and 50 %, with some nights of ten hours in the cold."""
    temp, rh = np.full(24 * 21, 20.0), np.full(24 * 21, 0.5)
    for night in range(nights):
        hours = slice(24 * (12 - night), 24 * (12 - night) + 10)
        temp[hours], rh[hours] = cold_c, cold_rh
    return temp, steam(temp, rh)


def off(temp: FloatArray, pressure: FloatArray, to_c: float, *, free: bool = True) -> float:
    """Return the relative humidity a day after the heating went off [fraction]."""
    plan = PlannedClimate(0.0, 60.0, temp_c=to_c, settling_h=3.0, free=free)
    found = climate_ahead(temp, pressure, 3600.0, hours=24.0, planned=(plan,))
    assert found is not None
    assert found.rh_frac is not None
    return float(found.rh_frac.likely)


def test_a_room_that_stayed_drier_on_cold_nights_is_taken_to_do_so_again() -> None:
    assert off(*room(6.0, 0.72, 4), 6.0) == pytest.approx(0.72, abs=0.005)


def test_a_room_that_was_never_so_cold_is_taken_to_keep_its_vapour() -> None:
    assert off(*room(6.0, 0.72, 0), 6.0) == pytest.approx(1.0)
    assert off(*room(6.0, 0.72, 2), 6.0) == pytest.approx(1.0)  # 20 hours are too few
    assert off(*room(12.0, 0.72, 4), 6.0) == pytest.approx(1.0)


def test_only_a_room_left_to_itself_is_compared_with_its_cold_nights() -> None:
    assert off(*room(6.0, 0.72, 4), 6.0, free=False) == pytest.approx(1.0)


def test_a_cold_night_never_makes_air_damper_than_its_vapour_allows() -> None:
    dry = 0.2 * float(saturation_pressure_pa(20.0)) / float(saturation_pressure_pa(6.0))
    temp, pressure = room(6.0, 0.95, 4)
    warm = temp == 20.0
    pressure[warm] = steam(temp[warm], np.full(int(warm.sum()), 0.2))
    assert off(temp, pressure, 6.0) == pytest.approx(dry, abs=0.02)


def test_a_plan_that_is_over_is_forgotten() -> None:
    temp, pressure = room(20.0, 0.3, 10)
    over = PlannedClimate(-9.0, -1.0, temp_c=6.0, free=True)
    plain, after = (
        climate_ahead(temp, pressure, 3600.0, hours=2.0, planned=plans) for plans in ((), (over,))
    )
    assert plain is not None
    assert after is not None
    assert plain.rh_frac is not None
    assert after.rh_frac is not None
    assert plain.rh_frac.likely == after.rh_frac.likely


def test_it_is_the_humidity_that_was_seldom_surpassed() -> None:
    rh = np.linspace(0.4, 0.9, 100)
    temp = np.full(100, 7.0)
    asked = np.array([7.2, 7.0 + COLDER_K, 7.0 + COLDER_K + 1.0, 6.9])
    found = dampest_seen(temp, steam(temp, rh), asked)
    assert found[0] == found[1] == pytest.approx(np.quantile(rh, SELDOM))
    assert found[2] == found[3] == 1.0


def test_unknown_and_forgotten_hours_say_nothing_and_fog_is_no_more_than_saturated() -> None:
    temp = np.full(ENOUGH_H, 5.0)
    pressure = steam(temp, np.full(ENOUGH_H, 0.7))
    assert dampest_seen(temp, pressure, np.array([5.0])) == pytest.approx(0.7)
    later = np.full(MEMORY_H, 20.0)
    cells, steams = (np.concatenate((one, later)) for one in (temp, pressure))
    assert dampest_seen(cells, steams, np.array([5.0])) == 1.0
    pressure[0] = np.nan
    assert dampest_seen(temp, pressure, np.array([5.0])) == 1.0
    fog = steam(temp, np.full(ENOUGH_H, 1.1))
    assert dampest_seen(temp, fog, np.array([5.0])) == 1.0
