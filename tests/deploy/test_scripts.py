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


def _with_parts(script: str, *given: str | Path) -> str:
    """Run a piece of script over the parts all of them share; return what it says."""
    whole = f'. "{DEPLOY}/parts.sh"\n{script}'
    command = ["bash", "-euo", "pipefail", "-c", whole, DEPLOY / "trial.sh", *given]
    return subprocess.run(command, capture_output=True, text=True, check=True).stdout


def test_changes_are_counted_anew_when_they_are_done() -> None:
    said = _with_parts(
        'walk() { echo "$changes so far"; change "one" true; }; yes=true; plan_ask_and_do'
    )
    assert said.count("0 so far") == 2


def test_the_newest_three_copies_of_upgrades_stay(tmp_path: Path) -> None:
    for age, name in enumerate(("before-9.db", "before-1 b.db", "before-3.db", "before-2.db")):
        (tmp_path / name).touch()
        os.utime(tmp_path / name, (1_000_000 - age, 1_000_000 - age))
    (tmp_path / "before-0.db").touch()
    (tmp_path / "curewatch-20270103T032412Z.db").touch()
    _with_parts('remove_older_copies "$1"', tmp_path)
    assert {one.name for one in tmp_path.iterdir()} == {
        *("before-0.db", "before-9.db", "before-1 b.db", "curewatch-20270103T032412Z.db"),
    }
    _with_parts('remove_older_copies "$1"', tmp_path)
    assert len(list(tmp_path.iterdir())) == 4


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
