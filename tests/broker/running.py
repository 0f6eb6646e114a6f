"""A real daemon in a thread beside the test, on a real broker, and what it has stored."""

from __future__ import annotations

import threading
import time
from contextlib import contextmanager
from typing import TYPE_CHECKING, TypeVar

from paho.mqtt import publish as send

from curewatch.daemon import Daemon
from curewatch.settings import load_settings
from curewatch.storage import Store

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from tests.broker.mosquitto import Mosquitto

SOON_S = 20.0
_Answer = TypeVar("_Answer")


def await_it(ask: Callable[[], _Answer | None]) -> _Answer:
    """Return the first answer that is not None."""
    deadline = time.monotonic() + SOON_S
    while (answer := ask()) is None:
        assert time.monotonic() < deadline, "it did not come about"
        time.sleep(0.02)  # polls another thread; it is not a wait of known length
    return answer


@contextmanager
def daemon(config: Path) -> Iterator[Daemon]:
    """Run the daemon that `config` describes until the test is through with it."""
    settings = load_settings(config)
    stop, ready, made = threading.Event(), threading.Event(), []

    def run() -> None:
        with Store.open(settings.storage.path) as store:
            made.append(Daemon(settings, store))
            ready.set()
            made[0].run(stop)

    thread = threading.Thread(target=run)
    thread.start()
    try:
        assert ready.wait(SOON_S)
        assert made[0].line.wait_subscribed(SOON_S)
        yield made[0]
    finally:
        stop.set()
        thread.join(SOON_S)


def stored(config: Path) -> dict[tuple[str, str], float]:
    """Return the newest stored value of each sensor and quantity."""
    with Store.open(load_settings(config).storage.path) as store:
        latest = store.readings.latest()
    return {(s, quantity.word): reading.value for (s, quantity), reading in latest.items()}


def say(broker: Mosquitto, topic: str, payload: bytes | str, *, retain: bool = False) -> None:
    """Publish a message."""
    send.single(topic, payload, qos=1, retain=retain, hostname="127.0.0.1", port=broker.port)
