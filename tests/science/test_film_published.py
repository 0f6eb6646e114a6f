"""The film against the textbook plane sheet: one coat, cut ever finer, is the published solution.

tests/reference/desorption_plane_sheet.csv, roots_beta_tan_beta.csv, plane_wall_one_term.csv: Crank,
The Mathematics of Diffusion, 2nd ed. (1975), equations 4.18 and 4.53 and table 4.1; Carslaw and
Jaeger, Conduction of Heat in Solids, appendix IV; the plane wall's table of heat transfer books.
Fo = D t / a^2 with a the thickness over an impermeable base, L = k a / D.
"""

import math
from collections.abc import Callable
from itertools import pairwise

import numpy as np
import pytest

from curewatch.science.film import Stack
from tests.validation_page import furthest, furthest_rel

Rows = list[dict[str, str]]
LAID_FRAC = 0.1
GRID = 600


def sheet(transfer: float, cells: int) -> Stack:
    """One coat a micrometre thick with a diffusivity of 1, so that hours are Fourier numbers."""
    return Stack.laid(
        0.0,
        coat_um=1.0,
        volatile_frac=LAID_FRAC,
        diffusivity_um2_h=1.0,
        transfer_um_h=min(transfer, 1e12),
        cells_per_coat=cells,
    )


def converged(transfer: float, figure: Callable[[Stack], np.ndarray]) -> np.ndarray:
    """Extrapolate a figure of two grids; the error falls with the square of the cell."""
    coarse, fine = (figure(sheet(transfer, cells)) for cells in (GRID // 2, GRID))
    return (4.0 * fine - coarse) / 3.0


def share_given_off(transfer: float, fourier: np.ndarray) -> np.ndarray:
    return converged(transfer, lambda stack: stack.given_off_um(fourier)) / LAID_FRAC


def rows_by(rows: Rows, key: str) -> dict[float, Rows]:
    groups: dict[float, Rows] = {}
    for row in rows:
        groups.setdefault(float(row[key]), []).append(row)
    return groups


def test_every_published_share_given_off_is_met_to_a_millionth(
    reference: Callable, column: Callable, agreement: Callable
) -> None:
    rows = reference("desorption_plane_sheet")
    assert len(rows) == 72
    for transfer, group in rows_by(rows, "L").items():
        share = share_given_off(transfer, column(group, "Fo_Dt_over_a2"))
        np.testing.assert_allclose(share, column(group, "Mt_over_Minf"), rtol=0, atol=1e-6)
        agreement(
            check="share of a coat's volatiles given off, converged grid",
            source="J. Crank, The Mathematics of Diffusion (1975), equations 4.18, 4.20, 4.53",
            tolerance="1e-6 of what was held",
            measured=furthest(share, column(group, "Mt_over_Minf")),
            unit="of what was held",
            n=len(group),
        )


def test_what_is_left_and_what_has_gone_are_the_whole_series(
    reference: Callable, column: Callable
) -> None:
    for transfer, group in rows_by(reference("desorption_plane_sheet"), "L").items():
        fourier = column(group, "Fo_Dt_over_a2")
        left = converged(transfer, lambda stack, at=fourier: stack.remaining_um(at)) / LAID_FRAC
        np.testing.assert_allclose(left, 1.0 - column(group, "Mt_over_Minf"), rtol=0, atol=1e-6)


def test_the_decay_rates_are_the_squares_of_the_tabled_roots(
    reference: Callable, agreement: Callable
) -> None:
    rows = reference("roots_beta_tan_beta")
    assert len(rows) == 172
    for transfer, group in rows_by(rows, "L").items():
        rate = converged(transfer, lambda stack: stack.modes.decay_per_um2[:6])
        for row in group:
            root = math.sqrt(rate[int(row["n"]) - 1])
            assert root == pytest.approx(float(row["root_computed"]), rel=1e-6)
            agreement(
                check="roots of beta tan beta = L, converged grid",
                source="computed with mpmath to thirteen digits",
                tolerance="1e-6 relative",
                measured=furthest_rel(root, float(row["root_computed"])),
                unit="relative",
                n=1,
            )
            if row["root_published_4dec"]:
                # Printed to four decimals.
                assert root == pytest.approx(float(row["root_published_4dec"]), abs=6e-5)
                agreement(
                    check="roots of beta tan beta = L, four printed decimals",
                    source="a reprint of Crank's table 4.1 (1975), the original from memory",
                    tolerance="6e-5",
                    measured=furthest(root, float(row["root_published_4dec"])),
                    unit="",
                    n=1,
                )


def test_late_in_the_day_one_term_of_the_plane_wall_table_is_enough(
    reference: Callable, agreement: Callable
) -> None:
    rows = reference("plane_wall_one_term")
    assert len(rows) == 29
    fourier = 3.0  # the second term has died down to exp(-27) and less
    for row in rows:
        first_term = math.exp(-(float(row["zeta1_computed"]) ** 2) * fourier)
        left = converged(float(row["Bi"]), lambda stack: stack.remaining_um(fourier)) / LAID_FRAC
        assert left == pytest.approx(float(row["B1_mean_computed"]) * first_term, rel=1e-6)
        at_the_wood = (
            converged(float(row["Bi"]), lambda stack: wood_side_frac(stack, fourier)) / LAID_FRAC
        )
        # Four printed decimals of the coefficient; the cell's middle is half a cell off the wood.
        assert at_the_wood / first_term == pytest.approx(float(row["C1_table"]), abs=6e-5)
        agreement(
            check="coefficient of the first term of the plane wall",
            source="Incropera, table 5.1; Cengel, table 4-2 (from memory, confirmed by computing)",
            tolerance="6e-5",
            measured=furthest(at_the_wood / first_term, float(row["C1_table"])),
            unit="",
            n=1,
        )


def wood_side_frac(stack: Stack, now_h: float) -> float:
    return float(stack.profile(now_h).volatile_frac[0])


def test_at_first_the_loss_goes_with_the_square_root_of_time(agreement: Callable) -> None:
    fourier = np.array([1e-3, 3e-3, 1e-2, 3e-2])
    # Crank 1975, equation 4.20; its next term is 4 ierfc(1/sqrt(Fo)), under 1e-5 of it here.
    np.testing.assert_allclose(
        share_given_off(math.inf, fourier), 2.0 * np.sqrt(fourier / math.pi), rtol=1e-5
    )
    ours, theirs = share_given_off(math.inf, fourier), 2.0 * np.sqrt(fourier / math.pi)
    agreement(
        check="share given off at first, with the square root of time",
        source="J. Crank, The Mathematics of Diffusion (1975), equation 4.20",
        tolerance="1e-5 relative",
        measured=furthest_rel(ours, theirs),
        unit="relative",
        n=ours.size,
    )


def test_at_the_very_first_the_surface_alone_rules() -> None:
    # Before diffusion limits it the flux is k times what was laid (Crank 1975, section 3.3.4).
    transfer, hour = 17.0, 1e-5
    stack = Stack.laid(
        0.0,
        coat_um=1.0,
        volatile_frac=LAID_FRAC,
        diffusivity_um2_h=200.0,
        transfer_um_h=transfer,
        cells_per_coat=GRID,
    )
    reach = transfer * math.sqrt(hour / 200.0)
    expected = transfer * LAID_FRAC * math.exp(reach**2) * math.erfc(reach)
    assert stack.flux_um_h(hour) == pytest.approx(expected, rel=1e-3)


@pytest.mark.parametrize("transfer", [0.5, 5.0, 50.0])
def test_the_error_falls_with_the_square_of_the_cell(transfer: float) -> None:
    exact = converged(transfer, lambda stack: stack.remaining_um(0.2))
    errors = [float(abs(sheet(transfer, n).remaining_um(0.2) - exact)) for n in (10, 20, 40)]
    for coarse, fine in pairwise(errors):
        assert coarse / fine == pytest.approx(4.0, rel=0.02)
