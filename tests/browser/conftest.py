"""One shop and one browser for all tests that only look; who stops the daemon brings its own."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

from tests.browser.bench_shop import BenchShop
from tests.browser.browser import program, started

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import Browser

expect.set_options(timeout=15_000)  # [ms] a busy machine answers late; what never comes still fails


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Run the browser."""
    with started() as running:
        yield running


@pytest.fixture(scope="session")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[BenchShop]:
    """Run the shop."""
    program()  # without a browser nothing else need be started
    with BenchShop(tmp_path_factory.mktemp("millrace")) as running:
        yield running
