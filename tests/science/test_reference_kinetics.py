"""The cure clock's rate against a reference kinetics library (Cantera, ArrheniusRate)."""

from __future__ import annotations

import cantera
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.science.kinetics import CureLaw, rate

REFERENCE_C, ZERO_C_K = 21.0, 273.15


@given(ea_kj_mol=st.floats(10.0, 250.0), temp_c=st.floats(-20.0, 75.0))
def test_the_rate_is_the_librarys_k_of_t_over_k_of_the_reference(
    ea_kj_mol: float, temp_c: float
) -> None:
    reference = cantera.ArrheniusRate(1.0, 0.0, ea_kj_mol * 1e6)  # J/kmol there
    wanted = reference(temp_c + ZERO_C_K) / reference(REFERENCE_C + ZERO_C_K)
    got = rate(temp_c, 0.5, CureLaw(ea_kj_mol=ea_kj_mol, reference_temp_c=REFERENCE_C))
    assert float(got) == pytest.approx(wanted, rel=1e-7)  # both sides use CODATA 2018's R


def test_the_doubling_rule_of_the_trade_is_about_fifty_kilojoules() -> None:
    reference = cantera.ArrheniusRate(1.0, 0.0, 51.22e6)  # doubles from 20 to 30 degC
    assert reference(303.15) / reference(293.15) == pytest.approx(2.0, rel=1e-4)
    law = CureLaw(ea_kj_mol=51.22, reference_temp_c=20.0)
    assert np.asarray(rate(30.0, 0.5, law)) == pytest.approx(2.0, rel=1e-4)
