from __future__ import annotations

import json
import os
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from pathlib import Path
from typing import TYPE_CHECKING, cast

import pytest

from curewatch.cli.main import main
from curewatch.demo import broker, scenario
from curewatch.demo.daemon_process import DaemonError, DaemonProcess

if TYPE_CHECKING:
    import http.client

LIMIT_S = 240.0
REQUIRED = {
    "recoat-open",
    "recoat-closing",
    "recoat-missed",
    "coat-early",
    "coat-late",
    "work-early",
    "cold-young-film",
    "wet-work-climate",
    "surface-dew",
    "sensor-silent",
    "ready-wet-sand",
    "ready-buff",
}


def demo(*words: str) -> list[str]:
    return [sys.executable, "-m", "curewatch", "demo", *words]


@pytest.mark.broker
def test_the_demo_runs_whole_and_says_what_it_has_to(tmp_path: Path) -> None:
    kept = tmp_path / "kept"
    begun = time.monotonic()
    done = subprocess.run(
        demo("--json", "--keep", str(kept)),
        capture_output=True,
        text=True,
        timeout=LIMIT_S,
        check=False,
        env={**os.environ, "CUREWATCH_SITE__NAME": "not-the-demo"},
    )
    print(f"the demo took {time.monotonic() - begun:.1f} s")  # noqa: T201 - for who reads the log
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    assert found["invented"] is True
    assert set(found["alert_kinds"]) >= REQUIRED
    assert found["messages"] <= scenario.MOST_MESSAGES
    assert found["readings"] == 2 * found["messages"] - 1  # all but the sensor's waking value
    assert [refused.partition(":")[0] for refused in found["refused"]] == ["loft-gable"]
    assert [answer["status"] for answer in found["commands"] if answer["status"]] == [20]
    assert "fortnight is over" in done.stderr
    pieces = {piece["piece"]: piece for piece in found["pieces"]}
    said = {tag: {told["kind"] for told in piece["told"]} for tag, piece in pieces.items()}
    assert {"ready-wet-sand", "ready-buff"} <= said["body-8"]
    assert {"recoat-closing", "recoat-missed", "coat-late"} <= said["door-4"]
    assert "work-early" in said["neck-6"]
    assert {"coat-early", "wet-work-climate"} <= said["tray-3"]
    assert "cold-young-film" in said["shelf-2"]
    assert said["box-6"] == {"recoat-open"}
    assert all(piece["gaps"] == [] for piece in pieces.values())  # the loft's other sensor spoke
    for piece in pieces.values():
        assert piece["buff"]["days_later_than_calendar"] > 0.5
    assert pieces["shelf-2"]["buff"]["lost_hours"]["cold"] > 8.0
    assert pieces["box-6"]["buff"]["nominal_expected"] is True
    config = ["--config", str(kept / "shop.toml")]
    assert main([*config, "status"]) == 0
    bench, plan = found["morning"]
    assert [bench["status"], plan["status"]] == [0, 0]
    assert all(tag in bench["said"] for tag in pieces)
    assert "3 coats, one gun" in plan["said"]
    assert "Traceback" not in (kept / "daemon.log").read_text()
    assert not (kept / "broker.log").read_text()


def test_the_demo_keeps_nothing_over_what_is_there(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "letter.txt").write_text("mine")
    assert main(["demo", "--keep", str(tmp_path)]) == 2
    assert "not an empty directory" in " ".join(capsys.readouterr().err.split())


def test_the_demo_does_not_touch_the_users_own_shop(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["--config", str(tmp_path / "mine.toml"), "demo"]) == 2
    assert "shop of its own" in " ".join(capsys.readouterr().err.split())


def test_without_its_extra_the_demo_says_what_to_install(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(broker, "PACKAGE", "amqtt_that_is_not_here")
    assert main(["demo"]) == 1
    assert "pip install 'curewatch[demo]'" in " ".join(capsys.readouterr().err.split())


def test_a_daemon_that_cannot_start_is_told_with_the_end_of_its_log(tmp_path: Path) -> None:
    config = tmp_path / "shop.toml"
    config.write_text("[site]\nname = 7\n")
    with (
        pytest.raises(DaemonError, match=r"(?s)ended by itself.*site\.name"),
        DaemonProcess(config, tmp_path / "daemon.log"),
    ):
        pass


@pytest.mark.broker
def test_the_demo_told_to_stop_takes_the_daemon_with_it(tmp_path: Path) -> None:
    kept = tmp_path / "kept"
    process = subprocess.Popen(
        demo("--keep", str(kept)), stderr=subprocess.PIPE, stdout=subprocess.DEVNULL, text=True
    )
    assert process.stderr is not None
    assert process.stderr.readline().startswith("day 1 of")
    process.send_signal(signal.SIGTERM)
    assert process.wait(30.0) == 130
    process.stderr.close()
    running = [
        (entry / "cmdline").read_bytes()
        for entry in Path("/proc").iterdir()
        if entry.name.isdigit() and (entry / "cmdline").exists()
    ]
    assert not [line for line in running if str(kept).encode() in line]


def test_the_demo_shows_its_shop_on_the_page(tmp_path: Path) -> None:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    with subprocess.Popen(
        demo("--keep", str(tmp_path / "shop"), "--page", str(port)),
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
    ) as shown:
        try:
            assert shown.stdout is not None
            assert any(f"http://127.0.0.1:{port}/" in line for line in shown.stdout)
            with _once_served(f"http://127.0.0.1:{port}/piece/body-8") as answer:
                assert "body-8" in answer.read().decode()
        finally:
            shown.terminate()
            status = shown.wait(20.0)
    assert status == 0


def _once_served(url: str) -> http.client.HTTPResponse:
    until_s = time.monotonic() + 30.0
    while True:
        try:
            return cast("http.client.HTTPResponse", urllib.request.urlopen(url))  # noqa: S310 - our own page
        except urllib.error.URLError:
            if time.monotonic() > until_s:
                raise
            time.sleep(0.1)
