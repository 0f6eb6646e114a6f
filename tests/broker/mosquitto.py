"""A real mosquitto on a private port, for tests that need the real thing."""

from __future__ import annotations

import os
import shutil
import signal
import socket
import subprocess
import time
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Self

import pytest

if TYPE_CHECKING:
    from pathlib import Path

# What a broker needs so that it drops nothing silently while the daemon is away.
SETTINGS = """\
persistence true
persistence_location {folder}/
autosave_interval 30
persistent_client_expiration 60d
max_queued_messages 60000
max_inflight_messages 1000
max_packet_size 131072
listener {port} 127.0.0.1
log_dest file {folder}/mosquitto.log
"""
_READY_S = 10.0


def installed(program: str, package: str) -> str:
    """Return the path of `program`; without it the test is skipped, in CI it fails."""
    found = shutil.which(program, path=f"{os.environ.get('PATH', '')}:/usr/sbin:/usr/local/sbin")
    if found is None:
        say = f"{program} is not installed; apt-get install {package}"
        if os.environ.get("CI"):
            pytest.fail(say)
        pytest.skip(say)
    return found


@dataclass
class Mosquitto:
    """One broker with its data in `folder`; it can be killed and started again.

    Attributes
    ----------
        folder: where its settings, log and persistent data are.
        users: names and passwords; without any, everyone may connect.
        access_list: lines of an access list, empty for none.
        extra: further lines of its settings.
    """

    folder: Path
    users: dict[str, str] = field(default_factory=dict)
    access_list: str = ""
    extra: str = ""
    _process: subprocess.Popen[bytes] | None = None

    def __post_init__(self) -> None:
        """Choose a port that is free now, and keep it over restarts."""
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port: int = probe.getsockname()[1]

    def __enter__(self) -> Self:
        """Start it."""
        self.start()
        return self

    def __exit__(self, *_exception: object) -> None:
        """End it, whatever state it is in."""
        self.kill()

    def start(self) -> None:
        """Start it and wait until it listens."""
        program = installed("mosquitto", "mosquitto")
        self._process = subprocess.Popen(
            [program, "-c", str(self._write_settings())],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        deadline = time.monotonic() + _READY_S
        while not self._listens():
            if self._process.poll() is not None or time.monotonic() > deadline:
                log = self.folder / "mosquitto.log"
                pytest.fail(f"mosquitto does not start: {log.read_text() if log.exists() else ''}")
            time.sleep(0.01)  # the only way to learn that a foreign process listens

    def stop(self) -> None:
        """End it in order; it saves what it holds."""
        self._end(signal.SIGTERM)

    def kill(self) -> None:
        """End it with SIGKILL."""
        self._end(signal.SIGKILL)

    def save(self) -> None:
        """Make it write its persistent data now."""
        assert self._process is not None
        data = self.folder / "mosquitto.db"
        before = data.stat().st_mtime_ns if data.exists() else 0
        self._process.send_signal(signal.SIGUSR1)
        deadline = time.monotonic() + _READY_S
        while not data.exists() or data.stat().st_mtime_ns == before:
            assert time.monotonic() < deadline, "mosquitto did not save"
            time.sleep(0.01)

    def log(self) -> str:
        """Return what it has logged."""
        return (self.folder / "mosquitto.log").read_text()

    def pause(self) -> None:
        """Make it stop answering without closing a line."""
        assert self._process is not None
        self._process.send_signal(signal.SIGSTOP)

    def _end(self, how: signal.Signals) -> None:
        if self._process is not None:
            self._process.send_signal(how)
            self._process.wait(_READY_S)
            self._process = None

    def _listens(self) -> bool:
        with socket.socket() as probe:
            return probe.connect_ex(("127.0.0.1", self.port)) == 0

    def _write_settings(self) -> Path:
        lines = SETTINGS.format(folder=self.folder, port=self.port)
        if os.geteuid() == 0:
            lines = "user root\n" + lines  # else it gives up its rights to the test's folder
        lines += f"allow_anonymous {'false' if self.users else 'true'}\n{self.extra}\n"
        if self.users:
            passwords = self.folder / "passwords"
            passwords.unlink(missing_ok=True)
            for name, word in self.users.items():
                create = [] if passwords.exists() else ["-c"]
                subprocess.run(
                    ["mosquitto_passwd", *create, "-b", str(passwords), name, word],
                    check=True,
                    capture_output=True,
                )
            lines += f"password_file {passwords}\n"
        if self.access_list:
            access = self.folder / "access"
            access.write_text(self.access_list)
            lines += f"acl_file {access}\n"
        settings = self.folder / "mosquitto.conf"
        settings.write_text(lines)
        return settings
