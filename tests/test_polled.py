"""Chips at this machine on their way through the daemon: held, gated, kept, counted."""

from __future__ import annotations

import time
from dataclasses import dataclass
from typing import TYPE_CHECKING

import pytest

from curewatch.daemon import Daemon
from curewatch.intake.polling import Poller
from curewatch.settings import Settings, load_settings
from curewatch.shop.reading import Origin, Quantity
from curewatch.storage import Store
from tests.broker.mosquitto import Mosquitto
from tests.crash.daemon_process import DaemonProcess, wait_for
from tests.intake.sysfs_tree import PROBE, SysfsTree

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from curewatch.intake import Arrived

START_MS = 1_790_000_000_000 // 60_000 * 60_000
EVERY_S = 60.0
CONFIG = """\
[site]
name = "trial"
timezone = "UTC"
[storage]
path = "shop.db"
[broker]
host = "127.0.0.1"
port = {port}
[clock]
commit_window_s = 0.1
[[room]]
name = "loft"
[kernel]
sysfs = "sys"
[[sensor]]
id = "loft-air"
room = "loft"
kernel = "airchip"
reads = ["temperature", "humidity"]
{rhythm}
[[sensor]]
id = "offcut"
room = "loft"
kernel = "{probe}"
reads = ["surface_temperature"]
{rhythm}
"""


@dataclass
class SetByHand:
    """A clock the test sets; None while it is not set."""

    at_ms: int | None

    def now_ms(self) -> int | None:
        """Return what was set."""
        return self.at_ms

    def heard(self, newest_ms: int) -> None:
        """Readings have no say."""


@pytest.fixture
def tree(tmp_path: Path) -> SysfsTree:
    """Return a tree with a chip for the air and a probe."""
    made = SysfsTree(tmp_path / "sys")
    made.hwmon(0, "cpu_thermal", temp1_input=58_000)
    made.hwmon(1, "airchip", "1-0044", temp1_input=21_250, humidity1_input=48_000)
    made.probe(milli_c=19_062)
    return made


def configured(folder: Path, *, port: int = 1, rhythm: str = "") -> Path:
    """Write the shop's configuration."""
    path = folder / "shop.toml"
    path.write_text(CONFIG.format(port=port, rhythm=rhythm, probe=PROBE))
    return path


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    """Return the shop's settings."""
    return load_settings(configured(tmp_path))


@pytest.fixture
def store(settings: Settings) -> Iterator[Store]:
    """Open the daemon's storage."""
    with Store.open(settings.storage.path) as opened:
        yield opened


def refused(store: Store) -> dict[str, str]:
    """Return each sensor's newest reason."""
    return {row.sensor: str(row.reason) for row in store.rejections.summary()}


def one_round(settings: Settings, received_ms: int) -> list[Arrived]:
    """Return what the shop's chips say now, stamped with `received_ms`."""
    heard: list[Arrived] = []
    poller = Poller(
        settings.polls(), heard.append, now_ms=lambda: received_ms, root=settings.kernel.sysfs
    )
    poller.round(EVERY_S)
    return heard


def test_what_chips_say_is_kept_and_is_the_rooms_climate(
    settings: Settings, store: Store, tree: SysfsTree
) -> None:
    assert tree.root.is_dir()
    daemon = Daemon(settings, store, clock=SetByHand(START_MS))
    daemon.round(one_round(settings, START_MS))
    values = {(r.sensor, r.quantity): (r.value, r.origin) for r in daemon.shop.heard.values()}
    assert values == {
        ("loft-air", Quantity.TEMPERATURE): (21.25, Origin.ARRIVAL),
        ("loft-air", Quantity.HUMIDITY): (0.48, Origin.ARRIVAL),
        ("offcut", Quantity.SURFACE_TEMPERATURE): (19.062, Origin.ARRIVAL),
    }
    assert store.readings.counts() == {"loft-air": 2, "offcut": 1}


def test_what_comes_while_the_clock_is_not_set_is_held_and_stamped_by_its_age(
    settings: Settings, store: Store, tree: SysfsTree
) -> None:
    assert tree.root.is_dir()
    clock = SetByHand(None)
    daemon = Daemon(settings, store, clock=clock)
    begun_s = time.monotonic()
    daemon.round(one_round(settings, 5))
    assert store.readings.counts() == {}
    clock.at_ms = START_MS
    daemon.round([])
    age_ms = (time.monotonic() - begun_s) * 1000
    (at_ms,) = {r.at_ms for r in daemon.shop.heard.values() if r.sensor == "loft-air"}
    assert START_MS - age_ms - 1 <= at_ms <= START_MS


def test_a_garbled_probe_and_a_chip_that_does_not_answer_are_refused_by_name(
    settings: Settings, store: Store, tree: SysfsTree
) -> None:
    tree.probe(crc="NO")
    tree.unreadable(tree.root / "class/hwmon/hwmon1/humidity1_input")
    daemon = Daemon(settings, store, clock=SetByHand(START_MS))
    daemon.round(one_round(settings, START_MS))
    assert refused(store) == {"loft-air": "read-error", "offcut": "checksum"}
    assert store.readings.counts() == {"loft-air": 1}  # its temperature


def test_a_jump_no_room_makes_is_the_gates_to_refuse(
    settings: Settings, store: Store, tree: SysfsTree
) -> None:
    clock = SetByHand(START_MS)
    daemon = Daemon(settings, store, clock=clock)
    daemon.round(one_round(settings, START_MS))
    (tree.root / "class/hwmon/hwmon1/temp1_input").write_text("60000\n")
    clock.at_ms = START_MS + 60_000
    daemon.round(one_round(settings, START_MS + 60_000))
    assert refused(store) == {"loft-air": "too-fast"}


@pytest.mark.crash
def test_a_real_daemon_asks_chips_that_fail_go_and_come_back_over_a_restart(
    tree: SysfsTree, tmp_path: Path
) -> None:
    with Mosquitto(tmp_path) as broker:
        config = configured(tmp_path, port=broker.port, rhythm="report_every_min = 0.02")

        def counts() -> dict[str, int]:
            with Store.open(tmp_path / "shop.db", read_only=True) as store:
                return store.readings.counts()

        def reasons() -> dict[str, str]:
            with Store.open(tmp_path / "shop.db", read_only=True) as store:
                return refused(store)

        with DaemonProcess(config) as daemon:
            wait_for(lambda: counts().get("loft-air", 0) >= 4, "two rounds", daemon.log)
            assert counts().keys() == {"loft-air", "offcut"}  # and not the computer's own
            tree.probe(crc="NO")
            tree.take_away(tree.root / "class/hwmon/hwmon1")
            wait_for(
                lambda: reasons() == {"loft-air": "missing", "offcut": "checksum"},
                "both to be refused",
                daemon.log,
            )
            daemon.kill()
            before = counts()
            daemon.start()
            tree.hwmon(4, "airchip", "1-0044", temp1_input=21_300, humidity1_input=48_100)
            tree.probe(milli_c=19_125)
            wait_for(
                lambda: all(counts()[sensor] > kept for sensor, kept in before.items()),
                "both to be read again",
                daemon.log,
            )
            assert daemon.terminate() < 10.0
    said = daemon.log.read_text()
    assert "no temperature: no chip called 'airchip'" in said
    assert "sensor loft-air: its temperature is read again" in said
    with Store.open(tmp_path / "shop.db", read_only=True) as store:
        newest = store.readings.latest()
    assert newest["loft-air", Quantity.TEMPERATURE].value == 21.3
    assert newest["offcut", Quantity.SURFACE_TEMPERATURE].value == 19.125
