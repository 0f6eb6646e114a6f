"""Figures that come from a form are asked back as on the command line, without its options."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from curewatch.entries.room_plans import Change, plan_room
from curewatch.errors import BadInput
from curewatch.opened import Opened
from curewatch.planning.known import typed_climate
from curewatch.planning.what_if import check_change
from curewatch.planning.wish import ChangeWish, PlanWish
from curewatch.settings import load_settings
from curewatch.storage import Store
from tests.crash.daemon_process import write_config
from tests.small_shop import T0_MS

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path


@pytest.fixture
def opened(tmp_path: Path) -> Iterator[Opened]:
    """Open a shop with one room."""
    settings = load_settings(write_config(tmp_path, 1, sensors=("s0",), clock="readings"))
    with Store.open(settings.storage.path) as store:
        yield Opened(settings, store, T0_MS, T0_MS)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (Change("drying", temp_c=68.0), "did you mean 68 degF"),
        (Change("drying", rh_frac=0.0045), "did you mean 45 %"),
        (Change("drying", heating_off=True, drifts_to_c=50.0), "did you mean 50 degF"),
    ],
)
def test_what_a_room_will_be_is_asked_back(opened: Opened, change: Change, said: str) -> None:
    with pytest.raises(BadInput, match=said) as caught:
        plan_room(opened, change)
    assert "--really" not in str(caught.value)
    assert opened.store.room_plans.all() == ()


def test_a_plans_climate_is_asked_back_unless_it_is_insisted_on() -> None:
    hot = PlanWish("waterborne", 2, temp_c=70.0, rh_pct=50.0)
    with pytest.raises(BadInput, match="did you mean 70 degF"):
        typed_climate(hot)
    with pytest.raises(BadInput, match="did you mean 45 %"):
        typed_climate(PlanWish("waterborne", 2, temp_c=20.0, rh_pct=0.45))
    kept = typed_climate(PlanWish("waterborne", 2, temp_c=70.0, rh_pct=50.0, really=True))
    assert kept is not None
    assert kept.temp_c == 70.0


@pytest.mark.parametrize("name", ["temp_c", "heater", "from_temp_c", "cabinet_c"])
def test_a_what_ifs_climate_is_asked_back(name: str) -> None:
    change = {"cabinet_c": 32.0} if name == "from_temp_c" else {}
    with pytest.raises(BadInput, match="did you mean 70 degF"):
        check_change(ChangeWish(finish="waterborne", **{**change, name: 70.0}))
