"""How many bytes a day the daemon and its broker write to the card; run by hand.

`python -m tests.deploy.card_wear --minutes 20` starts two shops with a broker each: the example of
config/curewatch.toml with its sensors reporting as often as it says, and eight sensors every 10 s.
What the kernel counts for a process as sent to the storage (write_bytes in /proc/PID/io) over the
span, which begins after the start has settled, is told as a day's worth. The folder must lie on a
real file system: in memory nothing is counted.
"""

from __future__ import annotations

import argparse
import os
import re
import subprocess
import sys
import time
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import TemporaryDirectory

import paho.mqtt.client as mqtt
from paho.mqtt.enums import CallbackAPIVersion

from tests.broker.mosquitto import Mosquitto

TOP = Path(__file__).parents[2]
EXAMPLE = TOP / "config" / "curewatch.toml"
SETTLE_S = 60.0
DAY_S = 86_400.0
MB = 1e6
_EIGHT = '[site]\nname = "eight"\ntimezone = "UTC"\n[[room]]\nname = "loft"\n' + "".join(
    f'[[sensor]]\nid = "air-{n}"\nroom = "loft"\ntopic = "shop/air-{n}"\n'
    'temperature = "/t"\nhumidity = "/h"\n'
    for n in range(8)
)


@dataclass(frozen=True, slots=True)
class Sender:
    """A sensor: where, how often, and what it says at a temperature and a humidity."""

    topic: str
    every_s: float
    says: str


EXAMPLE_SENDERS = (
    Sender("shop/booth/climate", 60.0, '{{"temperature": {t:.2f}, "humidity": {h:.1f}}}'),
    Sender("shop/loft/temperature", 300.0, "{t:.2f}"),
    Sender("shop/loft/humidity", 300.0, "{h:.1f}"),
    Sender("shop/loft/probe", 600.0, '{{"reading": {{"value": "70,1", "time": "{at}"}}}}'),
)
EIGHT_SENDERS = tuple(
    Sender(f"shop/air-{n}", 10.0, '{{"t": {t:.2f}, "h": {h:.1f}}}') for n in range(8)
)


@dataclass
class Shop:
    """A daemon process with a broker of its own."""

    name: str
    folder: Path
    config: str
    senders: tuple[Sender, ...]
    window_s: float
    broker: Mosquitto = field(init=False)
    daemon: subprocess.Popen[bytes] = field(init=False)
    line: mqtt.Client = field(init=False)
    due_s: list[float] = field(init=False)

    def start(self) -> None:
        """Start broker, daemon and what publishes."""
        self.folder.mkdir()
        (self.folder / "curewatch.toml").write_text(self.config, encoding="utf-8")
        self.broker = Mosquitto(self.folder)
        self.broker.start()
        env = {
            **os.environ,
            "CUREWATCH_STORAGE__PATH": str(self.folder / "curewatch.db"),
            "CUREWATCH_BROKER__PORT": str(self.broker.port),
            "CUREWATCH_PAGE__SERVE": "false",
            "CUREWATCH_CLOCK__COMMIT_WINDOW_S": str(self.window_s),
        }
        with (self.folder / "daemon.log").open("wb") as log:
            self.daemon = subprocess.Popen(
                [
                    *(sys.executable, "-m", "curewatch", "run"),
                    *("--config", str(self.folder / "curewatch.toml")),
                ],
                env=env,
                stdout=log,
                stderr=log,
            )
        self.line = mqtt.Client(CallbackAPIVersion.VERSION2, protocol=mqtt.MQTTv5)
        self.line.connect("127.0.0.1", self.broker.port)
        self.line.loop_start()
        self.due_s = [time.monotonic() + n for n in range(len(self.senders))]

    def publish_what_is_due(self) -> None:
        """Let every sensor speak whose time has come."""
        now_s = time.monotonic()
        for index, sender in enumerate(self.senders):
            if now_s >= self.due_s[index]:
                self.due_s[index] += sender.every_s
                wave = now_s % 97.0 / 97.0
                says = sender.says.format(
                    t=20.0 + wave,
                    h=50.0 + 5.0 * wave,
                    at=time.strftime("%Y-%m-%dT%H:%M:%SZ", time.gmtime()),
                )
                self.line.publish(sender.topic, says, qos=1)

    def written(self) -> tuple[int, int]:
        """Return what daemon and broker have sent to the storage so far [bytes]."""
        process = self.broker._process  # noqa: SLF001 - the broker's number is of no other use
        assert process is not None
        return _written_b(self.daemon.pid), _written_b(process.pid)

    def stop(self) -> None:
        """End all of it."""
        self.line.disconnect()
        self.line.loop_stop()
        self.daemon.terminate()
        self.daemon.wait()
        self.broker.stop()


def _written_b(pid: int) -> int:
    found = re.search(r"^write_bytes: (\d+)", Path(f"/proc/{pid}/io").read_text(), re.MULTILINE)
    assert found is not None
    return int(found[1])


def main() -> None:
    """Measure, and tell a day's worth for each shop."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=20.0)
    parser.add_argument("--window-s", type=float, default=5.0, help="clock.commit_window_s")
    parser.add_argument("--folder", type=Path, default=Path("/var/tmp"))  # noqa: S108 - not memory
    args = parser.parse_args()
    with TemporaryDirectory(dir=args.folder) as name:
        top = Path(name)
        shops = [
            Shop(
                "example",
                top / "a",
                EXAMPLE.read_text(encoding="utf-8"),
                EXAMPLE_SENDERS,
                args.window_s,
            ),
            Shop("eight at 10 s", top / "b", _EIGHT, EIGHT_SENDERS, args.window_s),
        ]
        for shop in shops:
            shop.start()
        _run(shops, SETTLE_S)
        before = [shop.written() for shop in shops]
        span_s = args.minutes * 60.0
        _run(shops, span_s)
        for shop, old in zip(shops, before, strict=True):
            daemon, broker = (
                (b - a) * DAY_S / span_s / MB for a, b in zip(old, shop.written(), strict=True)
            )
            size = (shop.folder / "curewatch.db").stat().st_size
            print(  # noqa: T201 - what it is for
                f"{shop.name}: daemon {daemon:.1f} MB/day, broker {broker:.1f} MB/day over "
                f"{args.minutes:.0f} min; database {size:,} bytes"
            )
        for shop in shops:
            shop.stop()


def _run(shops: list[Shop], span_s: float) -> None:
    end_s = time.monotonic() + span_s
    while time.monotonic() < end_s:
        for shop in shops:
            shop.publish_what_is_due()
        time.sleep(0.2)  # sensors speak by the clock


if __name__ == "__main__":
    main()
