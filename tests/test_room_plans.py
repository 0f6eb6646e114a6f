"""What rooms are said to do reaches the shop, from the configuration and while the daemon runs."""

from __future__ import annotations

import json
import subprocess
import sys
import threading
from typing import TYPE_CHECKING, Any

import paho.mqtt.client as mqtt
import pytest

from curewatch.assembly import assemble, finish_text, load_plans
from curewatch.daemon import Daemon
from curewatch.settings import load_settings
from curewatch.shop.piece import Coat
from curewatch.shop.reading import Quantity, Reading
from curewatch.shop.room_plan import RoomPlan
from curewatch.storage import Store
from tests.broker.mosquitto import Mosquitto
from tests.crash.daemon_process import DaemonProcess, wait_for, write_config
from tests.small_shop import HOUR_MS, T0_MS, SmallShop

if TYPE_CHECKING:
    from pathlib import Path

    from curewatch.settings import Settings

STATE = "curewatch/trial/piece/B1"


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    """Return a shop whose one room is kept at 22 degC; 'now' is the newest reading."""
    path = write_config(tmp_path, 1, sensors=("s0",), clock="readings")
    text = path.read_text().replace("longest_gap_min = 30\n", "set_point_c = 22\n")
    path.write_text(text)
    return load_settings(path)


def test_set_points_come_first_and_what_people_entered_after_them(settings: Settings) -> None:
    with Store.open(settings.storage.path) as store:
        shop = assemble(settings, store, T0_MS)
        (always,) = shop.plans["drying"]
        assert (always.start_ms, always.stop_ms, always.temp_c, always.id) == (0, None, 22.0, 0)
        assert load_plans(store, shop) == set()
        first = store.room_plans.add(RoomPlan("drying", T0_MS, None, 18.0), T0_MS)
        second = store.room_plans.add(RoomPlan("drying", T0_MS - 1, None, 17.0), T0_MS)
        store.room_plans.add(RoomPlan("gone", T0_MS, None, 17.0), T0_MS)
        assert load_plans(store, shop) == {"drying", "gone"}
        assert [plan.id for plan in shop.plans["drying"]] == [0, first, second]
        store.room_plans.void(first, "typo", T0_MS)
        store.room_plans.void(3, "typo", T0_MS)
        assert load_plans(store, shop) == {"drying", "gone"}
        assert shop.plans == {"drying": (always, store.room_plans.for_room("drying")[0])}
        assert assemble(settings, store, T0_MS).plans == shop.plans


def test_a_running_daemon_takes_a_plan_and_looks_at_the_rooms_pieces_again(
    settings: Settings,
) -> None:
    with Store.open(settings.storage.path) as store, Store.open(store.db.path) as people:
        _fill(people, settings)
        daemon = Daemon(settings, store)
        daemon.round([])
        first_look = daemon.watch.pieces_now["B1"]
        daemon.round([])
        assert daemon.watch.pieces_now["B1"] is first_look  # nothing new, nothing looked at
        number = people.room_plans.add(RoomPlan("drying", T0_MS, None, 12.0), T0_MS)
        daemon.round([])
        assert [plan.id for plan in daemon.shop.plans["drying"]] == [0, number]
        assert daemon.watch.pieces_now["B1"] is not first_look
        people.room_plans.void(number, "typo", T0_MS)
        daemon.round([])
        assert [plan.id for plan in daemon.shop.plans["drying"]] == [0]


def test_only_the_pieces_of_a_room_with_a_new_plan_are_looked_at(tmp_path: Path) -> None:
    small = SmallShop.open(tmp_path)
    small.hang("B1", "waterborne", T0_MS)
    small.climate(T0_MS, T0_MS + 4 * HOUR_MS)
    now_ms = T0_MS + 4 * HOUR_MS
    small.watch.step(now_ms)
    small.watch.looked.clear()
    small.watch.step(now_ms)
    assert small.watch.looked == set()
    small.store.room_plans.add(RoomPlan("elsewhere", T0_MS, None, 12.0), T0_MS)
    for room in load_plans(small.store, small.shop):
        small.watch.room_rewritten(room)
    small.watch.step(now_ms)
    assert small.watch.looked == set()
    small.store.room_plans.add(RoomPlan("loft", T0_MS, None, 12.0), T0_MS)
    for room in load_plans(small.store, small.shop):
        small.watch.room_rewritten(room)
    small.watch.step(now_ms)
    assert small.watch.looked == {"B1"}
    small.store.close()


def _fill(store: Store, settings: Settings) -> None:
    """Store ten days of a steady room and a fresh piece in it."""
    start_ms = T0_MS - 240 * HOUR_MS
    store.readings.add(
        [
            Reading("s0", quantity, at_ms, value)
            for at_ms in range(start_ms, T0_MS + 1, HOUR_MS // 6)
            for quantity, value in ((Quantity.TEMPERATURE, 22.0), (Quantity.HUMIDITY, 0.5))
        ]
    )
    revision = store.finishes.keep("waterborne", finish_text(settings, "waterborne"), start_ms)
    store.pieces.hang(
        "B1",
        "waterborne",
        revision,
        title="",
        at_ms=T0_MS - 10 * HOUR_MS,
        entered_ms=T0_MS,
        room="drying",
    )
    store.pieces.coat("B1", Coat(T0_MS - 9 * HOUR_MS), T0_MS)


class Listener:
    """Keeps the newest state of the piece that the daemon publishes."""

    def __init__(self, port: int) -> None:
        self.state: Any = None
        self.came = threading.Event()
        self._client = mqtt.Client(mqtt.CallbackAPIVersion.VERSION2)
        self._client.on_message = self._take
        self._client.connect("127.0.0.1", port)
        self._client.subscribe(STATE, qos=1)
        self._client.loop_start()

    def _take(self, *call: Any) -> None:  # noqa: ANN401 - the library's own types
        self.state = json.loads(call[2].payload)

    def likely(self, name: str) -> str | None:
        """Return when a milestone is likely reached, as published."""
        stones = [] if self.state is None else self.state["milestones"]
        etas = [stone.get("eta") for stone in stones if stone["name"] == name]
        return etas[0]["likely"] if etas and etas[0] else None

    def close(self) -> None:
        """Hang up."""
        self._client.loop_stop()
        self._client.disconnect()


@pytest.mark.crash
@pytest.mark.broker
def test_a_plan_entered_by_the_command_moves_the_published_times_of_a_running_daemon(
    tmp_path: Path,
) -> None:
    with Mosquitto(tmp_path) as broker:
        config = write_config(tmp_path, broker.port, sensors=("s0",), clock="readings")
        settings = load_settings(config)
        with Store.open(settings.storage.path) as store:
            _fill(store, settings)
        with DaemonProcess(config) as daemon:
            listener = Listener(broker.port)
            try:
                wait_for(lambda: listener.likely("buff"), "a first expected time", daemon.log)
                usual = listener.likely("buff")
                _command(config, "--heating-off", "--drifts-to-c", "10")
                wait_for(lambda: listener.likely("buff") != usual, "another time", daemon.log)
                colder = listener.likely("buff")
                assert colder is None or (usual is not None and colder > usual)
                _command(config, "--void", "1", "--why", "the heater stays on")
                wait_for(lambda: listener.likely("buff") == usual, "the first time", daemon.log)
            finally:
                listener.close()
            assert "what is planned for drying was changed" in daemon.log.read_text()


def _command(config: Path, *words: str) -> None:
    """Run 'room ahead' in a process of its own."""
    subprocess.run(
        [sys.executable, "-m", "curewatch", "--config", config, "room", "ahead", "drying", *words],
        check=True,
        stdout=subprocess.DEVNULL,
    )
