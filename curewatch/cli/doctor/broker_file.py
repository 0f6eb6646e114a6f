"""The broker's own file, where it runs on this machine: settings that drop messages silently.

Read from memory of mosquitto's manual (mosquitto.conf): a key stands at the start of a line, its
value behind it; `include_dir` names a directory whose *.conf files are read in their order.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from curewatch.cli.doctor.finding import Finding, State

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

AREA = "broker"
PLACE = Path("/etc/mosquitto/mosquitto.conf")
LISTENS = ("listener", "port")
USUAL_PORT = 1883
DEFAULTS = {
    "persistence": "false",
    "max_queued_messages": "1000",
    "max_inflight_messages": "20",
    "autosave_interval": "1800",
    "persistent_client_expiration": "",
}
LEAST_QUEUED, LEAST_INFLIGHT, LONGEST_UNSAVED_S = 20_000, 100, 120
LEAST_KEPT_DAYS = 7
SPANS_DAYS = {"h": 1 / 24, "d": 1.0, "w": 7.0, "m": 30.0, "y": 365.0}
FIX = "put deploy/mosquitto/curewatch.conf into its conf.d, then: systemctl restart mosquitto"


def findings(port: int, place: Path = PLACE) -> Iterator[Finding]:
    """Judge the file at `place` and what it includes.

    Nothing is said where it cannot be read, or where no listener of it has our `port`: then it is
    another broker's.
    """
    try:
        found = settings_of(place)
    except (OSError, UnicodeDecodeError, RecursionError):  # the last where they include each other
        return
    if port not in _ports(found):
        return
    wrong = list(judged(found))
    yield from wrong
    if not wrong:
        yield Finding(AREA, State.OK, f"{place} lets nothing be dropped that is known to us")


def settings_of(place: Path) -> dict[str, str]:
    """Return the settings of a file and of the directories it includes; the last one holds."""
    found: dict[str, str] = {}
    for line in place.read_text(encoding="utf-8").splitlines():
        key, _, value = line.strip().partition(" ")
        if key == "include_dir":
            for part in sorted(Path(value.strip()).glob("*.conf")):
                more = settings_of(part)
                for each in LISTENS:
                    more[each] = f"{found.get(each, '')} {more.get(each, '')}"
                found |= more
        elif key in LISTENS:
            found[key] = f"{found.get(key, '')} {value.split()[0] if value.split() else ''}"
        elif key and key[0] != "#":
            found[key] = value.strip()
    return found


def judged(found: Mapping[str, str]) -> Iterator[Finding]:
    """Say which settings may lose messages."""
    given = {**DEFAULTS, **found}
    if given["persistence"].lower() != "true":
        yield _look("it keeps nothing over its own restart (persistence is not true)")
    queued = _number(given["max_queued_messages"])
    if queued is not None and 0 < queued < LEAST_QUEUED:
        yield _look(f"it keeps {queued} messages for an absent daemon and drops what comes after")
    inflight = _number(given["max_inflight_messages"])
    if inflight is not None and 0 < inflight < LEAST_INFLIGHT:
        yield _look(
            f"it lets {inflight} messages be under way (max_inflight_messages), which holds up a "
            "daemon that acknowledges after the disk has them"
        )
    unsaved_s = _number(given["autosave_interval"])
    if unsaved_s is not None and (unsaved_s == 0 or unsaved_s > LONGEST_UNSAVED_S):
        often = "only when it ends" if unsaved_s == 0 else f"every {unsaved_s} s"
        yield _look(f"it saves what waits {often} (autosave_interval): killed, it loses that")
    kept = given["persistent_client_expiration"]
    days = (_number(kept[:-1]) or 0) * SPANS_DAYS.get(kept[-1:], 0.0)
    if kept and days < LEAST_KEPT_DAYS:
        yield _look(f"it forgets an absent daemon after {kept} (persistent_client_expiration)")


def _ports(found: Mapping[str, str]) -> set[int]:
    """Return the ports a broker listens at; the usual one where none is said."""
    words = " ".join(found.get(key, "") for key in LISTENS).split()
    return {int(word) for word in words if word.isdecimal()} or {USUAL_PORT}


def _look(what: str) -> Finding:
    return Finding(AREA, State.LOOK, what, FIX)


def _number(text: str) -> int | None:
    return int(text) if text.isdecimal() else None
