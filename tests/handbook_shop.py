"""The invented shop that the handbook is tried in: its configuration is the handbook's own.

Now is Thursday 5 March 2026, noon, at the newest reading. The loft had a cold night and, a week
ago, ten hours without power. No reading of it was ever taken.
"""

from __future__ import annotations

import re
import shlex
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from datetime import UTC, datetime
from io import StringIO
from pathlib import Path
from typing import TYPE_CHECKING

from curewatch.cli.main import main
from curewatch.shop.reading import Quantity, Reading
from curewatch.storage import Store

if TYPE_CHECKING:
    from collections.abc import Iterator

ROOT = Path(__file__).parents[1]
HANDBOOK = ROOT / "docs" / "handbook"
NOW_MS = round(datetime(2026, 3, 5, 12, 0, tzinfo=UTC).timestamp() * 1000)
HOUR_MS = 3_600_000
COLD_NIGHT_H = (6.0, 16.0)  # hours before now
NO_POWER_H = (7 * 24.0, 7 * 24.0 + 10.0)
SYSTEM = ("systemctl", "timedatectl", "nano", "adduser", "apt-get", "install", "install.sh")
SENDS = "mosquitto_pub"  # tried by itself
FENCE = re.compile(r"^```(\w+)\n(.*?)^```$", re.MULTILINE | re.DOTALL)


@dataclass(frozen=True, slots=True)
class Block:
    """A fenced block of a page: what kind, and its text."""

    kind: str
    text: str

    def commands(self) -> list[str]:
        """Return its command lines, those that go on put together, without comments."""
        lines = self.text.replace("\\\n", " ").splitlines()
        return [line.strip() for line in lines if line.strip() and line.strip()[0] != "#"]


def blocks(page: Path) -> list[Block]:
    """Return the fenced blocks of a page, in order."""
    return [Block(*found) for found in FENCE.findall(page.read_text(encoding="utf-8"))]


def configuration() -> str:
    """Return the configuration the handbook has people write on the first day."""
    first = next(one for one in blocks(HANDBOOK / "first-day.md") if one.kind == "toml")
    return first.text


@dataclass(frozen=True, slots=True)
class HandbookShop:
    """The shop in a folder."""

    folder: Path

    def run(self, line: str) -> tuple[int, str]:
        """Run a command line of the handbook; return its exit status and all that it said."""
        words = shlex.split(line, comments=True)
        words = words[1:] if words[0] == "sudo" else words
        program, *rest = words
        assert program == "curewatch", line
        out = StringIO()
        with redirect_stdout(out), redirect_stderr(out):
            try:
                status = main(["--config", str(self.folder / "curewatch.toml"), *rest])
            except SystemExit as end:  # how argparse ends
                status = int(end.code or 0)
        return status, out.getvalue()


def is_of_the_system(line: str) -> bool:
    """Whether a line is for a program that is not ours, and known to be meant."""
    words = shlex.split(line, comments=True)
    words = words[1:] if words[0] == "sudo" else words
    return Path(words[0]).name in (*SYSTEM, SENDS)


def handbook_shop(folder: Path) -> HandbookShop:
    """Build the shop in an empty folder, as it stands on that Thursday."""
    (folder / "finishes").mkdir()
    for name, text in (("broker-password", "invented"), ("notify-urls", "json://127.0.0.1:9/x")):
        (folder / name).write_text(f"{text}\n", encoding="utf-8")
        (folder / name).chmod(0o600)
    text = configuration().replace("/var/lib/curewatch/", "")
    clock = '\n[clock]\nsource = "readings"\n'
    (folder / "curewatch.toml").write_text(text + clock, encoding="utf-8")
    with Store.open(folder / "curewatch.db") as store:
        store.readings.add(_record("booth", 21.0, 48.0))
        store.readings.add(_record("loft", 19.0, 52.0))
    shop = HandbookShop(folder)
    for line in SET_UP:
        status, said = shop.run(line)
        assert status == 0, (line, said)
    return shop


SET_UP = (
    "curewatch piece hang V3 V4 --finish waterborne --room loft --coats 3 --at '30d ago'",
    "curewatch coat V3 V4 --no-pot --wet-um 100 --at '26d ago'",
    "curewatch coat V3 V4 --no-pot --wet-um 100 --at '627h ago'",
    "curewatch coat V3 V4 --no-pot --wet-um 100 --at '630h ago'",
    "curewatch piece hang C1 --finish waterborne --room loft --coats 3 --at '5d ago'",
    "curewatch coat C1 --no-pot --wet-um 100 --at '70h ago'",
    "curewatch piece hang Y9 --finish waterborne --room loft --coats 3 --at '2d ago'",
    "curewatch coat Y9 --no-pot --wet-um 100 --at '18h ago'",
    "curewatch piece hang L2 --finish nitro-lacquer --room loft --coats 4 --at '14d ago'",
    "curewatch coat L2 --no-pot --wet-um 110 --at '12d ago'",
)


def _record(room: str, temp_c: float, rh_pct: float) -> Iterator[Reading]:
    """Yield forty days of a room's readings that end now."""
    for minutes in range(40 * 24 * 60, -1, -5):
        ago_h = minutes / 60.0
        if room == "loft" and NO_POWER_H[0] < ago_h < NO_POWER_H[1]:
            continue
        cold = room == "loft" and COLD_NIGHT_H[0] <= ago_h < COLD_NIGHT_H[1]
        at_ms = NOW_MS - minutes * 60_000
        stirs_k = 0.1 * (minutes // 5 % 3)  # air that never stirs is a stuck sensor's
        now_c = (9.0 if cold else temp_c) + stirs_k
        yield Reading(f"{room}-air", Quantity.TEMPERATURE, at_ms, now_c)
        yield Reading(f"{room}-air", Quantity.HUMIDITY, at_ms, rh_pct / 100.0)
