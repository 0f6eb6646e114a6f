"""Upkeep: what the daemon does once a night so that it can run for years.

The calendar is APScheduler's; its thread only leaves a mark, and the daemon's own thread, which
owns the database, does the work in its next round.
"""

from __future__ import annotations

import logging
import threading
from typing import TYPE_CHECKING

from apscheduler.schedulers.background import BackgroundScheduler
from apscheduler.triggers.cron import CronTrigger

from curewatch.errors import StorageError

if TYPE_CHECKING:
    from curewatch.settings import Settings
    from curewatch.shop.shop import Shop
    from curewatch.storage import Store

LOG = logging.getLogger(__name__)
NIGHT_HOUR, NIGHT_MINUTE = 3, 20
RAW_KEPT_MS = 90 * 86_400_000  # older readings are thinned to the minute grid


class Upkeep:
    """The nightly jobs: thin old readings to the minute grid, look the database over."""

    def __init__(self, store: Store, shop: Shop, settings: Settings) -> None:
        """Work on `store`; nothing runs where 'now' is the newest reading."""
        self._store = store
        self._shop = shop
        self._zone = settings.zone
        self._wanted = settings.clock.source == "system"
        self._due = threading.Event()
        self._scheduler: BackgroundScheduler | None = None

    def start(self) -> None:
        """Begin to keep the calendar."""
        if not self._wanted:
            return
        self._scheduler = BackgroundScheduler(timezone=self._zone)
        self._scheduler.add_job(
            self.mark,
            CronTrigger(hour=NIGHT_HOUR, minute=NIGHT_MINUTE, timezone=self._zone),
            misfire_grace_time=None,  # late is better than never
            coalesce=True,
        )
        self._scheduler.start()

    def stop(self) -> None:
        """End the calendar."""
        if self._scheduler is not None:
            self._scheduler.shutdown(wait=False)
            self._scheduler = None

    def restart(self) -> None:
        """Plan anew after the system clock was stepped."""
        self.stop()
        self.start()

    def planned(self) -> bool:
        """Return whether the calendar runs."""
        return self._scheduler is not None

    def mark(self) -> None:
        """Let the next round do the night's work."""
        self._due.set()

    def work(self, now_ms: int) -> None:
        """Do what is due, if anything is."""
        if not self._due.is_set():
            return
        self._due.clear()
        thinned = self._store.readings.thin(now_ms - RAW_KEPT_MS, self._gap_ms, at_ms=now_ms)
        LOG.info("nightly upkeep: old readings thinned (%s)", thinned)
        faults = self._store.db.quick_check()
        if faults:
            raise StorageError(
                f"the database has faults ({'; '.join(faults[:3])}): stop the daemon and restore "
                "the newest backup with 'curewatch restore'"
            )

    def _gap_ms(self, sensor: str) -> float:
        rooms = [known.room for known in self._shop.sensors if known.id == sensor]
        return self._shop.longest_gap_s(rooms[0] if rooms else "") * 1000.0
