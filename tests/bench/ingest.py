"""Durable ingest of a waiting backlog against a bare receive loop on the same broker."""

from __future__ import annotations

import gc
import json
import statistics
import threading
import time
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

import numpy as np
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

from curewatch.assembly import assemble
from curewatch.clock import system_ms
from curewatch.daemon import BATCH, SLICE_S, broker_access
from curewatch.intake import TopicTable
from curewatch.intake.mqtt import MqttIntake
from curewatch.keeping import Keeping
from curewatch.room_feed import RoomFeed
from curewatch.shop.watch import Watch
from curewatch.storage import Store
from tests.bench.measured import Goal, Row, Section, ratios, seconds
from tests.bench.scene import DAY_MS, Layout, climate, hang_pieces
from tests.bench.stages import StageClock
from tests.broker.mosquitto import Mosquitto

if TYPE_CHECKING:
    from collections.abc import Sequence

    from curewatch.intake import Arrived
    from curewatch.settings import Settings

MESSAGES = 20_000
REPEATS = 5
EVERY_MS = 10_000
LAYOUT = Layout(rooms=5, sensors=25)
PIECES = 20
PATIENCE_S = 120.0


def measure() -> Section:
    """Measure both loops over equal backlogs, turn about."""
    with TemporaryDirectory() as name, Mosquitto(Path(name)) as broker:
        folder = Path(name)
        settings = LAYOUT.settings(folder, broker.port)
        now_ms = system_ms()
        with Store.open(settings.storage.path) as store:
            hang_pieces(
                store,
                settings,
                count=PIECES,
                first_ms=now_ms - 3 * DAY_MS,
                last_ms=now_ms - 2 * DAY_MS,
            )
            shop = Intake(settings, store)
            bare, bare_runs, our_runs = Bare(broker.port), list[Taken](), list[Taken]()
            backlog = Backlog(broker.port, now_ms - DAY_MS)
            shop.settle()
            bare.settle()
            for _ in range(REPEATS + 1):  # the first warms both
                backlog.publish()
                bare_runs.append(bare.drain())
                our_runs.append(shop.drain())
            backlog.publish()
            bare.drain()
            stages = StageClock(shop.keeping, store)
            with stages:
                shop.drain(stages)
            kept = sum(store.readings.counts().values())
            assert kept == 2 * MESSAGES * (REPEATS + 2), f"{kept} readings are kept"
    bare_s, bare_cpu_s = columns(bare_runs[1:])
    ours_s, ours_cpu_s = columns(our_runs[1:])
    return Section(
        title="Durable ingest",
        what=(
            f"{MESSAGES:,} QoS 1 messages of {LAYOUT.sensors} sensors in {LAYOUT.rooms} rooms "
            "(JSON with temperature, humidity and their own time, two readings each) wait in a "
            "real broker's session; timed from connecting to the last one. Baseline: a bare paho "
            "client that counts them and lets the library acknowledge. Ours: the daemon's line "
            "and keeping - decode, gate, commit to disk (synchronous FULL) in batches of up to "
            f"{BATCH:,}, acknowledge, bring the clock book up to date ({PIECES} pieces under two "
            "finishes), and a tick of the watch at the end. Both sessions get the same messages "
            "from the same publisher."
        ),
        rows=[
            Row(
                "messages a second, ours over the bare loop's",
                ratios(bare_s, ours_s),
                goal=Goal(0.6, at_least=True),
                ours=f"{MESSAGES / statistics.median(ours_s):,.0f}/s",
                against=f"{MESSAGES / statistics.median(bare_s):,.0f}/s",
            ),
            Row(
                "the same by processor time, which a busy machine disturbs less",
                ratios(bare_cpu_s, ours_cpu_s),
                ours=seconds(ours_cpu_s),
                against=seconds(bare_cpu_s),
            ),
        ],
        notes=stages.report(MESSAGES, statistics.median(bare_s)),
    )


@dataclass(frozen=True, slots=True)
class Taken:
    """How long a backlog took, by the wall and by the processor [s]."""

    wall_s: float
    cpu_s: float


class Stopwatch:
    """Times one backlog."""

    def __init__(self) -> None:
        """Begin, on a clean heap."""
        gc.collect()
        self._wall_s, self._cpu_s = time.perf_counter(), time.process_time()

    def taken(self) -> Taken:
        """Return what has passed."""
        return Taken(time.perf_counter() - self._wall_s, time.process_time() - self._cpu_s)


def columns(runs: Sequence[Taken]) -> tuple[list[float], list[float]]:
    """Return wall and processor times of runs [s]."""
    return [run.wall_s for run in runs], [run.cpu_s for run in runs]


class Backlog:
    """Publishes messages that carry their own, ever later, time."""

    def __init__(self, port: int, start_ms: int) -> None:
        """Begin at `start_ms` [ms]."""
        self._port = port
        self._at_ms = start_ms

    def publish(self) -> None:
        """Publish one backlog; returns once the broker has taken all of it."""
        steps = MESSAGES // LAYOUT.sensors
        times = self._at_ms + EVERY_MS * np.arange(steps)
        self._at_ms += EVERY_MS * steps
        said = [climate(times, place) for place in range(LAYOUT.sensors)]
        client = Client(CallbackAPIVersion.VERSION2)
        client.max_inflight_messages_set(500)
        client.max_queued_messages_set(0)
        client.connect("127.0.0.1", self._port)
        client.loop_start()
        sent = []
        for step, at_ms in enumerate(times.tolist()):
            for sensor, (temp_c, rh_frac) in zip(LAYOUT.sensor_names(), said, strict=True):
                text = {
                    "t": float(temp_c[step]),
                    "h": round(100.0 * float(rh_frac[step]), 2),
                    "at": at_ms,
                }
                sent.append(client.publish(f"shop/{sensor}", json.dumps(text), qos=1))
        for one in sent:
            one.wait_for_publish(PATIENCE_S)
        client.disconnect()
        client.loop_stop()


class Bare:
    """A receive loop that does nothing with what it receives."""

    def __init__(self, port: int) -> None:
        """Receive from the broker on `port`."""
        self._port = port
        self._count = 0
        self._done = threading.Event()

    def settle(self) -> None:
        """Leave a session at the broker."""
        client = self._client()
        subscribed = threading.Event()
        client.on_subscribe = lambda *_: subscribed.set()
        self._connect(client)
        client.subscribe([(f"shop/{sensor}", 1) for sensor in LAYOUT.sensor_names()])
        assert subscribed.wait(PATIENCE_S)
        client.disconnect()
        client.loop_stop()

    def drain(self) -> Taken:
        """Receive one backlog; return how long it took."""
        self._count = 0
        self._done.clear()
        client = self._client()
        client.on_message = self._counted
        watch = Stopwatch()
        self._connect(client)
        assert self._done.wait(PATIENCE_S), f"{self._count} came"
        took = watch.taken()
        client.disconnect()
        client.loop_stop()
        return took

    def _counted(self, *_: object) -> None:
        self._count += 1
        if self._count == MESSAGES:
            self._done.set()

    def _client(self) -> Client:
        return Client(
            CallbackAPIVersion.VERSION2, client_id="bare", protocol=MQTTProtocolVersion.MQTTv5
        )

    def _connect(self, client: Client) -> None:
        session = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]  # the library's own
        session.SessionExpiryInterval = DAY_MS // 1000
        session.ReceiveMaximum = 2 * BATCH  # as the daemon's
        client.connect("127.0.0.1", self._port, clean_start=False, properties=session)
        client.loop_start()


class Intake:
    """The daemon's way in: its line, its keeping, its book."""

    def __init__(self, settings: Settings, store: Store) -> None:
        """Put it together as the daemon does."""
        self._settings = settings
        now_ms = system_ms()
        self._shop = assemble(settings, store, now_ms)
        for sensor in self._shop.sensors:
            store.places.place(sensor.id, sensor.room, now_ms - 30 * DAY_MS)
        feed = RoomFeed(store, self._shop)
        feed.load(now_ms - 8 * DAY_MS)
        self.keeping = Keeping(store, self._shop, feed, TopicTable(settings.mappings()))
        self._watch = Watch(self._shop)
        self._watch.step(now_ms)  # a look at the pieces puts their clocks in the book

    def settle(self) -> None:
        """Leave a session at the broker."""
        line = self._new_line()
        line.start()
        assert line.wait_subscribed(PATIENCE_S)
        line.stop()

    def drain(self, stages: StageClock | None = None) -> Taken:
        """Keep one backlog; return how long it took."""
        line = self._new_line()
        acknowledging = line if stages is None else stages.watched(line)
        watch = Stopwatch()
        line.start()
        kept = 0
        while kept < MESSAGES:
            batch = self._gather(line, MESSAGES - kept)
            self.keeping.keep(batch, acknowledging)
            kept += len(batch)
        self._watch.step(system_ms())
        took = watch.taken()
        line.stop()
        return took

    def _gather(self, line: MqttIntake, wanted: int) -> list[Arrived]:
        """Return the next batch, gathered as the daemon does it."""
        batch: list[Arrived] = []
        deadline_s = time.monotonic() + PATIENCE_S
        while len(batch) < min(BATCH, wanted):
            more = line.take(min(BATCH, wanted) - len(batch), SLICE_S)
            batch += more
            if not more and batch:
                break
            assert time.monotonic() < deadline_s, "the backlog does not come"
        return batch

    def _new_line(self) -> MqttIntake:
        topics = [mapping.topic for mapping in self._settings.mappings()]
        return MqttIntake(broker_access(self._settings), topics, site="bench", now_ms=system_ms)
