from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.broker.mosquitto import Mosquitto

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Mosquitto]:
    """Run a broker everyone may connect to."""
    with Mosquitto(tmp_path) as running:
        yield running
