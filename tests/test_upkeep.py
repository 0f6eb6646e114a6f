"""Nightly upkeep: the calendar leaves a mark, the daemon's own thread does the work."""

from __future__ import annotations

import logging
from typing import TYPE_CHECKING

import pytest

from curewatch.errors import StorageError
from curewatch.settings import load_settings
from curewatch.shop.reading import Origin, Quantity, Reading
from curewatch.shop.room import Room, Sensor
from curewatch.shop.shop import Shop
from curewatch.storage import Store
from curewatch.upkeep import RAW_KEPT_MS, Upkeep
from tests.crash.daemon_process import write_config

if TYPE_CHECKING:
    from pathlib import Path

NOW_MS = 1_790_000_000_000
DAY_MS = 86_400_000


def upkeep(tmp_path: Path, store: Store, clock: str = "system") -> Upkeep:
    """Return the upkeep of a shop with one sensor that reports every ten seconds."""
    settings = load_settings(write_config(tmp_path, 1, sensors=("s0",), clock=clock))
    shop = Shop({"drying": Room("drying", longest_gap_s=1800.0)}, (Sensor("s0", "drying"),))
    return Upkeep(store, shop, settings)


def a_day_of_readings(store: Store, start_ms: int) -> None:
    """Store a reading every ten seconds for a whole UTC day."""
    start = start_ms // DAY_MS * DAY_MS
    store.readings.add(
        Reading("s0", Quantity.TEMPERATURE, start + step * 10_000, 20.0 + step % 7, Origin.OWN_TIME)
        for step in range(8640)
    )


def test_nothing_is_done_until_the_calendar_says_so(tmp_path: Path) -> None:
    with Store.open(tmp_path / "shop.db") as store:
        a_day_of_readings(store, NOW_MS - RAW_KEPT_MS - 2 * DAY_MS)
        upkeep(tmp_path, store).work(NOW_MS)
        assert len(list(store.readings.rows(0, NOW_MS))) == 8640


def test_at_night_old_readings_are_thinned_to_the_minute_grid_and_young_ones_are_not(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    with Store.open(tmp_path / "shop.db") as store:
        a_day_of_readings(store, NOW_MS - RAW_KEPT_MS - 2 * DAY_MS)
        a_day_of_readings(store, NOW_MS - 5 * DAY_MS)
        nightly = upkeep(tmp_path, store)
        nightly.mark()
        with caplog.at_level(logging.INFO):
            nightly.work(NOW_MS)
        kept = [reading.at_ms for reading in store.readings.rows(0, NOW_MS)]
        old = [at_ms for at_ms in kept if at_ms < NOW_MS - RAW_KEPT_MS]
        assert 1440 <= len(old) <= 1442
        assert len(kept) - len(old) == 8640
        assert "upkeep" in caplog.text


def test_a_database_with_faults_is_told_with_the_way_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with Store.open(tmp_path / "shop.db") as store:
        nightly = upkeep(tmp_path, store)
        nightly.mark()
        monkeypatch.setattr(store.db, "quick_check", lambda: ("row 3 missing from index",))
        with pytest.raises(StorageError, match="curewatch restore"):
            nightly.work(NOW_MS)


@pytest.mark.parametrize("clock", ["system", "readings"])
def test_the_calendar_starts_and_ends_and_is_planned_anew(tmp_path: Path, clock: str) -> None:
    with Store.open(tmp_path / "shop.db") as store:
        nightly = upkeep(tmp_path, store, clock)
        nightly.start()
        nightly.restart()
        assert nightly.planned() == (clock == "system")
        nightly.stop()
        assert not nightly.planned()
