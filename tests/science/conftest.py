"""How the tests of science read the published values beside them and report their agreement."""

import csv
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest

from curewatch.science.outlook import Hindcast
from curewatch.science.outlook_past import ORIGIN_EVERY_H
from tests.validation_page import KNOWN_AHEAD, PAGE, REPORTED, SCIENCE, Agreement, Ahead, written

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


@pytest.fixture
def agreement(request: pytest.FixtureRequest) -> Callable[..., None]:
    """Return the reporter of a check's worst deviation, for docs/validation.md.

    It takes check, source, tolerance ('0.02 K', 'at least 0.9', '75 to 85 %'), measured, unit and
    n, and fails the test whose measured value is outside the tolerance it gives.
    """

    def report(
        *, check: str, source: str, tolerance: str, measured: float, unit: str, n: int
    ) -> None:
        row = Agreement(
            file=Path(request.module.__file__).stem,
            test=request.node.originalname,
            check=check,
            source=source,
            tolerance=tolerance,
            measured=float(measured),
            unit=unit,
            n=int(n),
            about=request.module.__doc__.splitlines()[0].rstrip("."),
        )
        assert row.within, f"{check}: {row.measured:g} {unit}, allowed is {tolerance}"
        request.config.stash.setdefault(REPORTED, []).append(row)

    return report


@pytest.fixture
def known_ahead(request: pytest.FixtureRequest) -> Callable[[str, str, Sequence[Hindcast]], None]:
    """Return the reporter of a hindcast's rows, for the table in docs/validation.md."""

    def report(place: str, law: str, rows: Sequence[Hindcast]) -> None:
        for row in rows:
            assert row.coverage_80_pct is not None
            assert row.rmse_pct is not None
            assert row.rmse_as_now_pct is not None
            assert row.rmse_mean_24h_pct is not None
            told = Ahead(
                place=place,
                law=law,
                horizon_h=row.horizon_h,
                windows=row.n * ORIGIN_EVERY_H // row.horizon_h,
                held_pct=row.coverage_80_pct,
                error_pct=row.rmse_pct,
                as_now_pct=row.rmse_as_now_pct,
                mean_24h_pct=row.rmse_mean_24h_pct,
            )
            request.config.stash.setdefault(KNOWN_AHEAD, []).append(told)

    return report


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--write-validation",
        action="store_true",
        help="write docs/validation.md from what tests/science reports (make validation)",
    )


def is_writing(config: pytest.Config) -> bool:
    return bool(config.getoption("--write-validation", default=False))


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Let the page be compared after the tests it is compared with, in whatever order asked."""
    items.sort(key=lambda item: item.path.name == "test_validation_page.py")


def pytest_deselected(items: list[pytest.Item]) -> None:
    if items and is_writing(items[0].config):
        raise pytest.UsageError("--write-validation writes the whole page: deselect no test")


def pytest_collection_finish(session: pytest.Session) -> None:
    """Refuse to write the page from a part of the tests of science."""
    asked = {Path(arg).resolve() for arg in session.config.args}
    if is_writing(session.config) and not asked & {SCIENCE, *SCIENCE.parents}:
        raise pytest.UsageError("--write-validation writes the whole page: run all tests/science")


def pytest_sessionfinish(session: pytest.Session, exitstatus: int) -> None:
    if is_writing(session.config) and exitstatus == pytest.ExitCode.OK:
        page = written(session.config.stash[REPORTED], session.config.stash[KNOWN_AHEAD])
        PAGE.write_text(page, encoding="utf-8")
