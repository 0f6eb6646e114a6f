"""The invented shop that the page of questions is asked in: no reading of it was ever taken.

Four weeks in a spray room, a drying room and a loft whose record goes back to last summer; a cold
night, a day without power, a humid morning, and pieces of several families in every state.
"""

from __future__ import annotations

import json
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from datetime import UTC, datetime
from io import StringIO
from typing import TYPE_CHECKING, Any

import numpy as np

from curewatch.cli.main import main
from curewatch.shop.reading import Quantity, Reading
from curewatch.storage import Store

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    Climate = Callable[[float], tuple[float, float]]

NOW_MS = round(datetime(2026, 3, 5, 12, 0, tzinfo=UTC).timestamp() * 1000)  # a Thursday, noon
HOUR_MS = 3_600_000
CONFIG = """
[site]
name = "invented"
timezone = "UTC"
[storage]
path = "shop.db"
[[room]]
name = "spray"
air = "gentle"
[[room]]
name = "drying"
[[room]]
name = "loft"
[[room]]
name = "shed"
[[sensor]]
id = "spray-air"
room = "spray"
topic = "shop/spray"
temperature = "/t"
humidity = "/rh"
surface_temperature = "/s"
report_every_min = 10
[[sensor]]
id = "drying-air"
room = "drying"
topic = "shop/drying"
temperature = "/t"
humidity = "/rh"
report_every_min = 10
[[sensor]]
id = "drying-spare"
room = "drying"
topic = "shop/spare"
temperature = "/t"
humidity = "/rh"
report_every_min = 10
[[sensor]]
id = "loft-air"
room = "loft"
topic = "shop/loft"
temperature = "/t"
humidity = "/rh"
report_every_min = 60
[clock]
source = "readings"
"""
COLD_NIGHT_H = (6.0, 16.0)  # hours before now: 20:00 yesterday to 6:00 today
NO_POWER_H = (8 * 24.0, 9 * 24.0)
HUMID_H = (71.0, 76.0)


def spray_air(ago_h: float) -> tuple[float, float]:
    """Return the spray room so long ago [degC, fraction]."""
    return 21.0, 0.9 if HUMID_H[0] <= ago_h < HUMID_H[1] else 0.5


def drying_air(ago_h: float) -> tuple[float, float]:
    """Return the drying room so long ago [degC, fraction]."""
    return (8.0 if COLD_NIGHT_H[0] <= ago_h < COLD_NIGHT_H[1] else 20.0), 0.5


def loft_air(ago_h: float) -> tuple[float, float]:
    """Return the unheated loft so long ago: 25 degC in summer, 16 degC by now."""
    return 20.5 + 4.5 * float(np.cos(2.0 * np.pi * (ago_h / 24.0 - 217.0) / 365.0)), 0.5


@dataclass(frozen=True, slots=True)
class Answer:
    """What a command answered."""

    status: int
    text: str

    @property
    def plain(self) -> Any:  # noqa: ANN401 - whatever JSON holds
        """The answer read as JSON."""
        return json.loads(self.text)


@dataclass(frozen=True, slots=True)
class QuestionsShop:
    """The shop in a folder; `ask` runs a command on it."""

    folder: Path

    def ask(self, *words: str) -> Answer:
        """Run a command; its error stream must stay empty but for a note."""
        out, err = StringIO(), StringIO()
        with redirect_stdout(out), redirect_stderr(err):
            status = main(["--config", str(self.folder / "curewatch.toml"), *words])
        assert "error" not in err.getvalue().lower(), err.getvalue()
        return Answer(status, out.getvalue())

    def complain(self, *words: str) -> tuple[int, Any]:
        """Run a command that cannot be carried out; return its exit status and its answer."""
        out, err = StringIO(), StringIO()
        with redirect_stdout(out), redirect_stderr(err):
            try:
                status = main(["--config", str(self.folder / "curewatch.toml"), *words])
            except SystemExit as end:  # how argparse ends
                status = int(end.code or 0)
        return status, json.loads(out.getvalue())

    def do(self, *words: str) -> None:
        """Enter something."""
        answer = self.ask(*words)
        assert answer.status == 0, (words, answer.text)


def questions_shop(folder: Path) -> QuestionsShop:
    """Build the shop in an empty folder."""
    (folder / "curewatch.toml").write_text(CONFIG, encoding="utf-8")
    with Store.open(folder / "shop.db") as store:
        store.readings.add(_record("spray-air", spray_air, days=40.0, surface_k=-0.5))
        store.readings.add(_record("drying-air", drying_air, days=40.0, silent_h=NO_POWER_H))
        store.readings.add(
            _record("drying-spare", drying_air, days=20.0, silent_h=NO_POWER_H, rh_off=0.08)
        )
        store.readings.add(_record("loft-air", loft_air, days=280.0, every_min=60.0))
    shop = QuestionsShop(folder)
    _pieces(shop)
    return shop


def _record(  # noqa: PLR0913 - what a room leaves out is the usual
    sensor: str,
    air: Climate,
    *,
    days: float,
    every_min: float = 10.0,
    silent_h: tuple[float, float] = (0.0, 0.0),
    rh_off: float = 0.0,
    surface_k: float | None = None,
) -> list[Reading]:
    """Return a sensor's readings until now."""
    found = []
    for number in range(round(days * 24.0 * 60.0 / every_min) + 1):
        ago_h = number * every_min / 60.0
        if silent_h[0] <= ago_h < silent_h[1]:
            continue
        at_ms = NOW_MS - round(ago_h * HOUR_MS)
        temp_c, rh = air(ago_h)
        found.append(Reading(sensor, Quantity.TEMPERATURE, at_ms, temp_c))
        found.append(Reading(sensor, Quantity.HUMIDITY, at_ms, rh + rh_off))
        if surface_k is not None:
            found.append(Reading(sensor, Quantity.SURFACE_TEMPERATURE, at_ms, temp_c + surface_k))
    return found[::-1]


def _pieces(shop: QuestionsShop) -> None:
    """Hang the pieces, mix the pots, lay the coats, log the work and what was found."""
    hang, coat = ("piece", "hang"), ("coat",)
    for tag, finish, room, coats in (
        ("NEXT", "waterborne", "spray", 3),  # a coat in the morning, another to come
        ("LATE", "waterborne", "spray", 3),  # its window closed
        ("MID", "oil-varnish", "spray", 3),
        ("STACK", "waterborne", "drying", 6),  # all coats on, through the cold night
        ("YOUNG", "waterborne", "drying", 1),
        ("WHITE", "nitro-lacquer", "spray", 2),
        ("SOFT", "waterborne", "loft", 2),  # three weeks in the cold loft
        ("MATE", "waterborne", "drying", 2),  # of the same pot
        ("SANK", "waterborne", "drying", 2),
        ("HELD", "waterborne", "drying", 2),
    ):
        shop.do(*hang, tag, "--finish", finish, "--room", room, "--coats", str(coats),
                "--at", "30d ago")  # fmt: skip
    shop.do("pot", "mix", "Mon", "--finish", "waterborne", "--lot", "L7", "--room", "spray",
            "--at", "22d ago")  # fmt: skip
    for tag in ("SOFT", "MATE"):
        for ago in ("527h ago", "521h ago"):
            shop.do(*coat, tag, "--pot", "Mon", "--wet-um", "100", "--at", ago)
    shop.do("pot", "gone", "Mon", "--at", "21d ago")
    for tag in ("SANK", "HELD"):
        for ago in ("500h ago", "494h ago"):
            shop.do(*coat, tag, "--no-pot", "--wet-um", "100", "--at", ago)
    for hours in (150, 144, 138, 126, 120, 114):
        shop.do(*coat, "STACK", "--no-pot", "--wet-um", "110", "--at", f"{hours}h ago")
    shop.do(*coat, "NEXT", "--no-pot", "--at", "1h ago")
    shop.do(*coat, "LATE", "--no-pot", "--at", "70h ago")
    shop.do(*coat, "MID", "--no-pot", "--at", "20h ago")
    shop.do(*coat, "YOUNG", "--no-pot", "--at", "22h ago")
    shop.do(*coat, "WHITE", "--no-pot", "--at", "73h ago")
    shop.do("work", "SANK", "buff", "--at", "480h ago", "--anyway", "show")
    shop.do("work", "HELD", "buff", "--at", "300h ago")
    shop.do("outcome", "SANK", "grain-back", "--at", "20h ago")
    shop.do("outcome", "HELD", "fine", "--at", "20h ago")
    shop.do("outcome", "MATE", "fine", "--at", "20h ago")
    shop.do("outcome", "SOFT", "thumbprint", "--at", "20h ago")
    shop.do("outcome", "YOUNG", "fine", "--at", "2h ago", "--note", "nail leaves nothing")
    shop.do("pot", "mix", "Pot-2", "--finish", "acid-cure", "--lot", "C1", "--crosslinker-pct",
            "10", "--room", "spray", "--at", "3h ago")  # fmt: skip
