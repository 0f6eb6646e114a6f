"""The shipped units are ones systemd understands, and leave little open."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from pathlib import Path

import pytest

DEPLOY = Path(__file__).parents[2] / "deploy"
UNIT = DEPLOY / "curewatch.service"
UNITS = ("curewatch.service", "curewatch-backup.service", "curewatch-backup.timer")
EXPOSURE_TENTHS = 15  # of 100; a bare unit has 92


@pytest.fixture(scope="module")
def analyze() -> str:
    """Return systemd's own checker; on the build machine it must be there."""
    found = shutil.which("systemd-analyze")
    if found is None:
        lacking = "systemd-analyze is missing: apt-get install systemd"
        if os.environ.get("CI"):
            pytest.fail(lacking)
        pytest.skip(lacking)
    return found


def _with_programs_that_are_there(directory: Path) -> None:
    for name in UNITS:
        text = (DEPLOY / name).read_text(encoding="utf-8")
        text = re.sub(r"(?m)^ExecStart=\S+", "ExecStart=/bin/true", text)
        (directory / name).write_text(text, encoding="utf-8")


def _verified(analyze: str, unit: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [analyze, "verify", "--recursive-errors=no", "--man=no", unit],
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.mark.parametrize("name", UNITS)
def test_systemd_finds_nothing_wrong_with_a_unit(name: str, analyze: str, tmp_path: Path) -> None:
    _with_programs_that_are_there(tmp_path)
    done = _verified(analyze, tmp_path / name)
    assert (done.returncode, done.stdout + done.stderr) == (0, "")


@pytest.mark.parametrize(
    ("name", "right", "slip", "said"),
    [
        ("curewatch.service", "StateDirectoryMode=", "StateDirectoryMood=", "StateDirectoryMood"),
        ("curewatch-backup.timer", "=03:20", "=25:20", "25:20"),
    ],
)
def test_a_slip_in_a_unit_would_be_found(
    name: str, right: str, slip: str, said: str, analyze: str, tmp_path: Path
) -> None:
    _with_programs_that_are_there(tmp_path)
    unit = tmp_path / name
    unit.write_text(unit.read_text(encoding="utf-8").replace(right, slip), encoding="utf-8")
    assert said in _verified(analyze, unit).stderr


@pytest.mark.parametrize("name", [name for name in UNITS if name.endswith(".service")])
def test_little_is_left_open(name: str, analyze: str) -> None:
    done = subprocess.run(
        [analyze, "security", "--offline=true", f"--threshold={EXPOSURE_TENTHS}", DEPLOY / name],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout[-400:]
    assert f"Overall exposure level for {name}" in done.stdout


def test_a_bare_unit_would_be_found_open(analyze: str, tmp_path: Path) -> None:
    unit = tmp_path / "curewatch.service"
    unit.write_text("[Service]\nExecStart=/bin/true\n", encoding="utf-8")
    done = subprocess.run(
        [analyze, "security", "--offline=true", f"--threshold={EXPOSURE_TENTHS}", unit],
        capture_output=True,
        check=False,
    )
    assert done.returncode != 0


@pytest.mark.parametrize(
    "line", ["UMask=0007", "StateDirectoryMode=2770", "Environment=OPENBLAS_NUM_THREADS=1"]
)
def test_what_the_commands_and_small_machines_rely_on_is_there(line: str) -> None:
    assert line in UNIT.read_text(encoding="utf-8").splitlines()
