"""Wood moisture against the table of the Wood Handbook, chapter 4 (reference/wood_emc.csv)."""

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.science import emc_pct
from tests.validation_page import furthest

HANDBOOK_CELL_MISPRINTED = 4.0
"""43 degC, 20 %: the page read prints 3.0; the handbook's own value."""


def test_every_cell_of_the_handbook_table_comes_out_within_its_rounding(
    reference: Callable, column: Callable, agreement: Callable
) -> None:
    rows = reference("wood_emc")
    fahrenheit = column(rows, "t_F")
    misprint = np.array([row["note"].startswith("MISPRINT") for row in rows])
    table = np.where(misprint, HANDBOOK_CELL_MISPRINTED, column(rows, "emc_pct_table"))
    ours = emc_pct((fahrenheit - 32.0) / 1.8, column(rows, "rh_pct") / 100.0)
    assert len(rows) > 100
    assert np.sum(misprint) == 1
    # Table to 0.1 %, coefficients of the equation to three digits: 0.07 %.
    np.testing.assert_allclose(ours, table, rtol=0.0, atol=0.07)
    agreement(
        check="equilibrium moisture content of wood, percent of its dry mass",
        source="USDA Forest Products Laboratory, Wood Handbook, chapter 4, table 4-2",
        tolerance="0.07 %",
        measured=furthest(ours, table),
        unit="%",
        n=len(rows),
    )


def test_the_misprinted_cell_is_far_from_the_equation() -> None:
    assert abs(float(emc_pct(43.3, 0.20)) - 3.0) > 1.0


def test_values_at_20_degrees_are_those_of_the_celsius_coefficients() -> None:
    # Computed elsewhere from the same equation; degC fed to the degF set would give 9.46 and 18.47.
    ours = emc_pct(20.0, [0.50, 0.65, 0.85, 0.95])
    np.testing.assert_allclose(ours, [9.271, 11.996, 18.002, 23.941], atol=5e-4 + 1e-9)


def test_bone_dry_air_leaves_bone_dry_wood() -> None:
    assert emc_pct(20.0, 0.0) == 0.0


@given(temp_c=st.floats(-40.0, 80.0), one=st.floats(0.0, 1.0), other=st.floats(0.0, 1.0))
def test_damper_air_gives_damper_wood(temp_c: float, one: float, other: float) -> None:
    low, high = sorted((one, other))
    assert 0.0 <= emc_pct(temp_c, low) <= emc_pct(temp_c, high) + 1e-9


@pytest.mark.parametrize("rh_frac", [0.3, 0.5, 0.7])
def test_warmer_wood_at_the_same_humidity_is_drier_in_a_shop(rh_frac: float) -> None:
    assert np.all(np.diff(emc_pct(np.linspace(10.0, 40.0, 31), rh_frac)) < 0.0)
