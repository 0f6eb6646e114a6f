from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from curewatch.shop.running_sums import SPARE_MINUTES, DenseSums, StepSums

ROWS, CELLS = 3, 40
GAINS = st.lists(
    st.tuples(st.integers(0, CELLS - 1), st.integers(0, ROWS - 1), st.floats(0.1, 9.0)), max_size=8
)
PUTS = st.lists(st.tuples(st.integers(0, CELLS), st.integers(1, CELLS), GAINS), max_size=6)


def replayed(puts: list[tuple[int, int, list[tuple[int, int, float]]]]) -> np.ndarray:
    """Put stretches into both kinds of sums; return both beside sums of all the gains."""
    dense, steps = DenseSums(ROWS), StepSums(ROWS)
    gained = np.zeros((ROWS, 0))
    for begin, count, gains in puts:
        start = min(begin, gained.shape[1])
        cells = np.zeros((ROWS, count))
        for cell, row, value in gains:
            cells[row, cell % count] = value
        dense.put(start, cells)
        steps.put(start, cells)
        gained = np.hstack((gained[:, :start], cells))
    index = np.arange(gained.shape[1] + 1)
    plain = np.hstack((np.zeros((ROWS, 1)), np.cumsum(gained, axis=1)))
    rows = [dense.row(row, 0, index.size) for row in range(ROWS)]
    return np.stack((plain, dense.at(index, ROWS), steps.at(index), rows))


@given(puts=PUTS)
def test_both_kinds_of_sums_are_the_sums_of_all_gains(
    puts: list[tuple[int, int, list[tuple[int, int, float]]]],
) -> None:
    plain, *kept = replayed(puts)
    for sums in kept:
        np.testing.assert_allclose(sums, plain, atol=1e-11)


def test_rows_that_are_nought_are_not_kept_and_come_when_they_are_needed() -> None:
    sums = DenseSums(2)
    sums.put(0, np.array([[1.0, 1.0], [0.0, 0.0]]))
    assert sums.kept == 1
    sums.put(2, np.array([[1.0], [4.0]]))
    assert sums.kept == 2
    assert sums.at(np.array([2, 3]), 3).tolist() == [[2.0, 3.0], [0.0, 4.0], [0.0, 0.0]]


def test_sums_go_on_beyond_the_room_that_was_set_aside() -> None:
    sums = DenseSums(1)
    for start in range(3):
        sums.put(start * SPARE_MINUTES, np.ones((1, SPARE_MINUTES)))
    assert sums.row(0, 3 * SPARE_MINUTES, 3 * SPARE_MINUTES + 1) == 3.0 * SPARE_MINUTES


def test_steps_keep_the_cells_that_gain_and_forget_what_is_put_anew() -> None:
    steps = StepSums(1)
    steps.put(0, np.array([[0.0, 2.0, 0.0, 3.0]]))
    assert len(steps) == 2
    steps.put(2, np.zeros((1, 5)))
    assert len(steps) == 1
    assert steps.at(np.array([0, 1, 2, 7])).tolist() == [[0.0, 0.0, 2.0, 2.0]]
