"""What the install script installs is a part of what the tests run with."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

TOP = Path(__file__).parents[2]


def _pins(path: Path) -> dict[str, str]:
    """Return each requirement with its marker, and its hashes."""
    lines = path.read_text(encoding="utf-8").replace("\\\n", "")
    found = re.findall(r"(?m)^(\S[^#\n]*?)\s+(--hash=[^#\n]*)$", lines)
    return {name.strip(): " ".join(hashes.split()) for name, hashes in found}


def _bare_names(wanted: list[str]) -> set[str]:
    return {re.split(r"[<>=\[; ]", each)[0] for each in wanted}


def test_every_pin_is_one_the_tests_run_with() -> None:
    tried = _pins(TOP / "requirements.txt")
    installed = _pins(TOP / "deploy" / "requirements.txt")
    assert installed
    assert {name: tried.get(name) for name in installed} == installed


def test_nothing_the_package_needs_is_left_out() -> None:
    project = tomllib.loads((TOP / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extras = project["optional-dependencies"]
    needed = _bare_names(project["dependencies"] + extras["fits"] + extras["install"])
    pinned = {name.partition("==")[0] for name in _pins(TOP / "deploy" / "requirements.txt")}
    assert needed - pinned == set()


def test_no_address_is_named() -> None:
    assert "://" not in (TOP / "deploy" / "requirements.txt").read_text(encoding="utf-8")
