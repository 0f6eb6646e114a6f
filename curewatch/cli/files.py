"""Writing a file whole or not at all, and not over somebody else's."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

from curewatch.errors import BadInput, StorageError

if TYPE_CHECKING:
    from pathlib import Path


def write_new(path: Path, content: bytes, *, force: bool, mode: int | None = None) -> None:
    """Write a file; one that is there is only written over with `force`.

    With `mode` it has just these permissions from its first byte on.

    Raises
    ------
    BadInput
        When something is there already.
    StorageError
        When it cannot be written.
    """
    if path.exists() and not (force and path.is_file()):
        raise BadInput(f"{path} is there already: name another file, or add --force")
    beside = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        if mode is not None:
            beside.unlink(missing_ok=True)  # one that is there has permissions of its own
            beside.touch(mode, exist_ok=False)
        beside.write_bytes(content)
        beside.replace(path)
    except OSError as error:
        beside.unlink(missing_ok=True)
        raise StorageError(f"{path} could not be written: {error.strerror}") from error
