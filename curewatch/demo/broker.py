"""The demo's broker and its sensors' radio: both in one thread of their own.

The embedded broker speaks MQTT 3.1.1 and keeps nothing: right for a demo, wrong for a shop. It
comes with the extra `demo`.
"""

from __future__ import annotations

import asyncio
import importlib.util
import json
import logging
import socket
import threading
from typing import TYPE_CHECKING, Self

from curewatch.errors import TransportError

if TYPE_CHECKING:
    from collections.abc import Coroutine, Sequence
    from pathlib import Path

    from amqtt.broker import Broker
    from amqtt.client import MQTTClient

    from curewatch.demo.scenario import Message

PACKAGE = "amqtt"  # of the extra `demo`
AT_ONCE = 60  # messages under way together
START_S, PUBLISH_S, STOP_S = 120.0, 300.0, 30.0
MISSING = (
    "the demo starts a small MQTT broker of its own, and that is not installed here: "
    "pip install 'curewatch[demo]'"
)


class DemoBroker:
    """A real broker on a private port of this machine, and a client that publishes to it."""

    def __init__(self, log: Path) -> None:
        """Log to `log`.

        Raises
        ------
        TransportError
            When the broker's package is not installed.
        """
        if importlib.util.find_spec(PACKAGE) is None:
            raise TransportError(MISSING, retry=False)
        self.port = free_port()
        self.published = 0
        self._log = log
        self._loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._loop.run_forever, name="broker", daemon=True)
        self._broker: Broker | None = None
        self._client: MQTTClient | None = None

    def __enter__(self) -> Self:
        """Start the broker and connect the sensors."""
        _log_to(self._log)
        self._thread.start()
        self._wait(self._start(), START_S, "start")
        return self

    def __exit__(self, *_: object) -> None:
        """Stop both, as far as they let themselves be stopped."""
        try:
            self._wait(self._stop(), STOP_S, "stop")
        except TransportError as error:
            logging.getLogger("amqtt").warning("%s", error)
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join(STOP_S)
        if not self._thread.is_alive():
            self._loop.close()

    def publish(self, messages: Sequence[Message]) -> None:
        """Send messages in order, QoS 1; return once the broker has acknowledged them all.

        Raises
        ------
        TransportError
            When it does not within a minute.
        """
        for first in range(0, len(messages), AT_ONCE):
            batch = messages[first : first + AT_ONCE]
            self._wait(self._publish(batch), PUBLISH_S, "acknowledge messages")
            self.published += len(batch)

    async def _start(self) -> None:
        from amqtt.broker import Broker  # noqa: PLC0415 - an extra; slow to import
        from amqtt.client import MQTTClient  # noqa: PLC0415 - same

        self._broker = Broker(
            {
                "listeners": {"default": {"type": "tcp", "bind": f"127.0.0.1:{self.port}"}},
                "plugins": {
                    "amqtt.plugins.authentication.AnonymousAuthPlugin": {"allow_anonymous": True}
                },
            }
        )
        await self._broker.start()
        # Its keep-alive of 9 s would end the connection on a machine that is busy for as long.
        lasting = {"keep_alive": 0, "ping_delay": 0}
        self._client = MQTTClient(
            "demo-sensors", {"auto_reconnect": False, "plugins": {}, **lasting}
        )
        await self._client.connect(f"mqtt://127.0.0.1:{self.port}")

    async def _publish(self, messages: Sequence[Message]) -> None:
        assert self._client is not None  # noqa: S101 - started before
        client = self._client
        await asyncio.gather(
            *(
                client.publish(message.topic, json.dumps(message.payload()).encode(), qos=1)
                for message in messages
            )
        )

    async def _stop(self) -> None:
        if self._client is not None:
            await self._client.disconnect()
        if self._broker is not None:
            await self._broker.shutdown()
        rest = asyncio.all_tasks() - {asyncio.current_task()}
        for task in rest:
            task.cancel()
        await asyncio.gather(*rest, return_exceptions=True)

    def _wait(self, doing: Coroutine[object, object, None], limit_s: float, what: str) -> None:
        """Let the broker's thread do something, for so long and no longer."""
        future = asyncio.run_coroutine_threadsafe(doing, self._loop)
        try:
            future.result(limit_s)
        except TimeoutError:
            future.cancel()
            raise TransportError(
                f"the demo's broker did not {what} within {limit_s:.0f} s: is this machine very "
                "busy? Try again",
                retry=True,
            ) from None
        except Exception as error:
            raise TransportError(
                f"the demo's broker did not {what}: {error!r}; its log is {self._log}", retry=True
            ) from error


def free_port() -> int:
    """Return a port of this machine that nothing listens on just now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
    return port


def _log_to(path: Path) -> None:
    """Keep the broker's chatter out of the terminal."""
    handler = logging.FileHandler(path)
    handler.setFormatter(logging.Formatter("%(asctime)s %(levelname)s %(name)s: %(message)s"))
    for name in ("amqtt", "transitions"):
        logger = logging.getLogger(name)
        logger.setLevel(logging.WARNING)
        logger.propagate = False
        logger.addHandler(handler)
