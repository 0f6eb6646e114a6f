"""Wood moisture against the table of the Wood Handbook, chapter 4 (reference/wood_emc.csv).

Its lag against Crank's plane sheet (reference/desorption_plane_sheet.csv).
"""

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.errors import BadInput
from curewatch.science import emc_pct
from curewatch.science.wood import hours_to_settle, moisture_after
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


# ---- the lag


@pytest.mark.parametrize(
    ("most_transfer", "allowed_pct", "said"),
    [(1.0, 1.0, "a surface that holds back"), (np.inf, 13.0, "bare wood as well")],
)
def test_one_lag_of_the_mean_time_follows_the_plane_sheet(
    reference: Callable,
    agreement: Callable,
    most_transfer: float,
    allowed_pct: float,
    said: str,
) -> None:
    rows = [
        row
        for row in reference("desorption_plane_sheet")
        if row["Fo_Dt_over_a2"] and float(row["L"]) <= most_transfer
    ]
    gone = np.array([float(row["Mt_over_Minf"]) for row in rows])
    ours = [
        1.0
        - moisture_after(
            1.0,
            [0.0],
            step_h=float(row["Fo_Dt_over_a2"]),
            lag_h=1.0 / 3.0 + 1.0 / float(row["L"]),
        )
        for row in rows
    ]
    assert len(rows) > 20
    np.testing.assert_allclose(ours, gone, rtol=0.0, atol=allowed_pct / 100.0)
    agreement(
        check=f"wood as one lag of its mean time: percent of a step, {said}",
        source="Crank, The Mathematics of Diffusion, 2nd edition (1975), chapter 4, plane sheet",
        tolerance=f"{allowed_pct:g} %",
        measured=100.0 * furthest(np.array(ours), gone),
        unit="%",
        n=len(rows),
    )


def test_a_step_is_answered_by_the_exponential_law(agreement: Callable) -> None:
    hours = np.arange(1, 2001)
    ours = np.array([moisture_after(8.0, np.full(h, 12.0), step_h=1.0, lag_h=336.0) for h in hours])
    exact = 12.0 - 4.0 * np.exp(-hours / 336.0)
    np.testing.assert_allclose(ours, exact, rtol=0.0, atol=1e-9)
    agreement(
        check="wood's answer to a step of its room, hour by hour, percent moisture content",
        source="closed solution of dm/dt = (EMC - m) / lag",
        tolerance="1e-9 %",
        measured=furthest(ours, exact),
        unit="%",
        n=len(hours),
    )


def test_days_and_nights_are_damped_as_theory_says_of_a_sine() -> None:
    # A first-order lag answers a sine of circular frequency w with 1 / sqrt(1 + (w lag)^2) of it.
    hours = np.arange(24 * 60) + 0.5
    asked = 9.0 + 2.0 * np.sin(2.0 * np.pi * hours / 24.0)
    held = [moisture_after(9.0, asked[:n], step_h=1.0, lag_h=24.0) for n in range(1200, 1440)]
    assert np.ptp(held) / 4.0 == pytest.approx(1.0 / np.hypot(1.0, 2.0 * np.pi), rel=0.01)


@given(
    emc=st.lists(st.floats(0.0, 30.0), min_size=2, max_size=60),
    cut=st.integers(1, 59),
    lag_h=st.floats(1.0, 2000.0),
    start_pct=st.floats(0.0, 30.0),
)
def test_a_record_may_be_cut_anywhere(
    emc: list[float], cut: int, lag_h: float, start_pct: float
) -> None:
    whole = moisture_after(start_pct, emc, step_h=1.0, lag_h=lag_h)
    cut = min(cut, len(emc) - 1)
    half = moisture_after(start_pct, emc[:cut], step_h=1.0, lag_h=lag_h)
    parts = moisture_after(half, emc[cut:], step_h=1.0, lag_h=lag_h)
    np.testing.assert_allclose(parts, whole, atol=1e-9)
    assert min([start_pct, *emc]) - 1e-9 <= whole <= max([start_pct, *emc]) + 1e-9


def test_several_lags_are_answered_at_once() -> None:
    asked = [10.0, 11.0, 12.0]
    both = moisture_after([8.0, 9.0], asked, step_h=24.0, lag_h=[120.0, 960.0])
    assert both.shape == (2,)
    assert both[0] == moisture_after(8.0, asked, step_h=24.0, lag_h=120.0)
    assert both[1] == moisture_after(9.0, asked, step_h=24.0, lag_h=960.0)


def test_wood_settles_when_what_is_left_has_shrunk_to_the_limit() -> None:
    hours = float(hours_to_settle(-4.0, within=0.5, lag_h=336.0))
    assert moisture_after(12.0, [8.0], step_h=hours, lag_h=336.0) == pytest.approx(8.5)
    assert hours_to_settle([0.5, -0.2, 0.0], within=0.5, lag_h=336.0).tolist() == [0.0] * 3


@pytest.mark.parametrize(
    ("named", "call"),
    [
        ("lag_h", lambda: moisture_after(8.0, [9.0], step_h=1.0, lag_h=0.0)),
        ("step_h", lambda: moisture_after(8.0, [9.0], step_h=-1.0, lag_h=1.0)),
        ("emc", lambda: moisture_after(8.0, [np.nan], step_h=1.0, lag_h=1.0)),
        ("start_pct", lambda: moisture_after(1e3, [9.0], step_h=1.0, lag_h=1.0)),
        ("to_come", lambda: hours_to_settle(np.inf, within=1.0, lag_h=1.0)),
        ("within", lambda: hours_to_settle(1.0, within=0.0, lag_h=1.0)),
    ],
)
def test_what_cannot_be_is_refused_by_name(named: str, call: Callable) -> None:
    with pytest.raises(BadInput, match=named):
        call()
