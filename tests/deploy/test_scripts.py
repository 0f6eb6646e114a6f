"""The scripts in deploy/ read well to a checker of shell scripts, and say what they do."""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path

import pytest

DEPLOY = Path(__file__).parents[2] / "deploy"
SCRIPTS = sorted(DEPLOY.glob("*.sh"))
COMMANDS = ("install.sh", "upgrade.sh", "uninstall.sh", "try-root.sh", "try-arm64.sh")


@pytest.fixture(scope="module")
def shellcheck() -> str:
    """Return the checker; in CI it must be there."""
    found = shutil.which("shellcheck")
    if found is None:
        lacking = "shellcheck is missing: apt-get install shellcheck"
        if os.environ.get("CI"):
            pytest.fail(lacking)
        pytest.skip(lacking)
    return found


def _checked(shellcheck: str, script: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [shellcheck, "-x", script], cwd=DEPLOY, capture_output=True, text=True, check=False
    )


@pytest.mark.parametrize("script", SCRIPTS, ids=lambda each: each.name)
def test_a_checker_of_scripts_finds_nothing(script: Path, shellcheck: str) -> None:
    done = _checked(shellcheck, script)
    assert (done.returncode, done.stdout + done.stderr) == (0, "")


def test_the_checker_would_find_a_slip(shellcheck: str, tmp_path: Path) -> None:
    slip = tmp_path / "slip.sh"
    slip.write_text("#!/bin/sh\nrm -r $1\n", encoding="utf-8")
    assert "SC2086" in _checked(shellcheck, slip).stdout


@pytest.mark.parametrize("name", COMMANDS)
def test_each_tells_what_it_takes(name: str) -> None:
    done = subprocess.run([DEPLOY / name, "--help"], capture_output=True, text=True, check=False)
    assert done.returncode == 0
    assert done.stdout.startswith("usage: ")


@pytest.mark.parametrize("name", COMMANDS)
def test_an_option_nobody_knows_is_refused(name: str) -> None:
    done = subprocess.run(
        [DEPLOY / name, "--no-such-option"], capture_output=True, text=True, check=False
    )
    assert done.returncode == 2
    assert "usage: " in done.stderr
