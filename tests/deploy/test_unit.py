"""The shipped unit is one systemd understands, and leaves little open."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from pathlib import Path

import pytest

UNIT = Path(__file__).parents[2] / "deploy" / "curewatch.service"
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


def _unit_with_a_program_that_is_there(directory: Path, text: str | None = None) -> Path:
    text = UNIT.read_text(encoding="utf-8") if text is None else text
    unit = directory / "curewatch.service"
    unit.write_text(re.sub(r"(?m)^ExecStart=\S+", "ExecStart=/bin/true", text), encoding="utf-8")
    return unit


def _verified(analyze: str, unit: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [analyze, "verify", "--recursive-errors=no", "--man=no", unit],
        capture_output=True,
        text=True,
        check=False,
    )


def test_systemd_finds_nothing_wrong_with_the_unit(analyze: str, tmp_path: Path) -> None:
    done = _verified(analyze, _unit_with_a_program_that_is_there(tmp_path))
    assert (done.returncode, done.stdout + done.stderr) == (0, "")


def test_a_slip_in_the_unit_would_be_found(analyze: str, tmp_path: Path) -> None:
    text = UNIT.read_text(encoding="utf-8").replace("StateDirectoryMode=", "StateDirectoryMood=")
    done = _verified(analyze, _unit_with_a_program_that_is_there(tmp_path, text))
    assert "StateDirectoryMood" in done.stderr


def test_little_is_left_open(analyze: str) -> None:
    done = subprocess.run(
        [analyze, "security", "--offline=true", f"--threshold={EXPOSURE_TENTHS}", UNIT],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout[-400:]
    assert "Overall exposure level for curewatch.service" in done.stdout


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
