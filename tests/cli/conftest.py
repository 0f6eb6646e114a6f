"""A small shop for the commands: two rooms, a sensor each, a real database, and its climate.

'Now' is the newest reading, so a test says what time it is by where its climate ends.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np
import pytest

from curewatch.cli.main import main
from curewatch.shop.reading import Quantity, Reading
from curewatch.storage import Store

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

NOW_MS = round(datetime(2026, 3, 5, 12, 0, tzinfo=UTC).timestamp() * 1000)  # a Thursday, noon
HOUR_MS = 3_600_000
WIDTH = 80
CONFIG = """
[site]
name = "test-shop"
timezone = "UTC"

[storage]
path = "shop.db"

[[room]]
name = "spray"
air = "gentle"

[[room]]
name = "drying"

[[sensor]]
id = "spray-air"
room = "spray"
topic = "shop/spray"
temperature = "/t"
humidity = "/rh"
report_every_min = 10

[[sensor]]
id = "drying-air"
room = "drying"
topic = "shop/drying"
temperature = "/t"
humidity = "/rh"
report_every_min = 10

[finishes]
directory = "finishes"

[clock]
source = "readings"
"""


@dataclass(frozen=True)
class Said:
    """What a command answered."""

    status: int
    out: str
    err: str

    @property
    def plain(self) -> Any:  # noqa: ANN401 - whatever JSON holds
        """The answer read as JSON."""
        return json.loads(self.out)

    @property
    def flat(self) -> str:
        """The answer on one line, so that a sentence can be looked for however it is wrapped."""
        return " ".join(self.out.split())

    @property
    def complaint(self) -> str:
        """The error on one line."""
        return " ".join(self.err.split())

    def narrow(self) -> bool:
        """Whether no line of the answer is wider than a plain terminal."""
        return all(len(line) <= WIDTH for line in self.out.splitlines())


class Curewatch(Protocol):
    """Runs the command."""

    def __call__(self, *words: str, status: int | None = 0) -> Said:
        """Run `curewatch WORDS` in this process; its exit status must be `status` if not None."""


class StoresClimate(Protocol):
    """Stores a room's climate."""

    def __call__(
        self,
        room: str = "drying",
        *,
        days: float = 10.0,
        temp_c: float | Callable[[float], float] = 21.0,
        rh_pct: float = 50.0,
        until_ms: int = NOW_MS,
        every_min: float = 10.0,
    ) -> None:
        """Store `days` of readings of the room's sensor that end at `until_ms`."""


@pytest.fixture
def shop_config(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Write the shop's configuration, make its database; return the file's path."""
    for name in ("CUREWATCH_CONFIG", "COLUMNS"):
        monkeypatch.delenv(name, raising=False)
    (tmp_path / "finishes").mkdir()
    path = tmp_path / "curewatch.toml"
    path.write_text(CONFIG, encoding="utf-8")
    Store.open(tmp_path / "shop.db").close()
    return path


@pytest.fixture
def climate(shop_config: Path) -> StoresClimate:
    """Return what stores a room's climate; `temp_c` may be a function of hours since its start."""

    def store(
        room: str = "drying",
        *,
        days: float = 10.0,
        temp_c: float | Callable[[float], float] = 21.0,
        rh_pct: float = 50.0,
        until_ms: int = NOW_MS,
        every_min: float = 10.0,
    ) -> None:
        count = round(days * 24.0 * 60.0 / every_min) + 1
        ages_h = np.arange(count)[::-1] * every_min / 60.0
        readings = []
        for age_h in ages_h.tolist():
            at_ms = until_ms - round(age_h * HOUR_MS)
            value = temp_c(days * 24.0 - age_h) if callable(temp_c) else temp_c
            readings.append(Reading(f"{room}-air", Quantity.TEMPERATURE, at_ms, value))
            readings.append(Reading(f"{room}-air", Quantity.HUMIDITY, at_ms, rh_pct / 100.0))
        with Store.open(shop_config.parent / "shop.db") as kept:
            kept.readings.add(readings)

    return store


@pytest.fixture
def curewatch(shop_config: Path, capsys: pytest.CaptureFixture[str]) -> Curewatch:
    """Return what runs a command on the shop, in this process."""

    def run(*words: str, status: int | None = 0) -> Said:
        capsys.readouterr()
        try:
            ended = main(["--config", str(shop_config), *words])
        except SystemExit as end:  # how argparse ends
            ended = int(end.code or 0)
        out, err = capsys.readouterr()
        assert status is None or ended == status, f"exit status {ended}\n{out}\n{err}"
        return Said(ended, out, err)

    return run


@pytest.fixture
def kept(shop_config: Path) -> Callable[[], Store]:
    """Return what opens the shop's storage, to look at what was kept (close it: `with kept()`)."""
    return lambda: Store.open(shop_config.parent / "shop.db")
