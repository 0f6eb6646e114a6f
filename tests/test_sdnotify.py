"""The service manager is told over its socket; without one nothing happens."""

from __future__ import annotations

import os
import socket
from typing import TYPE_CHECKING

import pytest

from curewatch.sdnotify import tell, watchdog_interval_s

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture(autouse=True)
def _no_manager(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("NOTIFY_SOCKET", "WATCHDOG_USEC", "WATCHDOG_PID"):
        monkeypatch.delenv(name, raising=False)


@pytest.mark.parametrize("abstract", [False, True])
def test_a_message_arrives_whole(
    abstract: bool,  # noqa: FBT001 - a parameter of the test
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    name = f"curewatch-test-{os.getpid()}" if abstract else str(tmp_path / "notify")
    monkeypatch.setenv("NOTIFY_SOCKET", f"@{name}" if abstract else name)
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as manager:
        manager.bind(f"\0{name}" if abstract else name)
        manager.settimeout(20.0)
        assert tell("READY=1\nSTATUS=3 rooms, 21.4 °C")
        assert manager.recv(4096).decode() == "READY=1\nSTATUS=3 rooms, 21.4 °C"


@pytest.mark.parametrize("address", ["", "relative", "/nobody/listens/here"])
def test_without_a_manager_nothing_happens(address: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NOTIFY_SOCKET", address)
    assert not tell("READY=1")


def test_the_watchdog_is_fed_twice_in_the_time_it_allows(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("WATCHDOG_USEC", "120000000")
    assert watchdog_interval_s() == 60.0
    monkeypatch.setenv("WATCHDOG_PID", str(os.getpid()))
    assert watchdog_interval_s() == 60.0


@pytest.mark.parametrize(
    ("microseconds", "pid"), [("", ""), ("0", ""), ("x", ""), ("120000000", "1")]
)
def test_no_watchdog_is_no_interval(
    microseconds: str, pid: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("WATCHDOG_USEC", microseconds)
    if pid:
        monkeypatch.setenv("WATCHDOG_PID", pid)
    assert watchdog_interval_s() is None
