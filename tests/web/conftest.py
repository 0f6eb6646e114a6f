"""The small shop with its page, for every test of the page that needs one."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.small_shop import HOUR_MS
from tests.web_shop import NOW_MS, WebShop

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

OPEN = "\n[page]\nopen_reading = true\n"


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[WebShop]:
    """A shop with a passphrase, 30 h of readings, and a piece whose coat is a day old."""
    with WebShop.at(tmp_path) as opened:
        opened.set_passphrase()
        opened.hear()
        opened.hang("B1", NOW_MS - 24 * HOUR_MS)
        yield opened


@pytest.fixture
def open_shop(tmp_path: Path) -> Iterator[WebShop]:
    """The same where everybody may look."""
    with WebShop.at(tmp_path, OPEN) as opened:
        opened.set_passphrase()
        opened.hear()
        opened.hang("B1", NOW_MS - 24 * HOUR_MS)
        yield opened
