"""The film against a differential-equation solver that shares none of its code.

The solver's grid has nodes where the film has cells, and steps where the film has exponentials.
"""

import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
from scipy.integrate import solve_ivp

from curewatch.science.film import (
    SINK_TOLERANCE_UM,
    WATERBORNE_COAT_UM,
    WATERBORNE_DIFFUSIVITY_UM2_H,
    WATERBORNE_TRANSFER_UM_H,
    WATERBORNE_VOLATILE_FRAC,
    Stack,
    remaining_um,
)
from curewatch.science.kinetics import CureLaw, rate, running_hours
from tests.validation_page import furthest, furthest_rel

FloatArray = npt.NDArray[np.float64]

OFFICE = Path(__file__).parents[1] / "data" / "office-climate-2015-02.csv"
"""Candanedo and Feldheim, Energy and Buildings 112 (2016) 28-39; see tests/data/README.md."""
WATERBORNE = {
    "coat_um": WATERBORNE_COAT_UM,
    "volatile_frac": WATERBORNE_VOLATILE_FRAC,
    "diffusivity_um2_h": WATERBORNE_DIFFUSIVITY_UM2_H,
    "transfer_um_h": WATERBORNE_TRANSFER_UM_H,
}


def node_weights_um(count: int, spacing_um: float) -> FloatArray:
    """Trapezoid: the nodes at the wood and at the air stand for half a spacing."""
    weights = np.full(count, spacing_um)
    weights[[0, -1]] *= 0.5
    return weights


def dry_on_nodes(
    start_frac: FloatArray,
    spacing_um: float,
    hours: FloatArray,
    *,
    diffusivity_um2_h: float,
    transfer_um_h: float,
) -> FloatArray:
    """Fractions on the nodes at each of `hours` (the first is 0), by an implicit banded solver."""
    weights = node_weights_um(start_frac.size, spacing_um)

    def slope(_: float, frac: FloatArray) -> FloatArray:
        upward = -diffusivity_um2_h * np.diff(frac) / spacing_um
        out = np.append(upward, transfer_um_h * frac[-1])
        return (np.insert(upward, 0, 0.0) - out) / weights

    solved = solve_ivp(
        slope,
        (0.0, hours[-1]),
        start_frac,
        method="LSODA",
        t_eval=hours,
        rtol=1e-10,
        atol=1e-13,
        lband=1,
        uband=1,
    )
    assert solved.success
    return solved.y


def two_coats_on_nodes(nodes_a_coat: int, gap_h: float, after_h: FloatArray) -> FloatArray:
    """Micrometres still to come after the second of two default coats."""
    spacing = WATERBORNE_COAT_UM / nodes_a_coat
    law = {
        "diffusivity_um2_h": WATERBORNE_DIFFUSIVITY_UM2_H,
        "transfer_um_h": WATERBORNE_TRANSFER_UM_H,
    }
    first = np.full(nodes_a_coat + 1, WATERBORNE_VOLATILE_FRAC)
    first = dry_on_nodes(first, spacing, np.array([0.0, gap_h]), **law)[:, -1]
    both = np.append(first, np.full(nodes_a_coat, WATERBORNE_VOLATILE_FRAC))
    # The node where the coats meet stands for half a spacing of each.
    both[nodes_a_coat] = 0.5 * (first[-1] + WATERBORNE_VOLATILE_FRAC)
    left = dry_on_nodes(both, spacing, after_h, **law)
    return node_weights_um(both.size, spacing) @ left


@pytest.mark.parametrize("gap_h", [1.2, 24.0])
def test_two_coats_dry_as_a_fine_grid_solver_says(gap_h: float, agreement: Callable) -> None:
    after_h = np.array([0.0, 0.25, 1.0, 4.0, 12.0, 24.0])
    coarse, fine = (two_coats_on_nodes(nodes, gap_h, after_h) for nodes in (100, 200))
    solver = (4.0 * fine - coarse) / 3.0

    coarse, fine = (
        Stack.laid([0.0, gap_h], **WATERBORNE, cells_per_coat=cells).remaining_um(gap_h + after_h)
        for cells in (100, 200)
    )
    # Relative to what the second coat found and added.
    np.testing.assert_allclose((4.0 * fine - coarse) / 3.0, solver, rtol=0, atol=1e-6 * solver[0])
    source = "scipy's solve_ivp (LSODA) on a fine grid of nodes"
    agreement(
        check="two coats, what is still to come, converged grid",
        source=source,
        tolerance="1e-6 of what was held",
        measured=furthest((4.0 * fine - coarse) / 3.0, solver) / solver[0],
        unit="of what was held",
        n=solver.size,
    )

    ours = remaining_um([0.0, gap_h], gap_h + after_h, **WATERBORNE)
    np.testing.assert_allclose(ours, solver, rtol=0, atol=1.5e-3 * solver[0])
    agreement(
        check="two coats, what is still to come, eight cells a coat as used",
        source=source,
        tolerance="0.0015 of what was held",
        measured=furthest(ours, solver) / solver[0],
        unit="of what was held",
        n=solver.size,
    )


def office_days(first: str, days: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Minutes since `first` [h], temperature [degC] and humidity [fraction], linear in between."""
    stamps = np.genfromtxt(OFFICE, delimiter=",", skip_header=1, usecols=0, dtype="datetime64[s]")
    climate = np.genfromtxt(OFFICE, delimiter=",", skip_header=1, usecols=(1, 2))
    read_h = (stamps - np.datetime64(first)).astype(float) / 3600.0
    minutes_h = np.arange(round(days * 1440) + 1) / 60.0
    used = (read_h >= -1.0) & (read_h <= 24.0 * days + 1.0)
    assert np.max(np.diff(read_h[used])) < 0.5, "this stretch of the record has a gap"
    return (
        minutes_h,
        np.interp(minutes_h, read_h, climate[:, 0]),
        np.interp(minutes_h, read_h, climate[:, 1]) / 100.0,
    )


def dry_in_real_time(
    start_frac: FloatArray, cell_um: float, span_h: tuple[float, float], pace: Callable
) -> FloatArray:
    """Fractions in cells at the end of a span, D and k following the room minute by minute."""
    between = WATERBORNE_DIFFUSIVITY_UM2_H / cell_um
    surface = 1.0 / (0.5 / between + 1.0 / WATERBORNE_TRANSFER_UM_H)
    into = np.zeros(start_frac.size + 1)  # through each cell's floor, the last through the surface

    def slope(at_h: float, frac: FloatArray) -> FloatArray:
        into[1:-1] = between * (frac[:-1] - frac[1:])
        into[-1] = surface * frac[-1]
        return (into[:-1] - into[1:]) * (pace(at_h) / cell_um)

    # The climate has a corner each minute: a longer step would jump over some.
    minute_h = 1.0 / 60.0
    solved = solve_ivp(
        slope, span_h, start_frac, method="DOP853", rtol=1e-9, atol=1e-13, max_step=minute_h
    )
    assert solved.success
    return solved.y[:, -1]


def test_real_time_in_a_real_room_is_the_film_at_effective_hours(agreement: Callable) -> None:
    minutes_h, temp_c, rh_frac = office_days("2015-02-11T18:00:00", 4.0)
    law = CureLaw(55.0, humidity_exponent=0.3, lower_limit_c=15.0)
    rates = rate(temp_c, rh_frac, law)
    assert np.max(rates) > 1.2 * np.min(rates), "a room this even would prove nothing"
    effective_h = running_hours(rates, np.ones(rates.size - 1))

    def clock(at_h: float) -> float:
        return float(np.interp(at_h, minutes_h, effective_h))

    assert np.min(temp_c) > 15.0  # so that the rate law may be written out without its floor

    def pace(at_h: float) -> float:
        minute = min(int(at_h * 60.0), minutes_h.size - 2)
        share = at_h * 60.0 - minute
        temp = temp_c[minute] + share * (temp_c[minute + 1] - temp_c[minute])
        rh = rh_frac[minute] + share * (rh_frac[minute + 1] - rh_frac[minute])
        warmth = 55_000.0 / 8.314462618 * (1.0 / 294.15 - 1.0 / (temp + 273.15))
        return math.exp(warmth) * ((1.0 - rh) / 0.5) ** 0.3

    wall_h = [0.0, 3.0, 20.0, 23.0]
    cells = 4
    cell_um = WATERBORNE_COAT_UM / cells
    film = Stack.laid([clock(at) for at in wall_h], **WATERBORNE, cells_per_coat=cells)
    frac = np.empty(0)
    for at_h, until_h in zip(wall_h, [*wall_h[1:], 72.0], strict=True):
        frac = np.append(frac, np.full(cells, WATERBORNE_VOLATILE_FRAC))
        frac = dry_in_real_time(frac, cell_um, (at_h, until_h), pace)
    left = cell_um * np.sum(frac)
    assert 0.01 < left < SINK_TOLERANCE_UM
    # The same cells, so that only the change of time is on trial; the clock's trapezoid and the
    # solver's corners cost a millionth between them.
    assert film.remaining_um(clock(72.0)) == pytest.approx(left, rel=2e-6)
    agreement(
        check="four coats in a real room, effective hours against real time",
        source="scipy's solve_ivp (DOP853) along the office record",
        tolerance="2e-6 relative",
        measured=furthest_rel(film.remaining_um(clock(72.0)), left),
        unit="relative",
        n=1,
    )
    # Wall hours are not the film's time: had they been taken, the answer would be another.
    naive = Stack.laid(wall_h, **WATERBORNE, cells_per_coat=cells).remaining_um(72.0)
    assert abs(naive - left) > 0.05 * left
