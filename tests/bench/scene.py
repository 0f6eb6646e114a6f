"""Shops to measure on: configurations, stored climate and pieces, all of them invented."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from curewatch.assembly import finish_text
from curewatch.settings import Settings, load_settings
from curewatch.shop.piece import Coat
from curewatch.shop.reading import Origin, Quantity, Reading

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from numpy.typing import NDArray

    from curewatch.storage import Store

MINUTE_MS, HOUR_MS, DAY_MS = 60_000, 3_600_000, 86_400_000
FINISHES = ("waterborne", "nitro-lacquer")

_HEAD = """\
[site]
name = "bench"
[storage]
path = "{folder}/shop.db"
[broker]
host = "127.0.0.1"
port = {port}
"""
_ROOM = """\
[[room]]
name = "{room}"
longest_gap_min = 30
"""
_SENSOR = """\
[[sensor]]
id = "{sensor}"
room = "{room}"
topic = "shop/{sensor}"
temperature = "/t"
humidity = "/h"
time = "/at"
"""


@dataclass(frozen=True, slots=True)
class Layout:
    """Rooms and the sensors in them."""

    rooms: int
    sensors: int

    def room_names(self) -> list[str]:
        """Return the rooms' names."""
        return [f"room{number}" for number in range(self.rooms)]

    def sensor_names(self) -> list[str]:
        """Return the sensors' names; they are dealt out over the rooms in turn."""
        return [f"s{number}" for number in range(self.sensors)]

    def write_config(self, folder: Path, port: int = 1883) -> Path:
        """Write the configuration of such a shop; return its path."""
        text = _HEAD.format(folder=folder, port=port)
        text += "".join(_ROOM.format(room=room) for room in self.room_names())
        for number, sensor in enumerate(self.sensor_names()):
            text += _SENSOR.format(sensor=sensor, room=f"room{number % self.rooms}")
        config = folder / "shop.toml"
        config.write_text(text)
        return config

    def settings(self, folder: Path, port: int = 1883) -> Settings:
        """Return the settings of such a shop."""
        return load_settings(self.write_config(folder, port))


def climate(
    at_ms: NDArray[np.int64], place: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return a temperature [degC] and humidity [fraction] with a day's swing and some unrest."""
    day = 2.0 * np.pi * (at_ms % DAY_MS) / DAY_MS
    slow = np.sin(at_ms / (9.7 * DAY_MS) + place)
    unrest = np.sin(at_ms / 171_000.0 + 2.0 * place)
    temp_c = 20.0 + 2.5 * np.sin(day + 0.1 * place) + slow + 0.05 * unrest
    rh_frac = 0.50 - 0.08 * np.sin(day) + 0.05 * slow + 0.003 * unrest
    return np.round(temp_c, 2), np.round(rh_frac, 4)


def readings(sensors: Sequence[str], at_ms: int) -> list[Reading]:
    """Return what every sensor says at one instant."""
    found = []
    for place, sensor in enumerate(sensors):
        temp_c, rh_frac = climate(np.array([at_ms]), place)
        found.append(Reading(sensor, Quantity.TEMPERATURE, at_ms, float(temp_c[0])))
        found.append(Reading(sensor, Quantity.HUMIDITY, at_ms, float(rh_frac[0])))
    return found


def store_climate(
    store: Store, sensors: Sequence[str], start_ms: int, stop_ms: int, *, every_ms: int
) -> int:
    """Store a history of all sensors; return its number of rows.

    The ends go in through the door; what lies between is written as that door writes it, but in
    bulk.
    """
    last_ms = start_ms + (stop_ms - 1 - start_ms) // every_ms * every_ms
    for at_ms in (start_ms, last_ms):
        store.readings.add(readings(sensors, at_ms))
    number: dict[str, int] = dict(store.db.rows("SELECT id, number FROM sensor"))
    begun = start_ms + every_ms
    for begin in range(begun, last_ms, DAY_MS):
        times = np.arange(begin, min(begin + DAY_MS, last_ms), every_ms)
        with store.db.transaction():
            store.db.many(
                "INSERT INTO reading (at_ms, sensor, quantity, value, origin, flags) "
                "VALUES (?, ?, ?, ?, ?, 0)",
                _rows(times, [number[sensor] for sensor in sensors]),
            )
    return int(store.db.value("SELECT count(*) FROM reading"))


def _rows(
    times: NDArray[np.int64], numbers: Sequence[int]
) -> Iterator[tuple[int, int, int, float, int]]:
    both = [climate(times, place) for place in range(len(numbers))]
    values = [(temp_c.tolist(), rh_frac.tolist()) for temp_c, rh_frac in both]
    for i, at_ms in enumerate(times.tolist()):
        for number, (temp_c, rh_frac) in zip(numbers, values, strict=True):
            yield at_ms, number, int(Quantity.TEMPERATURE), temp_c[i], int(Origin.OWN_TIME)
            yield at_ms, number, int(Quantity.HUMIDITY), rh_frac[i], int(Origin.OWN_TIME)


def hang_pieces(
    store: Store, settings: Settings, *, count: int, first_ms: int, last_ms: int
) -> None:
    """Hang pieces of three coats, their last ones spread evenly over a span, over all rooms."""
    rooms = [table.name for table in settings.room]
    with store.db.transaction():
        revisions = {
            name: store.finishes.keep(name, finish_text(settings, name), first_ms)
            for name in FINISHES
        }
        for number in range(count):
            name = FINISHES[number // len(rooms) % len(FINISHES)]
            tag = f"P{number}"
            done_ms = first_ms + round((last_ms - first_ms) * (number + 0.5) / count)
            begun_ms = done_ms - 4 * HOUR_MS
            store.pieces.hang(
                tag,
                name,
                revisions[name],
                title="",
                at_ms=begun_ms,
                entered_ms=begun_ms,
                room=rooms[number % len(rooms)],
                planned_coats=3,
            )
            for at_ms in (begun_ms, begun_ms + 2 * HOUR_MS, done_ms):
                store.pieces.coat(tag, Coat(at_ms), at_ms)
