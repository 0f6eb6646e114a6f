"""The real daemon as a child process: started, watched, ended by SIGTERM."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from typing import TYPE_CHECKING, Self

from curewatch.errors import CurewatchError

if TYPE_CHECKING:
    from pathlib import Path

READY_S, END_S, LOOK_S = 300.0, 60.0, 0.02  # a small machine that is busy takes its time
TAIL_LINES = 12
READY_WORD = "ready"


class DaemonError(CurewatchError):
    """The daemon ended or stood still; the message holds the end of its log."""


class DaemonProcess:
    """`curewatch run` with a configuration, logging to a file."""

    def __init__(self, config: Path, log: Path) -> None:
        """Run with `config`, log to `log`."""
        self._config = config
        self._log = log
        self._process: subprocess.Popen[bytes] | None = None

    def __enter__(self) -> Self:
        """Start it and wait until it has subscribed."""
        with self._log.open("wb") as log:
            self._process = subprocess.Popen(  # noqa: S603 - our own program
                [sys.executable, "-m", "curewatch", "--config", str(self._config), "run"],
                env=own_environment(),
                stdin=subprocess.DEVNULL,
                stdout=log,
                stderr=subprocess.STDOUT,
            )
        try:
            self._until_ready()
        except BaseException:
            self._kill()
            raise
        return self

    def __exit__(self, *_: object) -> None:
        """End it, if it still runs."""
        self._kill()

    def check(self) -> None:
        """Raise DaemonError if it has ended."""
        if self._process is not None and self._process.poll() is not None:
            raise self.failure(f"the daemon ended by itself (status {self._process.returncode})")

    def end(self) -> None:
        """End it as a service manager does.

        Raises
        ------
        DaemonError
            When it does not end, or not in good order.
        """
        assert self._process is not None  # noqa: S101 - started before
        self._process.terminate()
        try:
            status = self._process.wait(END_S)
        except subprocess.TimeoutExpired:
            raise self.failure(f"the daemon did not end within {END_S:.0f} s of SIGTERM") from None
        if status != 0:
            raise self.failure(f"the daemon ended with status {status}")

    def failure(self, what: str) -> DaemonError:
        """Return the error that says what happened, with the end of the log."""
        lines = self._log.read_text(errors="replace").splitlines()[-TAIL_LINES:]
        tail = "\n".join(f"    {line}" for line in lines) or "    (nothing)"
        return DaemonError(f"{what}; the end of its log:\n{tail}")

    def _until_ready(self) -> None:
        until_s = time.monotonic() + READY_S
        while READY_WORD not in self._log.read_text(errors="replace"):
            self.check()
            if time.monotonic() > until_s:
                raise self.failure(f"the daemon was not ready within {READY_S:.0f} s")
            time.sleep(LOOK_S)

    def _kill(self) -> None:
        if self._process is not None and self._process.poll() is None:
            self._process.kill()
            self._process.wait()


def own_environment() -> dict[str, str]:
    """Return the environment without settings meant for the user's own shop."""
    return {name: value for name, value in os.environ.items() if not name.startswith("CUREWATCH_")}
