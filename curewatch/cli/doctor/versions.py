"""Versions: Python, the SQLite that is carried, and the libraries against what was tried."""

from __future__ import annotations

import operator
import platform
import re
import sys
from importlib.metadata import PackageNotFoundError, requires, version
from itertools import zip_longest
from pathlib import Path
from typing import TYPE_CHECKING

import curewatch
from curewatch.cli.doctor.finding import Finding, State
from curewatch.storage.database import sqlite_version

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

AREA = "versions"
SAFE_SQLITE = (3, 51, 3)  # 3.7.0 to 3.51.2 may corrupt a write-ahead log with two writers
SHOWN = ("apsw", "numpy", "paho-mqtt", "pydantic", "apprise")
NARROW_BITS = 2**32
PINS = Path(curewatch.__file__).parents[1] / "requirements.txt"
_DEPENDENCY = re.compile(r"([A-Za-z0-9._-]+)\s*([<>=!~,.0-9\s]*)$")
_PIN = re.compile(r"^([A-Za-z0-9._-]+)==([^\s;\\]+)", re.MULTILINE)
_COMPARISONS: dict[str, Callable[[list[int], list[int]], bool]] = {
    ">=": operator.ge,
    "<": operator.lt,
    "==": operator.eq,
}


def findings() -> Iterator[Finding]:
    """Look at what this program runs on."""
    known = ", ".join(f"{name} {installed(name) or '(missing)'}" for name in SHOWN)
    yield Finding(
        AREA,
        State.OK,
        f"curewatch {curewatch.__version__}, Python {platform.python_version()}, "
        f"{platform.machine()}; {known}",
    )
    if sys.maxsize < NARROW_BITS:
        yield Finding(
            AREA,
            State.FAULT,
            "this is a 32-bit system, for which the libraries are not made",
            "install the 64-bit system on a new card and put the backup back",
        )
    yield from sqlite_finding(sqlite_version())
    yield from wanted(_declared())
    yield from pinned(PINS)


def sqlite_finding(carried: str) -> Iterator[Finding]:
    """Say whether the SQLite that is carried is one that may be trusted."""
    safe = ordered(carried)[:3] >= SAFE_SQLITE
    yield Finding(
        AREA,
        State.OK if safe else State.FAULT,
        f"SQLite {carried}" + ("" if safe else " may damage a database with two writers"),
        "" if safe else "install a newer apsw, which carries a newer SQLite",
    )


def wanted(declared: list[str] | tuple[str, ...]) -> Iterator[Finding]:
    """Compare what is installed with what this program says it needs."""
    for line in declared:
        name, limits = _dependency(line)
        if not name:
            continue  # of an extra, or for another system
        have = installed(name)
        broken = [limit for limit in limits if have is None or not _meets(have, limit)]
        if broken or have is None:
            yield Finding(
                AREA,
                State.FAULT,
                f"{name} {have or 'is not installed'}: curewatch needs {', '.join(limits)}",
                "install again as docs and deploy say, from requirements.txt",
            )


def pinned(path: Path) -> Iterator[Finding]:
    """Compare what is installed with the versions the project was tried with, if they are told."""
    if not path.is_file():
        return
    pins: dict[str, list[str]] = {}
    for name, pin in _PIN.findall(path.read_text(encoding="utf-8")):  # one for each Python
        pins.setdefault(name, []).append(pin)
    have = {name: installed(name) for name in pins}
    other = [
        f"{name} {found} (tried with {' or '.join(pins[name])})"
        for name, found in have.items()
        if found is not None and found not in pins[name]
    ]
    if not other:
        yield Finding(AREA, State.OK, "every library is of the version the project was tried with")
        return
    yield Finding(
        AREA,
        State.LOOK,
        f"of another version than the project was tried with: {', '.join(sorted(other)[:8])}",
        f"pip install --no-deps --require-hashes -r {path}",
    )


def installed(name: str) -> str | None:
    """Return the version of a library, None where it is not there."""
    try:
        return version(name)
    except PackageNotFoundError:
        return None


def every() -> dict[str, str]:
    """Return the versions of all that this program needs."""
    needed = (_dependency(line)[0] for line in _declared())
    found = {name: installed(name) for name in needed if name}
    return {name: have for name, have in sorted(found.items()) if have is not None}


def ordered(text: str) -> tuple[int, ...]:
    """Return a version's numbers, to be compared; what comes behind a letter is left out."""
    return tuple(int(part) for part in re.findall(r"\d+", re.split(r"[a-zA-Z+]", text)[0]))


def _declared() -> list[str]:
    """Return what this program says it needs; nothing where it runs without being installed."""
    try:
        return requires("curewatch") or []
    except PackageNotFoundError:
        return []


def _dependency(line: str) -> tuple[str, list[str]]:
    """Return a library and its limits; no name where it is for an extra."""
    body, _, marker = line.partition(";")
    found = _DEPENDENCY.match(body.strip())
    if found is None or "extra" in marker:
        return "", []
    limits = [limit.strip() for limit in found[2].split(",") if limit.strip()]
    return found[1], limits


def _meets(have: str, limit: str) -> bool:
    """Whether a version keeps to a limit; a kind of limit that is not known is not judged."""
    found = re.fullmatch(r"([<>=!~]+)\s*([\d.]+)", limit)
    if found is None or found[1] not in _COMPARISONS:
        return True
    pairs = list(zip_longest(ordered(have), ordered(found[2]), fillvalue=0))
    return _COMPARISONS[found[1]]([one for one, _ in pairs], [other for _, other in pairs])
