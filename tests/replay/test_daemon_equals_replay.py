"""The real office record through a real broker and daemon, and through replay: the same answers.

Record: tests/data/office-climate-2015-02.csv (Candanedo & Feldheim, Energy and Buildings 112
(2016) 28-39); see the README beside it.
"""

from __future__ import annotations

import csv
import json
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

from curewatch.cli.main import main
from curewatch.shop.alert import AlertPhase
from curewatch.storage import Store
from tests.broker.mosquitto import Mosquitto
from tests.crash.daemon_process import DaemonProcess, wait_for, write_config

if TYPE_CHECKING:
    from collections.abc import Iterator

RECORD = Path(__file__).parents[1] / "data" / "office-climate-2015-02.csv"
COATS = ("2015-02-03T10:00:00", "2015-02-03T11:30:07.250", "2015-02-05T09:00:00")


def record() -> Iterator[tuple[int, float, float]]:
    """Yield the record's rows as (at_ms, degC, percent), naive times read as UTC."""
    with RECORD.open(newline="") as file:
        for row in csv.DictReader(line for line in file if not line.startswith("#")):
            at = datetime.fromisoformat(row["time"]).replace(tzinfo=UTC)
            yield (
                round(at.timestamp() * 1000),
                float(row["temperature_c"]),
                float(row["relative_humidity_percent"]),
            )


def send(port: int) -> int:
    """Publish the record; return how many messages that were."""
    client = Client(CallbackAPIVersion.VERSION2)
    client.max_inflight_messages_set(500)
    client.max_queued_messages_set(0)
    client.connect("127.0.0.1", port)
    client.loop_start()
    count, last = 0, None
    for at_ms, temp_c, rh_pct in record():
        payload = {"temperature": temp_c, "humidity": rh_pct, "at": at_ms}
        last = client.publish("shop/office", json.dumps(payload), qos=1)
        count += 1
    assert last is not None
    last.wait_for_publish(60)
    client.disconnect()
    client.loop_stop()
    return count


def replayed(capsys: pytest.CaptureFixture[str]) -> dict[str, object]:
    """Return what `curewatch replay --json` says of the record."""
    words = ["replay", str(RECORD), "--time", "time", "--temp", "temperature_c"]
    words += ["--rh", "relative_humidity_percent", "--finish", "waterborne", "--zone", "UTC"]
    words += ["--longest-gap-min", "30", "--json"]
    for coat in COATS:
        words += ["--coat", coat]
    assert main(words) == 0
    answer: dict[str, object] = json.loads(capsys.readouterr().out)
    return answer


@pytest.mark.crash
@pytest.mark.broker
@pytest.mark.parametrize("protocol", ["5", "3.1.1"])
def test_the_office_record_gives_the_same_clocks_and_alerts_either_way(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], protocol: str
) -> None:
    with Mosquitto(tmp_path) as broker:
        config = write_config(
            tmp_path, broker.port, sensors=("office",), clock="readings", protocol=protocol
        )
        with DaemonProcess(config) as daemon:
            hang = ["--config", str(config), "piece", "hang", "B1", "--finish", "waterborne"]
            hang += ["--room", "drying", "--at", "2015-02-02T00:00:00Z", "--coats", "3"]
            assert main(hang) == 0
            for coat in COATS:
                words = ["--config", str(config), "coat", "B1", "--at", coat + "+00:00"]
                assert main(words) == 0
            count = send(broker.port)
            path = tmp_path / "shop.db"
            with Store.open(path, read_only=True) as store:
                wait_for(
                    lambda: sum(store.readings.counts().values()) == 2 * count,
                    "the whole record",
                    daemon.log,
                    timeout_s=120,
                )
            daemon.terminate()
            capsys.readouterr()
            assert main(["--config", str(config), "piece", "show", "B1", "--json"]) == 0
            live = json.loads(capsys.readouterr().out)
            with Store.open(path, read_only=True) as store:
                events = store.alerts.history(limit=1000)
    again = replayed(capsys)
    ours, theirs = again["piece"], live.get("piece_now", live)
    assert isinstance(ours, dict)
    for clock in ("cure", "drying", "wall"):
        for number in ("effective_hours", "standard_error"):
            assert theirs["clocks"][clock][number] == pytest.approx(
                ours["clocks"][clock][number], rel=1e-9, abs=1e-9
            )
    for stone, live_stone in zip(ours["milestones"], theirs["milestones"], strict=True):
        for key in live_stone:  # replay's own 'eta' comes on top
            near = isinstance(live_stone[key], float)
            wanted = pytest.approx(stone[key], rel=1e-9) if near else stone[key]
            assert live_stone[key] == wanted, (stone["name"], key)
    assert theirs["gaps"] == ours["gaps"]
    raised_live = sorted(
        (str(event.kind), event.at_ms) for event in events if event.phase is AlertPhase.RAISED
    )
    alerts = again["alerts"]
    assert isinstance(alerts, list)
    raised_again = sorted((alert["kind"], at_ms(alert["raised_at"])) for alert in alerts)
    assert raised_live == raised_again
    assert {kind for kind, _ in raised_again} >= {"recoat-open", "coat-late", "gap"}


def at_ms(text: str) -> int:
    """Return an ISO instant as epoch milliseconds."""
    epoch = datetime(1970, 1, 1, tzinfo=UTC)
    return (datetime.fromisoformat(text) - epoch) // timedelta(milliseconds=1)
