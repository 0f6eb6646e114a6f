"""Sends a shop's readings as QoS 1 messages that carry their own time, as fast as they are taken.

Run as a program: PORT SENSORS TIMES START_MS. Ends once the broker has acknowledged every message.
"""

from __future__ import annotations

import json
import sys

from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

STEP_MS = 10_000


def value(sensor: int, time: int) -> tuple[float, float]:
    """Return the temperature [degC] and humidity [%] a sensor shows at a step."""
    return 20.0 + sensor * 0.01 + (time % 97) * 0.01, 50.0 + (time % 89) * 0.05


def main() -> None:
    """Send everything."""
    port, sensors, times, start_ms = map(int, sys.argv[1:])
    client = Client(CallbackAPIVersion.VERSION2)
    client.max_inflight_messages_set(500)
    client.max_queued_messages_set(0)
    client.connect("127.0.0.1", port)
    client.loop_start()
    last = None
    for time in range(times):
        for sensor in range(sensors):
            temp_c, rh_pct = value(sensor, time)
            payload = {"temperature": temp_c, "humidity": rh_pct, "at": start_ms + time * STEP_MS}
            last = client.publish(f"shop/s{sensor}", json.dumps(payload), qos=1)
    assert last is not None
    last.wait_for_publish(120)
    client.disconnect()
    client.loop_stop()


if __name__ == "__main__":
    main()
