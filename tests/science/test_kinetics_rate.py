"""The cure rate: closed form, published age factors, limits, and what it owes to each doubt."""

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.errors import BadInput
from curewatch.science.kinetics import CureLaw, rate, rate_unchecked, spread
from tests.validation_page import furthest, furthest_pct

GAS_CONSTANT = 8.314462618
LIMITED = CureLaw(55.0, humidity_exponent=0.3, lower_limit_c=15.0, upper_limit_c=32.0)
TEMPS = st.floats(-40.0, 80.0)
HUMIDITIES = st.floats(0.0, 1.0)


def arrhenius(temp_c: float, ea_kj_mol: float, reference_c: float = 21.0) -> float:
    """Write the ratio of rate constants out plainly."""
    inverse = 1.0 / (temp_c + 273.15) - 1.0 / (reference_c + 273.15)
    return math.exp(-ea_kj_mol * 1000.0 / GAS_CONSTANT * inverse)


@given(temp_c=TEMPS, rh_frac=st.floats(0.0, 0.99), ea=st.floats(0.0, 150.0), m=st.floats(-3.0, 3.0))
def test_the_rate_is_the_closed_form(temp_c: float, rh_frac: float, ea: float, m: float) -> None:
    expected = arrhenius(temp_c, ea) * ((1.0 - rh_frac) / 0.5) ** m
    assert rate(temp_c, rh_frac, CureLaw(ea, humidity_exponent=m)) == pytest.approx(
        expected, rel=1e-10
    )


def test_an_hour_at_the_reference_climate_is_an_hour() -> None:
    law = CureLaw(62.0, humidity_exponent=0.7, reference_temp_c=23.0, reference_rh_frac=0.45)
    assert rate(23.0, 0.45, law) == pytest.approx(1.0, abs=1e-12)


def test_age_factors_are_those_of_the_concrete_standard(
    reference: Callable, agreement: Callable
) -> None:
    rows = [
        row for row in reference("equivalent_age") if row["item"].startswith("age factor C1074")
    ]
    assert len(rows) == 16
    for row in rows:
        temp_c, reference_c = (
            float(part.split("=")[1].removesuffix(" C")) for part in row["inputs"].split("; ")[:2]
        )
        law = CureLaw(5000.0 * GAS_CONSTANT / 1000.0, reference_temp_c=reference_c)
        # Pure algebra: to the last printed digit.
        assert rate(temp_c, 0.5, law) == pytest.approx(float(row["expected"]), rel=1e-9, abs=6e-10)
        agreement(
            check="age factor of the cure clock, 0 to 40 degC",
            source="formula of ASTM C1074, computed to nine decimals",
            tolerance="6e-10",
            measured=furthest(rate(temp_c, 0.5, law), float(row["expected"])),
            unit="",
            n=1,
        )


@pytest.mark.parametrize(
    ("warmer_c", "colder_c", "ea_kj_mol"),
    [(20.0, 10.0, 47.84), (25.0, 15.0, 49.51), (30.0, 20.0, 51.22), (40.0, 30.0, 54.71)],
)
def test_ten_degrees_double_it_at_the_energies_that_say_so(
    warmer_c: float, colder_c: float, ea_kj_mol: float, agreement: Callable
) -> None:
    warm, cold = rate([warmer_c, colder_c], 0.5, CureLaw(ea_kj_mol))
    assert warm / cold == pytest.approx(2.0, rel=1e-4)
    agreement(
        check="activation energies at which ten degrees double the rate",
        source="R ln 2 over the difference of inverse temperatures, two decimals",
        tolerance="0.01 %",
        measured=furthest_pct(warm / cold, 2.0),
        unit="%",
        n=1,
    )


@given(one=TEMPS, other=TEMPS)
def test_warmth_never_slows_the_cure(one: float, other: float) -> None:
    cold, warm = sorted((one, other))
    rates = rate([cold, warm], 0.5, LIMITED)
    assert 0.0 <= rates[0] <= rates[1] * (1.0 + 1e-12)


@given(temp_c=TEMPS, one=HUMIDITIES, other=HUMIDITIES, m=st.floats(-2.0, 2.0))
def test_damp_air_slows_a_drying_finish_and_hastens_a_moisture_cured_one(
    temp_c: float, one: float, other: float, m: float
) -> None:
    dry, damp = sorted((one, other))
    rates = rate(temp_c, [dry, damp], CureLaw(55.0, humidity_exponent=m))
    first, second = (0, 1) if m >= 0.0 else (1, 0)
    assert rates[first] >= rates[second] * (1.0 - 1e-12)


def test_at_the_lower_limit_the_rate_is_whole_and_a_kelvin_below_it_is_nothing() -> None:
    rates = rate([15.0, 14.75, 14.5, 14.0, 5.0], 0.5, LIMITED)
    whole = arrhenius(15.0, 55.0)
    np.testing.assert_allclose(rates, [whole, 0.75 * whole, 0.5 * whole, 0.0, 0.0], rtol=1e-12)


def test_above_the_upper_limit_the_rate_is_held() -> None:
    np.testing.assert_allclose(rate([32.0, 33.0, 60.0], 0.5, LIMITED), arrhenius(32.0, 55.0), 1e-12)


@given(limit_c=st.floats(-30.0, 70.0))
def test_the_rate_has_no_step_at_either_end_of_the_floor(limit_c: float) -> None:
    law = CureLaw(90.0, lower_limit_c=limit_c)
    step = 1e-9
    for corner in (limit_c, limit_c - 1.0):
        below, above = rate([corner - step, corner + step], 0.5, law)
        assert above - below == pytest.approx(0.0, abs=1e-6)


def test_a_lower_limit_alone_leaves_the_top_open_and_an_upper_one_the_bottom() -> None:
    assert rate(60.0, 0.5, CureLaw(55.0, lower_limit_c=15.0)) == pytest.approx(
        arrhenius(60.0, 55.0)
    )
    assert rate(0.0, 0.5, CureLaw(55.0, upper_limit_c=30.0)) == pytest.approx(arrhenius(0.0, 55.0))


def test_humidity_is_held_at_99_percent() -> None:
    law = CureLaw(55.0, humidity_exponent=-1.0)
    assert rate(21.0, 1.0, law) == rate(21.0, 0.99, law) == pytest.approx(50.0)


def test_unknown_minutes_stay_unknown_where_the_law_asks_for_them() -> None:
    temp, rh = np.array([21.0, np.nan, 21.0, 10.0]), np.array([0.5, 0.5, np.nan, np.nan])
    np.testing.assert_array_equal(
        np.isnan(rate_unchecked(temp, rh, LIMITED)), [False, True, True, True]
    )
    plain = CureLaw(55.0, lower_limit_c=15.0)
    np.testing.assert_array_equal(
        np.isnan(rate_unchecked(temp, rh, plain)), [False, True, False, False]
    )


def test_the_inputs_are_left_as_they_were() -> None:
    temp, rh = np.array([10.0, 14.5, 21.0, 40.0]), np.array([0.2, 0.5, 0.8, 1.0])
    rate_unchecked(temp, rh, LIMITED)
    np.testing.assert_array_equal(temp, [10.0, 14.5, 21.0, 40.0])
    np.testing.assert_array_equal(rh, [0.2, 0.5, 0.8, 1.0])


def test_a_climate_that_cannot_be_is_refused() -> None:
    with pytest.raises(BadInput, match="rh_frac at index 1 is 55"):
        rate([21.0, 21.0], [0.5, 55.0], LIMITED)


@pytest.mark.parametrize(
    ("fields", "named"),
    [
        ({"ea_kj_mol": -1.0}, "ea_kj_mol"),
        ({"ea_kj_mol": 55000.0}, "ea_kj_mol"),
        ({"ea_kj_mol": 55.0, "humidity_exponent": 9.0}, "humidity_exponent"),
        ({"ea_kj_mol": 55.0, "reference_temp_c": 294.0}, "reference_temp_c"),
        ({"ea_kj_mol": 55.0, "reference_rh_frac": 1.0}, "reference_rh_frac"),
        ({"ea_kj_mol": 55.0, "lower_limit_c": float("nan")}, "lower_limit_c"),
        ({"ea_kj_mol": 55.0, "upper_limit_c": 300.0}, "upper_limit_c"),
        ({"ea_kj_mol": 55.0, "lower_limit_c": 32.0, "upper_limit_c": 15.0}, "32 is not below"),
    ],
)
def test_a_law_that_cannot_be_meant_is_refused(fields: dict[str, float], named: str) -> None:
    with pytest.raises(BadInput, match=named):
        CureLaw(**fields)


def test_equal_laws_are_one_key() -> None:
    assert len({CureLaw(55.0), CureLaw(55.0), CureLaw(55.0, upper_limit_c=32.0)}) == 2


def test_the_shares_are_half_the_differences_of_the_rates_at_the_ends() -> None:
    temp, rh = np.array([14.9, 18.0, 26.0, 31.9]), np.array([0.01, 0.3, 0.6, 0.98])
    share = spread(temp, rh, LIMITED, temp_bias_k=0.3, rh_bias_frac=0.025, ea_se_kj_mol=13.0)
    high, low = rate(temp + 0.3, rh, LIMITED), rate(temp - 0.3, rh, LIMITED)
    np.testing.assert_allclose(share.temp, (high - low) / 2.0, rtol=1e-12)
    damp = rate(temp, np.minimum(rh + 0.025, 0.99), LIMITED)
    dry = rate(temp, np.maximum(rh - 0.025, 0.0), LIMITED)
    np.testing.assert_allclose(share.rh, (damp - dry) / 2.0, rtol=1e-12)
    steep = CureLaw(68.0, humidity_exponent=0.3, lower_limit_c=15.0, upper_limit_c=32.0)
    flat = CureLaw(42.0, humidity_exponent=0.3, lower_limit_c=15.0, upper_limit_c=32.0)
    np.testing.assert_allclose(
        share.ea, (rate(temp, rh, steep) - rate(temp, rh, flat)) / 2.0, rtol=1e-12
    )
    np.testing.assert_array_equal(share.air, 0.0)


def test_a_small_bias_gives_the_derivative_away_from_the_limits() -> None:
    law = CureLaw(55.0, humidity_exponent=0.3)
    share = spread(18.0, 0.6, law, temp_bias_k=0.01, rh_bias_frac=1e-4, ea_se_kj_mol=0.01)
    value = float(rate(18.0, 0.6, law))
    by_temp = value * 55000.0 / (GAS_CONSTANT * 291.15**2) * 0.01
    by_rh = -value * 0.3 / 0.4 * 1e-4
    by_ea = value * -10.0 / GAS_CONSTANT * (1.0 / 291.15 - 1.0 / 294.15)
    assert share.temp == pytest.approx(by_temp, rel=1e-4)
    assert share.rh == pytest.approx(by_rh, rel=1e-4)
    assert share.ea == pytest.approx(by_ea, rel=1e-4)


def test_near_the_floor_the_share_of_the_thermometer_is_the_whole_cliff() -> None:
    # A room at 14.9 degC under a limit of 15: within a bias of 0.3 K it earns from 60 to 100 %.
    share = spread(14.9, 0.5, LIMITED, temp_bias_k=0.3, rh_bias_frac=0.0, ea_se_kj_mol=0.0)
    ends = [0.6 * arrhenius(15.0, 55.0), arrhenius(15.2, 55.0)]
    assert share.temp == pytest.approx((ends[1] - ends[0]) / 2.0, rel=1e-12)
    derivative = 55000.0 / (GAS_CONSTANT * 288.05**2) * 0.3 * float(rate(14.9, 0.5, LIMITED))
    assert share.temp > 5.0 * derivative


def test_at_the_reference_temperature_the_energy_has_no_share() -> None:
    share = spread(21.0, 0.5, CureLaw(55.0), temp_bias_k=0.3, rh_bias_frac=0.0, ea_se_kj_mol=13.0)
    assert share.ea == pytest.approx(0.0, abs=1e-12)


def test_an_energy_less_certain_than_it_is_large_is_held_at_nothing() -> None:
    share = spread(11.0, 0.5, CureLaw(10.0), temp_bias_k=0.0, rh_bias_frac=0.0, ea_se_kj_mol=13.0)
    assert share.ea == pytest.approx((arrhenius(11.0, 23.0) - 1.0) / 2.0, rel=1e-12)


@pytest.mark.parametrize(
    "biases", [(-0.1, 0.02, 5.0), (0.3, 2.5, 5.0), (0.3, 0.02, -5.0), (float("nan"), 0.02, 5.0)]
)
def test_a_bias_that_cannot_be_is_refused(biases: tuple[float, float, float]) -> None:
    temp, rh, ea = biases
    with pytest.raises(BadInput):
        spread(21.0, 0.5, LIMITED, temp_bias_k=temp, rh_bias_frac=rh, ea_se_kj_mol=ea)
