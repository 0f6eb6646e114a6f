"""What fourteen coats cost, at bounds that hold on a small computer's slower core too."""

import time
from collections.abc import Callable

import numpy as np

from curewatch.science.film import remaining_um

CLOCK = 6.0 * np.arange(14)


def quickest_s(work: Callable[[], object], times: int = 7) -> float:
    """Least duration [s] of several runs: what the work itself takes."""
    durations = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        durations.append(time.perf_counter() - start)
    return min(durations)


def of_coats(coat_um: float, now_h: np.ndarray | float) -> np.ndarray:
    return remaining_um(
        CLOCK,
        now_h,
        coat_um=coat_um,
        volatile_frac=0.08,
        diffusivity_um2_h=200.0,
        transfer_um_h=17.0,
    )


def test_fourteen_coats_asked_again_take_under_a_millisecond() -> None:
    of_coats(25.0, 100.0)
    assert quickest_s(lambda: of_coats(25.0, 100.0)) < 1e-3


def test_fourteen_coats_never_met_before_take_under_a_tenth_of_a_second() -> None:
    thicknesses = iter(np.linspace(26.0, 27.0, 7))
    assert quickest_s(lambda: of_coats(next(thicknesses), 100.0)) < 0.1


def test_a_curve_of_five_hundred_instants_takes_under_ten_milliseconds() -> None:
    now_h = np.linspace(0.0, 900.0, 500)
    of_coats(25.0, now_h)
    assert quickest_s(lambda: of_coats(25.0, now_h)) < 1e-2
