"""The metrics endpoint before a real scraper, and the health of a real daemon."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import httpx
import pytest
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion
from prometheus_client.openmetrics.parser import text_string_to_metric_families

from curewatch.clock import system_ms
from tests.broker.metric_server import MetricServer, free_port, needs_server
from tests.broker.mosquitto import Mosquitto
from tests.crash.daemon_process import DaemonProcess, wait_for, write_config

if TYPE_CHECKING:
    from pathlib import Path

pytestmark = [pytest.mark.broker, pytest.mark.crash]
PAGE = "\n[page]\nserve = true\nmetrics = true\nport = {port}\n"
SCRAPE = """\
scrape_configs:
  - job_name: shop
    scrape_interval: 1s
    static_configs:
      - targets: ["127.0.0.1:{port}"]
"""


def publish(port: int, temp_c: float) -> None:
    client = Client(CallbackAPIVersion.VERSION2)
    client.connect("127.0.0.1", port)
    client.loop_start()
    for age_ms in (120_000, 60_000, 0):
        content = {"temperature": temp_c, "humidity": 50.0, "at": system_ms() - age_ms}
        client.publish("shop/rack", json.dumps(content), qos=1).wait_for_publish(10.0)
    client.disconnect()
    client.loop_stop()


def series(scraper: MetricServer) -> set[tuple[object, ...]]:
    """Return the names and labels of what the scraper keeps, without its own labels."""
    found: set[tuple[object, ...]] = set()
    for labels in scraper.points("curewatch_.*"):
        tags = dict(labels)
        name = tags.pop("__name__")
        own = {key: value for key, value in tags.items() if key not in ("job", "instance")}
        found.add((name, *sorted(own.items())))
    return found


def test_a_real_scraper_reads_the_room_and_health_follows_the_broker(tmp_path: Path) -> None:
    needs_server()
    port = free_port()
    page = f"http://127.0.0.1:{port}"
    scraper = MetricServer(tmp_path / "points", scrape=SCRAPE.format(port=port))
    with Mosquitto(tmp_path) as broker:
        config = write_config(tmp_path, broker.port, sensors=("rack",))
        config.write_text(config.read_text("utf-8") + PAGE.format(port=port), "utf-8")
        with DaemonProcess(config) as daemon, scraper:
            publish(broker.port, 21.5)

            def scraped() -> dict[str, float]:
                found = scraper.points("curewatch_(room_temp|broker|readings_kept).*")
                newest = {dict(labels)["__name__"]: at for labels, at in found.items()}
                return {name: at[max(at)] for name, at in newest.items()}

            wait_for(
                lambda: scraped().get("curewatch_room_temperature_celsius") == 21.5,
                "the temperature",
                daemon.log,
            )
            assert scraped()["curewatch_broker_connected"] == 1.0
            text = httpx.get(f"{page}/metrics").text
            told = {
                (sample.name, *sorted(sample.labels.items()))
                for family in text_string_to_metric_families(text)  # type: ignore[no-untyped-call]
                for sample in family.samples
            }
            assert len(told) > 10
            wait_for(lambda: told <= series(scraper), "every series", daemon.log)
            assert scraped()["curewatch_readings_kept_total"] == 6.0
            health = httpx.get(f"{page}/health")
            assert health.json()["broker_connected"] is True
            clock_set = health.json()["clock_set"]
            assert health.status_code == (200 if clock_set else 503)
            assert health.json()["newest_reading_age_s"] < 60.0
            broker.kill()
            wait_for(
                lambda: httpx.get(f"{page}/health").status_code == 503, "bad health", daemon.log
            )
            assert httpx.get(f"{page}/health").json()["broker_connected"] is False
