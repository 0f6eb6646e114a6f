"""Permissions: who may read and change the database, the configuration and the secrets."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

from curewatch.cli.doctor.finding import Finding, State
from curewatch.settings.agreement import openness

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from curewatch.settings import Settings

AREA = "permissions"
OTHERS, OTHERS_WRITE, GROUP_WRITE = 0o007, 0o002, 0o020


def findings(settings: Settings) -> Iterator[Finding]:
    """Look who may read and write what."""
    found = [*_state(settings.storage.path), *_configuration(settings.source)]
    secrets = [path for _, path in secret_files(settings) if _is_seen(path)]
    opened = open_secrets(settings)
    found += [Finding(AREA, State.LOOK, said, said.partition("; ")[2]) for said in opened]
    if secrets and not opened:
        named = ", ".join(str(path) for path in secrets)
        found.append(Finding(AREA, State.OK, f"files with secrets are closed to others: {named}"))
    if not found:
        found.append(Finding(AREA, State.OK, "nothing is open to people whom it does not concern"))
    yield from found


def secret_files(settings: Settings) -> list[tuple[str, Path]]:
    """Return the files with secrets that the configuration names, each with its key."""
    found = (
        ("broker.password_file", settings.broker.password_file),
        ("notify.urls_file", settings.notify.urls_file),
        ("influx.token_file", settings.influx.token_file),
    )
    return [(key, path) for key, path in found if path is not None]


def open_secrets(settings: Settings) -> list[str]:
    """Return what is wrong with the modes of the files with secrets."""
    known = [(key, path) for key, path in secret_files(settings) if _is_seen(path)]
    if settings.source is not None and settings.notify.urls:
        known.append(("notify.urls", settings.source))
    return [warning for key, path in known for warning in openness(path, key)]


def _state(path: Path) -> Iterator[Finding]:
    """Look at the database and its directory."""
    folder = path.parent
    if _is_seen(folder) and not os.access(folder, os.W_OK | os.X_OK):
        yield Finding(
            AREA,
            State.FAULT,
            f"{folder} cannot be written by this user",
            "run as the daemon's user or one of its group, or correct storage.path",
        )
    for part in (path, path.with_name(f"{path.name}-wal"), path.with_name(f"{path.name}-shm")):
        if not _is_seen(part):
            continue
        if not os.access(part, os.R_OK | os.W_OK):
            yield Finding(
                AREA,
                State.FAULT,
                f"{part} cannot be read and written by this user",
                f"join the daemon's group, or: sudo chmod u=rw,g=rw,o= {part}",
            )
        elif part.stat().st_mode & OTHERS and folder.stat().st_mode & OTHERS:
            yield Finding(
                AREA,
                State.LOOK,
                f"{part} is open to every user here: pieces, customers' names, your times",
                f"chmod o= {part} {folder}",
            )


def _configuration(source: Path | None) -> Iterator[Finding]:
    """Look who may change the configuration."""
    if source is None or not source.stat().st_mode & (OTHERS_WRITE | GROUP_WRITE):
        return
    who = "every user here" if source.stat().st_mode & OTHERS_WRITE else "the file's whole group"
    yield Finding(
        AREA,
        State.LOOK,
        f"{source} can be changed by {who}",
        f"chmod g-w,o-w {source}",
    )


def _is_seen(path: Path) -> bool:
    """Whether a file or directory is there and this user may look at it."""
    try:
        return path.exists()
    except PermissionError:
        return False
