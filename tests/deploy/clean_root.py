"""A throw-away copy of this machine in which scripts run as root without touching it.

Its files are an overlay: the machine's own below, what a script changes above, in a mount and
process namespace that ends with the test. A layer can be laid on another, so that many tests start
from one installed state.
"""

from __future__ import annotations

import os
import shutil
import subprocess
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Self

import pytest

if TYPE_CHECKING:
    from collections.abc import Mapping

TOP = Path(__file__).parents[2]
SOURCE = "/root/curewatch"
SYSTEM_PATH = "/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin"
_GROUND = "mount -t tmpfs tmpfs {folder} && echo ready && exec cat"
_SET_UP = """
set -e
mkdir -p {folder}/upper {folder}/work {folder}/root
cd {folder}
mount -t overlay overlay -o lowerdir={lower},upperdir={folder}/upper,workdir={folder}/work root
mount -t proc proc root/proc
mount --rbind /dev root/dev
mount -t tmpfs tmpfs root/run
mount -t tmpfs -o mode=1777 tmpfs root/tmp
{network}
echo ready
exec cat
"""


def needs_root() -> None:
    """Skip without root; in CI fail."""
    if os.geteuid() != 0 or shutil.which("unshare") is None:
        lacking = "a root of its own needs root and unshare: run the tests with sudo"
        if os.environ.get("CI"):
            pytest.fail(lacking)
        pytest.skip(lacking)


def _held(command: list[str]) -> subprocess.Popen[str]:
    """Start what holds a namespace until its input is closed, and wait until it is made."""
    holder = subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    assert holder.stdout is not None
    if holder.stdout.readline() != "ready\n":
        _, why = holder.communicate()
        pytest.fail(f"no root of its own: {why}")
    return holder


@dataclass
class Ground:
    """Memory that layers lie in: layers in a folder of the machine would lie in themselves."""

    folder: Path
    _holder: subprocess.Popen[str] | None = field(default=None, repr=False)

    def __enter__(self) -> Self:
        """Mount it where nobody else sees it."""
        script = _GROUND.format(folder=self.folder)
        self._holder = _held(["unshare", "--mount", "--propagation", "private", "sh", "-c", script])
        return self

    def __exit__(self, *_exception: object) -> None:
        """Give it back."""
        assert self._holder is not None
        self._holder.communicate()

    def command(self) -> list[str]:
        """Return what a command is run behind to see it."""
        assert self._holder is not None
        return ["nsenter", "--target", str(self._holder.pid), "--mount", "--"]


@dataclass
class CleanRoot:
    """One layer over this machine's files.

    Attributes
    ----------
        ground: what it lies in.
        name: of its own in there.
        below: the layers under it, the nearest first.
        online: whether it shares the machine's network; otherwise it has a loopback of its own.
    """

    ground: Ground
    name: str
    below: tuple[CleanRoot, ...] = ()
    online: bool = False
    _holder: subprocess.Popen[str] | None = field(default=None, repr=False)
    _started: list[subprocess.Popen[bytes]] = field(default_factory=list, repr=False)

    @property
    def folder(self) -> Path:
        """Where its changes are kept."""
        return self.ground.folder / self.name

    def __enter__(self) -> Self:
        """Make the namespace and mount the layer."""
        script = _SET_UP.format(
            folder=self.folder,
            lower=":".join([*(str(each.folder / "upper") for each in self.below), "/"]),
            network="" if self.online else "ip link set lo up",
        )
        spaces = ["--mount", "--pid", "--fork", "--kill-child", "--propagation", "private"]
        if not self.online:
            spaces.append("--net")
        self._holder = _held([*self.ground.command(), "unshare", *spaces, "sh", "-c", script])
        return self

    def __exit__(self, *_exception: object) -> None:
        """End everything in it; its mounts go with it."""
        assert self._holder is not None
        self._holder.communicate()  # closes its input: it ends, and with it all its processes
        for process in self._started:
            process.wait()

    def path(self, place: str) -> Path:
        """Return where a file of the layer is seen from here."""
        return Path(f"/proc/{self._first()}/root{self.folder}/root{place}")

    def run(
        self, *command: str, env: Mapping[str, str] | None = None, stdin: str = ""
    ) -> subprocess.CompletedProcess[str]:
        """Run a command in it as root and return how it ended."""
        return subprocess.run(
            self._entered(command),
            env=self._environment(env),
            input=stdin,
            capture_output=True,
            text=True,
            check=False,
        )

    def done(self, *command: str, stdin: str = "") -> str:
        """Run a command that must end well; return what it printed."""
        result = self.run(*command, stdin=stdin)
        assert result.returncode == 0, result.stdout + result.stderr
        return result.stdout

    def start(self, *command: str, log: Path) -> subprocess.Popen[bytes]:
        """Start a command that goes on; it ends with the layer at the latest."""
        with log.open("ab") as file:
            process = subprocess.Popen(
                self._entered(command), env=self._environment(None), stdout=file, stderr=file
            )
        self._started.append(process)
        return process

    def take_source(self) -> None:
        """Copy the project into it, as a person would have it after a clone."""
        listed = subprocess.run(
            ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
            cwd=TOP,
            capture_output=True,
            check=True,
        )
        for name in listed.stdout.decode().split("\0"):
            if name and not name.startswith("tests/") and (TOP / name).is_file():
                to = self.path(f"{SOURCE}/{name}")
                to.parent.mkdir(parents=True, exist_ok=True)
                shutil.copy2(TOP / name, to)
        resolver = self.path("/etc/resolv.conf")
        resolver.unlink(missing_ok=True)  # often a mount of its own, which no overlay shows
        resolver.write_bytes(Path("/etc/resolv.conf").read_bytes())

    def _first(self) -> int:
        assert self._holder is not None
        children = Path(f"/proc/{self._holder.pid}/task/{self._holder.pid}/children")
        return int(children.read_text().split()[0])

    def _entered(self, command: tuple[str, ...]) -> list[str]:
        inside = ["nsenter", "--target", str(self._first()), "--mount", "--pid"]
        if not self.online:
            inside.append("--net")
        return [*inside, "--", "chroot", f"{self.folder}/root", *command]

    def _environment(self, more: Mapping[str, str] | None) -> dict[str, str]:
        kept = {k: v for k, v in os.environ.items() if not k.startswith(("CUREWATCH_", "PYTHON"))}
        return {**kept, "PATH": SYSTEM_PATH, "HOME": "/root", **(more or {})}
