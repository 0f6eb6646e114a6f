"""An invented shop with the real daemon and a real broker, to be looked at in a browser."""

from __future__ import annotations

import json
import math
import socket
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Self

import numpy as np
from paho.mqtt import publish

from curewatch.assembly import finish_text
from curewatch.clock import system_ms
from curewatch.settings import load_settings
from curewatch.shop.batch import Batch
from curewatch.shop.piece import Coat, Work, WorkKind
from curewatch.shop.reading import Quantity, Reading
from curewatch.storage import Store
from curewatch.storage.page_sessions import PASSPHRASE
from curewatch.web.access import passphrase_digest
from tests.broker.mosquitto import Mosquitto
from tests.crash.daemon_process import DaemonProcess

if TYPE_CHECKING:
    from pathlib import Path

SECRET = "oak and linseed"  # noqa: S105 - of a shop that does not exist
HOUR_MS = 3_600_000
STEP_MS = 5 * 60_000
QUIET_MS = 4 * 60_000  # so long ago is the last reading: the next one is sure to change the air
DAYS = 12
BEHIND_MORNING_H = 3.0  # whatever the hour, the air now is that of the late morning
DOORS = 1.0 / 60.0  # how often one is opened, of all readings
CONFIG = """\
[site]
name = "millrace"
timezone = "Europe/Berlin"
[storage]
path = "shop.db"
[broker]
host = "127.0.0.1"
port = {broker}
[clock]
commit_window_s = 0.2
[[room]]
name = "booth"
air = "gentle"
[[room]]
name = "drying-loft"
[[sensor]]
id = "booth-air"
room = "booth"
topic = "shop/booth"
temperature = "/t"
humidity = "/rh"
report_every_min = 5
[[sensor]]
id = "loft-air"
room = "drying-loft"
topic = "shop/loft"
temperature = "/t"
humidity = "/rh"
report_every_min = 5
[[sensor]]
id = "loft-wood"
room = "drying-loft"
topic = "shop/wood"
surface_temperature = "/t"
report_every_min = 5
[page]
serve = true
port = {page}
"""
# Tag, what it is, finish, room, hours ago of its coats, coats planned. All invented.
PIECES: tuple[tuple[str, str, str, str, tuple[float, ...], int | None], ...] = (
    ("A12", "archtop body, spruce and maple", "nitro-lacquer", "drying-loft", (170, 146, 122), 3),
    ("B3", "offset body, alder", "waterborne", "drying-loft", (5.5, 3.2), 6),
    ("C7", "neck, maple", "waterborne", "drying-loft", (30,), 4),
    ("D1", "cittern, plum", "shellac", "drying-loft", (49, 25), None),
    ("E5", "table top, oak", "oil-varnish", "booth", (0.6,), 3),
    ("F2", "chest lid, ash", "waterborne", "booth", (), None),
    ("G4", "bench top, beech", "two-part-urethane", "booth", (26,), 3),
)


@dataclass
class BenchShop:
    """The shop in a folder; the daemon can be stopped and started again under the same address."""

    folder: Path
    port: int = 0
    daemon: DaemonProcess = field(init=False)
    _broker: Mosquitto = field(init=False)

    def __enter__(self) -> Self:
        """Fill the shop's record, and start broker and daemon."""
        with socket.create_server(("127.0.0.1", self.port)) as probe:
            self.port = int(probe.getsockname()[1])
        self._broker = Mosquitto(self.folder)
        config = self.folder / "curewatch.toml"
        config.write_text(CONFIG.format(broker=self._broker.port, page=self.port), "utf-8")
        self._fill(config)
        self._broker.start()
        self.daemon = DaemonProcess(config)
        self.daemon.start()
        return self

    def __exit__(self, *_exception: object) -> None:
        """End both."""
        self.daemon.__exit__()
        self._broker.stop()

    @property
    def url(self) -> str:
        """Where the page is."""
        return f"http://127.0.0.1:{self.port}"

    def hear(self, topic: str = "shop/loft", *, temp_c: float, rh_pct: float) -> None:
        """Let a sensor report."""
        content = json.dumps({"t": temp_c, "rh": rh_pct})
        publish.single(topic, content, qos=1, hostname="127.0.0.1", port=self._broker.port)

    def somebody_enters(self) -> None:
        """Let somebody enter something at a command: open pages look again at once.

        A reading alone stirs none before the next minute.
        """
        settings = load_settings(self.folder / "curewatch.toml")
        with Store.open(settings.storage.path) as store:
            store.pieces.plan_coats("C7", 4, system_ms())

    def _fill(self, config: Path) -> None:
        settings = load_settings(config)
        now_ms = system_ms() - QUIET_MS
        with Store.open(settings.storage.path) as store:
            for sensor, room in (
                ("booth-air", "booth"),
                ("loft-air", "drying-loft"),
                ("loft-wood", "drying-loft"),
            ):
                store.places.place(sensor, room, now_ms - DAYS * 24 * HOUR_MS)
            store.readings.add(_climate(now_ms))
            for tag, title, finish, room, coats_h, planned in PIECES:
                revision = store.finishes.keep(finish, finish_text(settings, finish), now_ms)
                store.pieces.hang(
                    tag,
                    finish,
                    revision,
                    title=title,
                    at_ms=now_ms - 180 * HOUR_MS,
                    entered_ms=now_ms,
                    room=room,
                    planned_coats=planned,
                )
                for ago_h in coats_h:
                    store.pieces.coat(tag, Coat(now_ms - round(ago_h * HOUR_MS), 90.0), now_ms)
            kept = store.finishes.latest("two-part-urethane")
            assert kept
            for name, ago_h in (("can-2", 0.3), ("can-1", 27.0)):
                mixed_ms = now_ms - round(ago_h * HOUR_MS)
                pot = Batch(
                    name, "two-part-urethane", kept[0], "K31", mixed_ms, "booth", 25.0, "H8"
                )
                store.batches.mix(pot, now_ms)
            store.pieces.work("C7", Work(WorkKind.SCUFF, now_ms - 20 * HOUR_MS), now_ms)
            store.meta.set(PASSPHRASE, passphrase_digest(SECRET))


def _climate(now_ms: int) -> list[Reading]:
    """Return days with a warmer and drier half, the loft warmer than the booth.

    The warmth comes at the same distance from now at every hour of the clock, so that a test run
    at night finds the verdicts of one run by day. No two days are alike: weather wanders around
    the daily turn, and doors open for a while.
    """
    found = []
    chance = np.random.default_rng(7)  # the same air on every run
    weather_k = door_k = 0.0
    for at_ms in range(now_ms - DAYS * 24 * HOUR_MS, now_ms + 1, STEP_MS):
        turn = 2.0 * math.pi * ((at_ms - now_ms) / HOUR_MS + BEHIND_MORNING_H) / 24.0
        weather_k = 0.9985 * weather_k + chance.normal(0.0, 0.05)
        door_k = -chance.uniform(0.5, 1.5) if chance.random() < DOORS else 0.8 * door_k
        for sensor, temp_c, rh in (
            ("booth-air", 18.5 + 2.0 * math.sin(turn) + weather_k, 0.56 - 0.06 * math.sin(turn)),
            (
                "loft-air",
                21.0 + 1.5 * math.sin(turn) + 0.5 * weather_k,
                0.48 - 0.05 * math.sin(turn),
            ),
        ):
            shown_c = round(float(temp_c + door_k + chance.normal(0.0, 0.05)), 2)
            shown_rh = round(
                float(rh - 0.02 * door_k - 0.012 * weather_k + chance.normal(0.0, 0.002)), 4
            )
            found.append(Reading(sensor, Quantity.TEMPERATURE, at_ms, shown_c))
            found.append(Reading(sensor, Quantity.HUMIDITY, at_ms, shown_rh))
        wood_c = 20.6 + 1.2 * math.sin(turn - 0.3) + 0.4 * weather_k
        found.append(Reading("loft-wood", Quantity.SURFACE_TEMPERATURE, at_ms, wood_c))
    return found
