"""The cure clock's rate against a reference kinetics library (Cantera, ArrheniusRate)."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cantera
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.science.kinetics import CureLaw, rate
from tests.validation_page import furthest_rel

if TYPE_CHECKING:
    from collections.abc import Callable

REFERENCE_C, ZERO_C_K = 21.0, 273.15


@given(ea_kj_mol=st.floats(10.0, 250.0), temp_c=st.floats(-20.0, 75.0))
def test_the_rate_is_the_librarys_k_of_t_over_k_of_the_reference(
    ea_kj_mol: float, temp_c: float
) -> None:
    reference = cantera.ArrheniusRate(1.0, 0.0, ea_kj_mol * 1e6)  # J/kmol there
    wanted = reference(temp_c + ZERO_C_K) / reference(REFERENCE_C + ZERO_C_K)
    got = rate(temp_c, 0.5, CureLaw(ea_kj_mol=ea_kj_mol, reference_temp_c=REFERENCE_C))
    assert float(got) == pytest.approx(wanted, rel=1e-7)  # both sides use CODATA 2018's R


def test_the_rate_is_the_librarys_on_a_grid_of_energies_and_temperatures(
    agreement: Callable,
) -> None:
    energies, temps_c = np.linspace(10.0, 250.0, 25), np.linspace(-20.0, 75.0, 96)
    for ea_kj_mol in energies:
        library = cantera.ArrheniusRate(1.0, 0.0, ea_kj_mol * 1e6)
        wanted = np.array([library(temp_c + ZERO_C_K) for temp_c in temps_c])
        wanted /= library(REFERENCE_C + ZERO_C_K)
        got = rate(temps_c, 0.5, CureLaw(ea_kj_mol=ea_kj_mol, reference_temp_c=REFERENCE_C))
        np.testing.assert_allclose(got, wanted, rtol=1e-7)
        agreement(
            check="rate of the cure clock, -20 to 75 degC, 10 to 250 kJ/mol",
            source="Cantera (ArrheniusRate), run beside it",
            tolerance="1e-7 relative",
            measured=furthest_rel(got, wanted),
            unit="relative",
            n=temps_c.size,
        )


def test_the_doubling_rule_of_the_trade_is_about_fifty_kilojoules() -> None:
    reference = cantera.ArrheniusRate(1.0, 0.0, 51.22e6)  # doubles from 20 to 30 degC
    assert reference(303.15) / reference(293.15) == pytest.approx(2.0, rel=1e-4)
    law = CureLaw(ea_kj_mol=51.22, reference_temp_c=20.0)
    assert np.asarray(rate(30.0, 0.5, law)) == pytest.approx(2.0, rel=1e-4)
