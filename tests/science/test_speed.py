"""The two loops that run over every minute: bounds that hold on a small computer's slower core too.

The cure rate is compared with the bare formula on the same machine, so its bound does not depend on
the machine.
"""

import time
from collections.abc import Callable

import numpy as np

from curewatch.science.kinetics import CureLaw, rate_unchecked
from curewatch.science.wet_surface import wet_film

MINUTES_OF_A_YEAR = 525_600
QUARTER = 130_000


def quickest_s(work: Callable[[], object], times: int = 7) -> float:
    """Least duration [s] of several runs: what the work itself takes."""
    durations = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        durations.append(time.perf_counter() - start)
    return min(durations)


def test_ten_laws_over_a_year_cost_at_most_half_again_the_bare_formula() -> None:
    rng = np.random.default_rng(0)
    temp, rh = rng.uniform(5.0, 35.0, MINUTES_OF_A_YEAR), rng.uniform(0.1, 1.0, MINUTES_OF_A_YEAR)
    laws = [
        CureLaw(40.0 + 3.0 * i, humidity_exponent=0.3, lower_limit_c=15.0, upper_limit_c=32.0)
        for i in range(10)
    ]

    def bare() -> None:
        for law in laws:
            slope = law.ea_kj_mol * 1000.0 / 8.314462618
            _ = np.exp(-slope * (1.0 / (temp + 273.15) - 1.0 / 294.15)) * (
                ((1.0 - rh) / 0.5) ** law.humidity_exponent
            )

    def ours() -> None:
        for law in laws:
            rate_unchecked(temp, rh, law)

    assert quickest_s(ours) <= 1.5 * quickest_s(bare)


def test_a_quarter_of_a_year_of_wet_film_takes_under_a_third_of_a_second() -> None:
    rng = np.random.default_rng(0)
    temp, rh = rng.uniform(5.0, 35.0, QUARTER), rng.uniform(0.1, 1.0, QUARTER)
    assert quickest_s(lambda: wet_film(temp, rh), times=3) < 0.3
