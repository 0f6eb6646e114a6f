"""Day plans made at noon all along a record, by what was known then, against what came.

What came is worked out from the same record by the same clocks, so this holds the room's outlook to
account and not the finish's figures.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from curewatch.finish_files import load_text, shipped_text
from curewatch.shop.book import ClockBook
from curewatch.shop.climate import MINUTE_MS, merge
from curewatch.shop.clocks import COVERED, HOURS
from curewatch.shop.clocks_ahead import room_clocks
from curewatch.shop.day_plan import Ask, Hook, plan
from curewatch.shop.finish import ClockName, MilestoneName
from curewatch.shop.laws import law_for, required_h
from curewatch.shop.piece import Coat
from curewatch.shop.reading import Quantity
from curewatch.shop.room import Room, Sensor
from curewatch.shop.shop import Shop
from curewatch.shop.shop_hours import ShopHours
from curewatch.shop.words import Words

if TYPE_CHECKING:
    from curewatch.shop.climate import Floats, Times
    from curewatch.shop.clocks_ahead import RoomClocks
    from curewatch.shop.day_plan import PlannedCoat
    from curewatch.shop.finish import Finish

DATA = Path(__file__).parent / "data"
HOUR_MS, DAY_MS = 3_600_000, 86_400_000
LEAST_COVER = 0.9  # of the time to an edge, or what came is not known
LOOK_BACK_MS = 45 * DAY_MS
FIRST_DAYS = 2  # of record before the first plan
FINISHES = ("waterborne", "waterborne-crosslinked", "nitro-lacquer", "two-part-urethane")
COATS = 3
NIGHT = ShopHours(6 * 60, 22 * 60, UTC)


@dataclass(frozen=True)
class Record:
    """A place's climate: instants [ms], temperature [degC], humidity [fraction]."""

    place: str
    times_ms: Times
    temp_c: Floats
    rh_frac: Floats
    every_s: float
    every_days: int = 1

    def shop(self, from_ms: int, until_ms: int) -> Shop:
        """Return a shop that knows this stretch of the record, and nothing after it."""
        known = (self.times_ms >= from_ms) & (self.times_ms <= until_ms)
        series = {
            ("logger", Quantity.TEMPERATURE): (self.times_ms[known], self.temp_c[known]),
            ("logger", Quantity.HUMIDITY): (self.times_ms[known], self.rh_frac[known]),
        }
        book = ClockBook()
        first = int(self.times_ms[known][0]) // MINUTE_MS
        gap_s = max(3.0 * self.every_s, 1800.0)
        book.splice("room", merge(series, first_minute=first, longest_gap_s=gap_s, fills=()))
        room = Room("room", air="gentle", longest_gap_s=gap_s)
        return Shop({"room": room}, (Sensor("logger", "room", self.every_s),), book=book)

    def noons(self) -> list[int]:
        """Return the noons at which a plan is made [ms]."""
        start, end = int(self.times_ms[0]), int(self.times_ms[-1])
        first = -(-start // DAY_MS) * DAY_MS + FIRST_DAYS * DAY_MS + DAY_MS // 2
        return list(range(first, end, self.every_days * DAY_MS))


@dataclass(frozen=True)
class Row:
    """How often what was promised came, for one place and finish."""

    place: str
    finish: str
    days: int
    windows: int
    opened_inside: int
    open_by_start: int
    closings: int
    closed_not_before: int
    by_band_alone: int

    def line(self) -> str:
        """Write the row."""
        closed = "no limit" if not self.closings else f"{self.closed_not_before} of {self.closings}"
        return (
            f"| {self.place} | {self.finish} | {self.days} | {self.windows} | {self.opened_inside}"
            f" of {self.windows} | {self.open_by_start} of {self.windows} | {closed} |"
            f" {self.by_band_alone} of {self.windows} |"
        )


def office() -> Record:
    """Return sixteen days of a heated office, a reading a minute."""
    with (DATA / "office-climate-2015-02.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    times = [
        round(datetime.fromisoformat(row["time"]).replace(tzinfo=UTC).timestamp() * 1000)
        for row in rows
    ]
    return Record(
        "office",
        np.array(times, dtype=np.int64),
        np.array([float(row["temperature_c"]) for row in rows]),
        np.array([float(row["relative_humidity_percent"]) for row in rows]) / 100.0,
        60.0,
    )


def shed(every_days: int = 7) -> Record:
    """Return a year of outdoor air, as in a shed without heating, a reading an hour."""
    with (DATA / "greensboro-typical-year.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    start_ms = round(datetime(2001, 1, 1, tzinfo=UTC).timestamp() * 1000)  # no leap year
    return Record(
        "shed",
        start_ms + np.arange(1, len(rows) + 1, dtype=np.int64) * HOUR_MS,
        np.array([float(row["dry_bulb_c"]) for row in rows]),
        np.array([float(row["rh_pct"]) for row in rows]) / 100.0,
        3600.0,
        every_days,
    )


def account(record: Record, names: tuple[str, ...] = FINISHES) -> list[Row]:
    """Make plans at every noon and hold their windows to what the record then did."""
    finishes = {name: load_text(shipped_text(name), source=name) for name in names}
    whole = record.shop(int(record.times_ms[0]), int(record.times_ms[-1]))
    days, counts = dict.fromkeys(names, 0), {name: np.zeros(6, dtype=np.int64) for name in names}
    for noon_ms in record.noons():
        shop = record.shop(noon_ms - LOOK_BACK_MS, noon_ms)
        heard_ms = shop.book.frontier_ms("room")
        if heard_ms is None or noon_ms - heard_ms > HOUR_MS:
            continue  # nobody plans by a room that is silent
        for name, finish in finishes.items():
            clocks = room_clocks(shop, "room", finish, noon_ms)
            assert clocks is not None
            ask = Ask(COATS, noon_ms, NIGHT, Words())
            found = plan([Hook("B12", finish, clocks)], ask)
            judged = [_judge(coat, finish, clocks, whole) for coat in found.coats]
            here = [row for row in judged if row is not None]
            days[name] += bool(here)
            for row in here:
                counts[name] += np.array(row)
    return [Row(record.place, name, days[name], *counts[name].tolist()) for name in names]


def _judge(
    coat: PlannedCoat, finish: Finish, clocks: RoomClocks, whole: Shop
) -> tuple[int, ...] | None:
    """Return what held of a coat's window, as counts; None where what came is not known."""
    laid, done_ms, opens = (Coat(coat.done_ms),), coat.done_ms, coat.window.opens
    asked = required_h(finish, MilestoneName.RECOAT_OPENS, laid)
    assert asked is not None
    came_ms = _earned_at(finish, ClockName.DRYING, whole, done_ms, asked)
    if came_ms is None or opens.early is None or opens.late is None or clocks.drying is None:
        return None
    alone = clocks.drying.ahead.when(done_ms, asked)
    inside = opens.early <= came_ms <= opens.late
    by_band = (alone.early or 0) <= came_ms <= (alone.late or 2**62)
    closings, kept = _closing(coat, finish, whole)
    return 1, int(inside), int(came_ms <= opens.late), closings, kept, int(by_band)


def _closing(coat: PlannedCoat, finish: Finish, whole: Shop) -> tuple[int, int]:
    """Return whether a closing can be judged, and whether it came no sooner than promised."""
    promised = coat.window.closes
    asked = required_h(finish, MilestoneName.RECOAT_CLOSES, (Coat(coat.done_ms),))
    if promised is None or promised.early is None or asked is None:
        return 0, 0
    wall_ms = round(coat.done_ms + asked * HOUR_MS)
    came_ms = _earned_at(finish, ClockName.CURE, whole, coat.done_ms, asked, latest_ms=wall_ms)
    return (0, 0) if came_ms is None else (1, int(came_ms >= promised.early))


def _earned_at(
    finish: Finish,
    clock: ClockName,
    whole: Shop,
    from_ms: int,
    hours: float,
    *,
    latest_ms: int | None = None,
) -> int | None:
    """Return when hours were earned, at the latest at `latest_ms`; None where that is not known."""
    law = law_for(finish, clock, whole.room("room"))
    assert law is not None
    track = whole.book.clock("room", law)
    base = float(track.sums_at(np.array([float(from_ms)]))[HOURS, 0])
    found = track.when(base + hours)
    ends = [round(one) for one in (found, latest_ms) if one is not None]
    if not ends:
        return None
    came_ms = min(ends)
    cover = np.diff(track.sums_at(np.array([float(from_ms), float(came_ms)]))[COVERED])[0]
    return came_ms if cover * HOUR_MS >= LEAST_COVER * (came_ms - from_ms) else None
