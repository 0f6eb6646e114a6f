"""Chips asked in their rhythm: what is handed in, and what it says once decoded."""

from __future__ import annotations

import logging
import os
import queue
import threading
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from curewatch.intake.polling import OWN_GENERATION, Poll, Poller, polled
from curewatch.shop.reading import Origin, Quantity, Reading, Rejected, RejectReason
from tests.intake.sysfs_tree import PROBE, SysfsTree

if TYPE_CHECKING:
    from pathlib import Path

    from curewatch.intake import Arrived

NOW_MS = 1_790_000_000_000
AIR = (Quantity.TEMPERATURE, Quantity.HUMIDITY)


@pytest.fixture
def tree(tmp_path: Path) -> SysfsTree:
    """Return a tree with one chip for the air."""
    made = SysfsTree(tmp_path / "sys")
    made.hwmon(0, "airchip", "1-0044", temp1_input=21_250, humidity1_input=48_000)
    return made


def poller(tree: SysfsTree, *polls: Poll) -> tuple[Poller, list[Arrived]]:
    """Return a poller of the tree, and what it has handed in."""
    heard: list[Arrived] = []
    return Poller(polls, heard.append, now_ms=lambda: NOW_MS, root=tree.root), heard


def air(kernel: str = "airchip", *, every_s: float = 60.0) -> Poll:
    """Return a poll of a chip for the air."""
    return Poll("loft", kernel, AIR, every_s)


def answers(tree: SysfsTree, poll: Poll) -> list[Reading | Rejected]:
    """Return what one round says."""
    asking, heard = poller(tree, poll)
    asking.round(100.0)
    return polled(heard[0])


def reasons(tree: SysfsTree, poll: Poll) -> list[RejectReason | None]:
    """Return how one round is refused."""
    return [a.reason if isinstance(a, Rejected) else None for a in answers(tree, poll)]


def test_a_round_hands_in_readings_that_need_no_acknowledgement(tree: SysfsTree) -> None:
    asking, heard = poller(tree, air())
    asking.round(100.0)
    (message,) = heard
    assert (message.generation, message.qos) == (OWN_GENERATION, 0)
    assert not message.retained
    assert not message.backlog
    assert polled(message) == [
        Reading("loft", Quantity.TEMPERATURE, NOW_MS, 21.25, Origin.ARRIVAL),
        Reading("loft", Quantity.HUMIDITY, NOW_MS, 0.48, Origin.ARRIVAL),
    ]


def test_what_was_held_takes_the_time_it_is_stamped_with_later(tree: SysfsTree) -> None:
    asking, heard = poller(tree, air())
    asking.round(100.0)
    later = replace(heard[0], received_ms=NOW_MS + 5)
    assert [a.at_ms for a in polled(later) if isinstance(a, Reading)] == [NOW_MS + 5] * 2


def test_each_chip_keeps_its_rhythm_and_what_was_missed_is_not_made_up_for(
    tree: SysfsTree,
) -> None:
    asking, heard = poller(tree, air(), replace(air(), sensor="bench", every_s=100.0))
    assert asking.round(1000.0) == 1060.0
    assert asking.round(1059.9) == 1060.0
    assert len(heard) == 2
    assert asking.round(1061.5) == 1100.0  # a little late: the rhythm stays that of the start
    assert asking.round(1250.0) == 1300.0  # long late: each is asked once
    topics = [message.topic.partition("/")[2] for message in heard]
    assert topics == ["loft", "bench", "loft", "loft", "bench"]


def test_a_probe_on_a_piece_is_a_surface(tree: SysfsTree) -> None:
    tree.probe(milli_c=19_062)
    (answer,) = answers(tree, Poll("offcut", PROBE, (Quantity.SURFACE_TEMPERATURE,), 60.0))
    assert isinstance(answer, Reading)
    assert (answer.quantity, answer.value) == (Quantity.SURFACE_TEMPERATURE, 19.062)


def test_a_garbled_probe_is_refused_by_name(tree: SysfsTree) -> None:
    tree.probe(crc="NO")
    poll = Poll("offcut", PROBE, (Quantity.SURFACE_TEMPERATURE,), 60.0)
    assert reasons(tree, poll) == [RejectReason.CHECKSUM]


def test_one_quantity_that_fails_leaves_the_other(tree: SysfsTree) -> None:
    tree.unreadable(tree.root / "class/hwmon/hwmon0/humidity1_input")
    assert reasons(tree, air()) == [None, RejectReason.READ_ERROR]


def test_a_humidity_beyond_saturation_is_refused(tree: SysfsTree) -> None:
    (tree.root / "class/hwmon/hwmon0/humidity1_input").write_text("104000\n")
    assert reasons(tree, air()) == [None, RejectReason.OUT_OF_RANGE]


def test_a_bus_that_is_stuck_holds_up_nobody_else_and_is_said_to_be(tree: SysfsTree) -> None:
    tree.hwmon(1, "stuck", "1-0045", temp1_input=0)
    pipe = tree.root / "class/hwmon/hwmon1/temp1_input"
    pipe.unlink()
    os.mkfifo(pipe)  # reading it waits for as long as nobody writes
    stuck = Poll("offcut", "stuck", (Quantity.SURFACE_TEMPERATURE,), 60.0)
    heard: queue.SimpleQueue[Arrived] = queue.SimpleQueue()
    asking = Poller(
        (stuck, air()), heard.put, now_ms=lambda: NOW_MS, root=tree.root, patience_s=0.01
    )
    asking.round(100.0)
    assert [a.sensor for a in polled(heard.get(timeout=10))] == ["loft", "loft"]
    asking.round(160.0)
    (answer,) = polled(heard.get(timeout=10))
    assert isinstance(answer, Rejected)
    assert answer.reason is RejectReason.READ_ERROR
    assert "'stuck' does not answer" in answer.detail
    assert [a.sensor for a in polled(heard.get(timeout=10))] == ["loft", "loft"]
    pipe.write_text("19062\n")
    (late,) = polled(heard.get(timeout=10))
    assert isinstance(late, Reading)
    assert late.value == 19.062


def test_one_that_is_merely_slow_is_not_asked_twice_and_not_scolded(tree: SysfsTree) -> None:
    tree.hwmon(1, "slow", "1-0045", temp1_input=0)
    pipe = tree.root / "class/hwmon/hwmon1/temp1_input"
    pipe.unlink()
    os.mkfifo(pipe)
    slow = Poll("offcut", "slow", (Quantity.SURFACE_TEMPERATURE,), 1.0)
    heard: queue.SimpleQueue[Arrived] = queue.SimpleQueue()
    asking = Poller((slow,), heard.put, now_ms=lambda: NOW_MS, root=tree.root, patience_s=0.01)
    asking.round(100.0)
    asking.round(101.0)
    asking.round(102.0)
    pipe.write_text("19062\n")
    (answer,) = polled(heard.get(timeout=10))
    assert isinstance(answer, Reading)
    assert heard.empty()


def test_a_name_that_means_two_chips_means_none(tree: SysfsTree) -> None:
    tree.hwmon(1, "airchip", "1-0045", temp1_input=30_000, humidity1_input=60_000)
    first, _ = answers(tree, air())
    assert isinstance(first, Rejected)
    assert first.reason is RejectReason.MISSING
    assert "'1-0044/temp1_input', '1-0045/temp1_input'" in first.detail
    assert reasons(tree, air("1-0045")) == [None, None]


def test_a_name_no_chip_has_is_missing_and_says_how_to_find_it(tree: SysfsTree) -> None:
    first, _ = answers(tree, air("airchop"))
    assert isinstance(first, Rejected)
    assert first.reason is RejectReason.MISSING
    assert "no chip called 'airchop'" in first.detail
    assert "curewatch sensor scan" in first.detail


def test_a_chip_that_goes_and_comes_back_under_another_number_is_read_again(
    tree: SysfsTree, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.INFO)
    asking, heard = poller(tree, air(every_s=60.0))
    asking.round(100.0)
    tree.take_away(tree.root / "class/hwmon/hwmon0")
    asking.round(160.0)
    asking.round(220.0)
    tree.hwmon(5, "airchip", "1-0044", temp1_input=21_500, humidity1_input=47_000)
    asking.round(280.0)
    kinds = [{type(answer) for answer in polled(message)} for message in heard]
    assert kinds == [{Reading}, {Rejected}, {Rejected}, {Reading}]
    told = [record.levelname for record in caplog.records]
    assert told == ["WARNING", "WARNING", "INFO", "INFO"]  # once when it begins, once when over


def test_the_thread_asks_at_once_and_ends_when_told(tree: SysfsTree) -> None:
    heard = threading.Event()
    asking = Poller([air()], lambda _: heard.set(), now_ms=lambda: NOW_MS, root=tree.root)
    asking.start()
    assert heard.wait(10.0)
    asking.stop()
    assert "curewatch-poller" not in {thread.name for thread in threading.enumerate()}


def test_one_fault_does_not_end_the_thread(
    tree: SysfsTree, caplog: pytest.LogCaptureFixture
) -> None:
    times, again = [], threading.Event()

    def refuse_the_first(message: Arrived) -> None:
        times.append(message.received_s)
        if len(times) == 1:
            raise ValueError("told by the test")
        again.set()

    asking = Poller([air(every_s=0.01)], refuse_the_first, now_ms=lambda: NOW_MS, root=tree.root)
    asking.start()
    assert again.wait(10.0)
    asking.stop()
    assert "trying again" in caplog.text


def test_without_anything_to_ask_no_thread_runs(tree: SysfsTree) -> None:
    asking, _ = poller(tree)
    asking.start()
    assert "curewatch-poller" not in {thread.name for thread in threading.enumerate()}
    asking.stop()
