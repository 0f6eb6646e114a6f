"""Humidity over saturated salts against Greenspan 1977 (reference/saturated_salts.csv)."""

from collections.abc import Callable

import numpy as np
import pytest

from curewatch.errors import BadInput
from curewatch.science.humid_air import saturation_pressure_pa
from curewatch.science.salts import SALTS, kept_rh_frac, unequal_error_frac
from tests.validation_page import furthest


def test_every_value_of_the_table_comes_out_within_a_tenth_of_a_point(
    reference: Callable, column: Callable, agreement: Callable
) -> None:
    rows = reference("saturated_salts")
    ours = [100.0 * float(kept_rh_frac(row["salt"], float(row["t_C"]))) for row in rows]
    table, stated = column(rows, "rh_pct"), column(rows, "stated_pct")
    assert {row["salt"] for row in rows} == set(SALTS)
    # The least uncertainty that the table states is 0.11 points; each row's own holds as well.
    assert np.all(np.abs(np.array(ours) - table) <= stated)
    agreement(
        check="humidity over seven saturated salts, points",
        source="Greenspan 1977, Journal of Research NBS 81A, 89-96, table 2 (mostly from memory)",
        tolerance="0.11 %",
        measured=furthest(np.array(ours), table),
        unit="%",
        n=len(rows),
    )


def test_the_uncertainty_taken_is_never_smaller_than_the_table_states(reference: Callable) -> None:
    for row in reference("saturated_salts"):
        if 15.0 <= float(row["t_C"]) <= 30.0:
            assert 100.0 * SALTS[row["salt"]].error_frac >= float(row["stated_pct"])


def test_the_other_sign_found_for_lithium_chloride_contradicts_the_table() -> None:
    assert abs(11.2323 - 0.00824245 * 25.0 - 2.1489e-4 * 625.0 - 11.30) > 0.27  # its uncertainty


def test_a_salt_is_asked_only_where_it_has_a_value() -> None:
    for formula, temp_c in (("NaCl", 9.9), ("NaCl", 35.1), ("K2CO3", 30.1), ("NaCl", np.nan)):
        with pytest.raises(BadInput):
            kept_rh_frac(formula, temp_c)
    with pytest.raises(BadInput, match="no salt of the table"):
        kept_rh_frac("sugar", 20.0)


def test_unequal_warmth_counts_as_saturation_pressure_says() -> None:
    for temp_c in (15.0, 20.0, 30.0):
        warmer = float(saturation_pressure_pa(temp_c) / saturation_pressure_pa(temp_c + 1.0))
        assert unequal_error_frac(0.75, 1.0) == pytest.approx(0.75 * (1.0 - warmer), abs=0.005)
