"""How the tests of science read the published values beside them."""

import csv
from collections.abc import Callable
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest

Rows = list[dict[str, str]]
FloatArray = npt.NDArray[np.float64]

REFERENCE = Path(__file__).parents[1] / "reference"


@pytest.fixture(scope="session")
def reference() -> Callable[[str], Rows]:
    """Return a reader of tests/reference/<name>.csv; rows come as they are printed."""

    def read(name: str) -> Rows:
        with (REFERENCE / f"{name}.csv").open(newline="", encoding="utf-8") as file:
            rows = list(csv.DictReader(file))
        assert rows, f"{name}.csv is empty"
        return rows

    return read


@pytest.fixture(scope="session")
def column() -> Callable[[Rows, str], FloatArray]:
    """Return a picker of one column of such rows, as numbers."""
    return lambda rows, name: np.array([float(row[name]) for row in rows])
