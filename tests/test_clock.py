"""The one source of 'now': when it is believed, and how it follows readings."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

import pytest

from curewatch import clock
from curewatch.clock import (
    BUILT_MS,
    DAY_MS,
    SLACK_MS,
    ClockTrust,
    NewestReadingClock,
    StepWatch,
    SystemClock,
    system_ms,
)

if TYPE_CHECKING:
    from pathlib import Path

HOUR_MS = 3_600_000


def at(monkeypatch: pytest.MonkeyPatch, ms: int) -> None:
    """Set the system clock."""
    monkeypatch.setattr(time, "time_ns", lambda: ms * 1_000_000)


def test_without_a_time_daemon_a_plausible_clock_is_believed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    at(monkeypatch, BUILT_MS + DAY_MS)
    here = SystemClock(timesync=tmp_path / "none")
    assert here.trust() is ClockTrust.UNKNOWN
    assert here.now_ms() == BUILT_MS + DAY_MS


def test_a_clock_that_its_time_daemon_has_not_set_is_not_believed_until_it_has(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    at(monkeypatch, BUILT_MS + DAY_MS)
    here = SystemClock(timesync=tmp_path)
    assert here.trust() is ClockTrust.NOT_SET
    assert here.now_ms() is None
    (tmp_path / "synchronized").touch()
    assert here.trust() is ClockTrust.SET
    assert here.now_ms() == BUILT_MS + DAY_MS


def test_a_clock_before_the_programs_own_year_is_not_believed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    at(monkeypatch, 0)
    (tmp_path / "synchronized").touch()
    assert SystemClock(timesync=tmp_path).now_ms() is None


def test_a_clock_before_the_newest_stored_reading_is_not_believed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    newest = BUILT_MS + 100 * DAY_MS
    here = SystemClock(newest_stored_ms=newest, timesync=tmp_path / "none")
    at(monkeypatch, newest - SLACK_MS - 1)
    assert here.now_ms() is None
    at(monkeypatch, newest - SLACK_MS)
    assert here.now_ms() == newest - SLACK_MS
    here.heard(newest + DAY_MS)  # a sensor's own clock has no say while the daemon runs
    assert here.now_ms() == newest - SLACK_MS


def test_the_newest_reading_is_now_and_never_goes_back() -> None:
    here = NewestReadingClock()
    assert here.now_ms() is None
    here.heard(BUILT_MS)
    here.heard(BUILT_MS + HOUR_MS)
    here.heard(BUILT_MS)
    assert here.now_ms() == BUILT_MS + HOUR_MS


def test_a_jump_of_more_than_a_day_needs_a_second_reading_to_agree() -> None:
    here = NewestReadingClock(BUILT_MS)
    here.heard(BUILT_MS + 90 * DAY_MS)
    assert here.now_ms() == BUILT_MS
    here.heard(BUILT_MS + HOUR_MS)  # the other was mistaken
    here.heard(BUILT_MS + 90 * DAY_MS)
    assert here.now_ms() == BUILT_MS + HOUR_MS
    here.heard(BUILT_MS + 90 * DAY_MS + HOUR_MS)
    assert here.now_ms() == BUILT_MS + 90 * DAY_MS + HOUR_MS


def test_two_jumps_that_do_not_agree_move_nothing() -> None:
    here = NewestReadingClock(BUILT_MS)
    here.heard(BUILT_MS + 90 * DAY_MS)
    here.heard(BUILT_MS + 400 * DAY_MS)
    assert here.now_ms() == BUILT_MS


def test_a_step_of_the_system_clock_is_noticed_against_the_monotonic_one(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    wall, steady = [1000.0], [50.0]
    monkeypatch.setattr(clock.time, "time", lambda: wall[0])
    monkeypatch.setattr(clock.time, "monotonic", lambda: steady[0])
    steps = StepWatch()
    wall[0], steady[0] = 1010.0, 60.0
    assert steps.step_s() == pytest.approx(0.0)
    wall[0], steady[0] = 4621.0, 71.0
    assert steps.step_s() == pytest.approx(3600.0)
    assert steps.step_s() == pytest.approx(0.0)


def test_system_time_is_in_milliseconds() -> None:
    assert system_ms() > BUILT_MS
