import numpy as np
import pytest

from curewatch.errors import BadInput
from curewatch.science import dew_point_c, emc_pct
from curewatch.science.arrays import as_numbers, checked_positive, checked_shapes, checked_temp


def test_a_scalar_comes_back_as_something_float_accepts() -> None:
    assert isinstance(float(dew_point_c(20.0, 0.5)), float)


def test_scalars_and_arrays_broadcast() -> None:
    assert emc_pct(20.0, [0.3, 0.5, 0.7]).shape == (3,)
    assert emc_pct(np.array([[10.0], [20.0]]), [0.3, 0.5, 0.7]).shape == (2, 3)


def test_an_empty_record_gives_an_empty_answer() -> None:
    assert dew_point_c([], []).shape == (0,)


@pytest.mark.parametrize("temp_c", [-40.1, 80.1, float("nan"), float("inf"), -float("inf")])
def test_a_temperature_outside_the_range_is_refused_by_name_and_range(temp_c: float) -> None:
    with pytest.raises(BadInput, match=r"temp_c is .* from -40 to 80 degC"):
        dew_point_c(temp_c, 0.5)


@pytest.mark.parametrize("rh_frac", [-0.01, 1.01, 55.0, float("nan")])
def test_a_humidity_outside_the_range_is_refused_and_the_fraction_is_named(rh_frac: float) -> None:
    with pytest.raises(BadInput, match=r"rh_frac is .* \(50 % is written 0\.5\)"):
        emc_pct(20.0, rh_frac)


def test_the_ends_of_the_ranges_are_allowed() -> None:
    assert np.all(np.isfinite(emc_pct([-40.0, 80.0], [0.0, 1.0])))


def test_the_first_bad_index_of_an_array_is_named() -> None:
    with pytest.raises(BadInput, match=r"temp_c at index 2 is 95"):
        emc_pct([20.0, 21.0, 95.0, 99.0], 0.5)


def test_the_first_bad_index_of_a_table_is_named_row_and_column() -> None:
    table = np.full((3, 4), 20.0)
    table[1, 2] = np.nan
    with pytest.raises(BadInput, match=r"temp_c at index 1, 2 is nan"):
        checked_temp(table)


def test_shapes_that_do_not_fit_are_named() -> None:
    with pytest.raises(BadInput, match=r"temp_c \(2,\), rh_frac \(3,\)"):
        emc_pct([20.0, 21.0], [0.4, 0.5, 0.6])


def test_fitting_shapes_give_their_common_shape() -> None:
    assert checked_shapes(a=np.zeros((2, 1)), b=np.zeros(3)) == (2, 3)


@pytest.mark.parametrize("value", ["21.4", True, None, [True, False], ["20", "21"], 1j])
def test_text_and_truth_values_are_not_numbers(value: object) -> None:
    with pytest.raises(BadInput, match="not numbers"):
        as_numbers(value, "temp_c")  # type: ignore[arg-type]


def test_a_ragged_list_is_refused() -> None:
    with pytest.raises(BadInput, match="not an even array"):
        as_numbers([[1.0], [1.0, 2.0]], "temp_c")  # type: ignore[list-item]


@pytest.mark.parametrize("p_pa", [0.0, -1.0, float("nan"), float("inf")])
def test_only_finite_pressures_above_zero_are_taken(p_pa: float) -> None:
    with pytest.raises(BadInput, match=r"p_pa is .* above 0 Pa"):
        checked_positive(p_pa, "p_pa", unit="Pa")
