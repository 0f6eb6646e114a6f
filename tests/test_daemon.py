"""The daemon's rounds, in one process and without a broker: batches are handed to it."""

from __future__ import annotations

import json
import logging
import threading
import time
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from curewatch.assembly import finish_text
from curewatch.daemon import Daemon, broker_access, clock_of
from curewatch.errors import StorageError
from curewatch.intake import Arrived
from curewatch.intake.held import MOST_HELD
from curewatch.settings import load_settings
from curewatch.shop.alert import AlertKind
from curewatch.shop.piece import Coat, Outcome, Work, WorkKind
from curewatch.shop.reading import Origin, Quantity, Reading
from curewatch.storage import Store
from tests.crash.daemon_process import write_config

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from curewatch.settings import Settings

START_MS = 1_790_000_000_000 // 60_000 * 60_000
MINUTE_MS = 60_000


class SetByHand:
    """A clock the test sets; None while it is not set."""

    def __init__(self, now_ms: int | None) -> None:
        self.at_ms = now_ms

    def now_ms(self) -> int | None:
        """Return what was set."""
        return self.at_ms

    def heard(self, newest_ms: int) -> None:
        """Readings have no say."""


def message(at_ms: int | None, *, temp_c: float = 21.0, rh_pct: float = 50.0) -> Arrived:
    """Return a message of sensor s0, with its own time or without."""
    content = {"temperature": temp_c, "humidity": rh_pct}
    if at_ms is not None:
        content["at"] = at_ms
    payload = json.dumps(content).encode()
    received_ms = at_ms or 0
    return Arrived(1, 1, 1, "shop/s0", payload, False, time.monotonic(), received_ms, False)


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    """Return a shop's settings; 'now' is the newest reading."""
    return load_settings(write_config(tmp_path, 1, sensors=("s0",), clock="readings"))


@pytest.fixture
def store(settings: Settings) -> Iterator[Store]:
    """Open the daemon's storage."""
    with Store.open(settings.storage.path) as opened:
        yield opened


@pytest.fixture
def people(settings: Settings, store: Store) -> Iterator[Store]:
    """Open the same file as a command would, after the daemon."""
    assert store is not None
    with Store.open(settings.storage.path) as opened:
        yield opened


def hang(people: Store, settings: Settings, tag: str = "B1", coats: tuple[int, ...] = ()) -> None:
    """Hang a waterborne piece in the drying room, with coats."""
    revision = people.finishes.keep("waterborne", finish_text(settings, "waterborne"), START_MS)
    people.pieces.hang(
        tag,
        "waterborne",
        revision,
        title="",
        at_ms=START_MS,
        entered_ms=START_MS,
        room="drying",
        planned_coats=8,
    )
    for at_ms in coats:
        people.pieces.coat(tag, Coat(at_ms), at_ms)


def hours(daemon: Daemon, count: int, *, start_ms: int = START_MS, **climate: float) -> None:
    """Send a reading every five minutes for some hours."""
    batch = [message(start_ms + five * 5 * MINUTE_MS, **climate) for five in range(12 * count + 1)]
    daemon.round(batch)


def test_what_a_command_enters_is_noticed_in_the_next_round(
    settings: Settings, store: Store, people: Store
) -> None:
    daemon = Daemon(settings, store)
    hours(daemon, 4)
    hang(people, settings, coats=(START_MS,))
    daemon.round([])
    now = daemon.watch.pieces_now["B1"]
    assert now.clocks
    assert AlertKind.RECOAT_OPEN in {alert.kind for alert in store.alerts.active()}


def test_a_reading_typed_by_hand_into_a_room_reaches_the_running_daemon(
    settings: Settings, store: Store, people: Store
) -> None:
    daemon = Daemon(settings, store)
    hours(daemon, 2)
    people.places.place("typed-drying", "drying", START_MS)
    for minutes in (0, 60):
        at_ms = START_MS + minutes * MINUTE_MS
        typed = Reading("typed-drying", Quantity.TEMPERATURE, at_ms, 25.0, Origin.TYPED)
        people.readings.add([typed], announce=True)
    people.places.place("typed-drying", "drying", START_MS)
    daemon.round([])
    track = daemon.shop.book.climates["drying"]
    climate = track.at(START_MS + 30 * MINUTE_MS)
    assert climate is not None
    assert climate.temp_c == pytest.approx(21.0)  # hourly by hand is a gap in this room
    assert daemon.feed.rooms_of("typed-drying") == {"drying"}


def test_late_readings_make_a_running_daemon_judge_an_earlier_finding_again(
    settings: Settings, store: Store, people: Store
) -> None:
    day_h, day_ms = 24, 24 * 60 * MINUTE_MS
    daemon = Daemon(settings, store)
    hang(people, settings, coats=(START_MS,))
    levelled_ms, found_ms = START_MS + 5 * day_ms, START_MS + 6 * day_ms
    people.pieces.work("B1", Work(WorkKind.LEVEL, levelled_ms), found_ms)
    people.pieces.outcome("B1", Outcome(found_ms, "grain-back"), found_ms)
    hours(daemon, day_h)
    hours(daemon, 2 * day_h, start_ms=START_MS + 4 * day_ms)
    assert daemon.shop.judged["B1"].said[0].finding is None
    assert not daemon.shop.paces
    hours(daemon, 3 * day_h, start_ms=START_MS + day_ms)
    assert daemon.shop.judged["B1"].said[0].finding is not None
    assert daemon.shop.learnt_of(daemon.shop.finish_of(daemon.shop.pieces["B1"])) is not None


def test_alerts_someone_has_seen_stay_seen_while_the_daemon_runs(
    settings: Settings, store: Store, people: Store
) -> None:
    daemon = Daemon(settings, store)
    hours(daemon, 4)
    hang(people, settings, coats=(START_MS,))
    daemon.round([])
    (alert,) = store.alerts.active()
    people.alerts.mark_seen(alert.id, "Ada", START_MS)
    hours(daemon, 1, start_ms=START_MS + 4 * 3_600_000)
    (still,) = store.alerts.active()
    assert (still.id, still.phase, still.seen_by) == (alert.id, "seen", "Ada")


def test_while_the_clock_is_not_set_arrivals_wait_and_are_stamped_when_it_is(
    settings: Settings, store: Store, caplog: pytest.LogCaptureFixture
) -> None:
    by_hand = SetByHand(None)
    live = settings.model_copy(
        update={
            "clock": settings.clock.model_copy(update={"source": "system"}),
            "sensor": (settings.sensor[0].model_copy(update={"time": None}),),
        }
    )
    daemon = Daemon(live, store, clock=by_hand)
    with caplog.at_level(logging.INFO):
        daemon.round([message(None)])
        assert store.readings.newest_ms() is None
        assert daemon.kept == 0
        by_hand.at_ms = START_MS
        daemon.round([])
    newest = store.readings.newest_ms()
    assert newest is not None
    assert START_MS - 5000 < newest <= START_MS  # by its age on the monotonic clock
    assert "clock not set" in caplog.text
    assert "clock set" in caplog.text


def test_impossible_values_are_told_at_the_records_own_time(
    settings: Settings, store: Store
) -> None:
    daemon = Daemon(settings, store)
    hours(daemon, 1)
    for minutes in range(61, 80):
        daemon.round([message(START_MS + minutes * MINUTE_MS, temp_c=-127.0)])
    (refused, *_) = store.rejections.summary("s0")
    assert START_MS < refused.last_ms <= START_MS + 80 * MINUTE_MS
    assert AlertKind.SENSOR_RANGE in {alert.kind for alert in store.alerts.active()}


def test_a_failed_commit_is_told_and_the_batch_is_kept_for_the_next_round(
    settings: Settings,
    store: Store,
    monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
) -> None:
    daemon = Daemon(settings, store)
    add = store.readings.add

    def full(*_: object, **__: object) -> None:
        raise StorageError("disk full")

    monkeypatch.setattr(store.readings, "add", full)
    daemon.round([message(START_MS)])
    assert "disk full" in caplog.text
    assert daemon.kept == 0
    monkeypatch.setattr(store.readings, "add", add)
    daemon.round([message(START_MS + MINUTE_MS)])
    assert daemon.kept == 2
    assert store.readings.counts() == {"s0": 4}


def test_the_daemon_goes_on_where_it_was_when_it_starts_again(
    settings: Settings, store: Store, people: Store
) -> None:
    first = Daemon(settings, store)
    hang(people, settings, coats=(START_MS,))
    hours(first, 30)
    before = {alert.key for alert in store.alerts.active()}
    second = Daemon(settings, store)
    second.round([])
    assert {alert.key for alert in store.alerts.active()} == before
    assert second.watch.pieces_now["B1"].sentence == first.watch.pieces_now["B1"].sentence


def test_a_daemon_without_a_broker_stays_up_and_ends_when_told(
    settings: Settings, store: Store
) -> None:
    daemon, stop = Daemon(settings, store), threading.Event()
    running = threading.Thread(target=daemon.run, args=(stop,))
    running.start()
    stop.set()
    running.join(10)
    assert not running.is_alive()


def test_the_clock_and_the_broker_are_those_the_settings_name(settings: Settings) -> None:
    assert clock_of(settings, 5).now_ms() == 5
    live = settings.model_copy(
        update={"clock": settings.clock.model_copy(update={"source": "system"})}
    )
    assert clock_of(live, None).now_ms() is not None
    access = broker_access(settings)
    assert (access.host, access.port, access.client_id) == ("127.0.0.1", 1, "curewatch-trial")


def test_what_waits_for_the_clock_is_bounded_and_kept_once_it_is_set(
    settings: Settings, store: Store, caplog: pytest.LogCaptureFixture
) -> None:
    system = settings.model_copy(
        update={"clock": settings.clock.model_copy(update={"source": "system"})}
    )
    clock = SetByHand(None)
    daemon = Daemon(system, store, clock=clock)
    free = replace(message(None), qos=0)
    daemon.round([free] * (MOST_HELD + 1))
    assert "every second of the readings that wait was let go" in caplog.text
    daemon.round([replace(message(START_MS), qos=0)])
    assert store.readings.newest_ms() is None
    clock.at_ms = START_MS + MINUTE_MS
    daemon.round([])
    assert store.readings.newest_ms() is not None
    assert daemon.kept <= MOST_HELD
