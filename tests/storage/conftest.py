from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from curewatch.storage import Store

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    """Give an empty store in a real file."""
    with Store.open(tmp_path / "shop.db") as opened:
        yield opened
