"""Memory that was used once and is free now, handed back to the system.

A start reads weeks of readings and drops them again; the C library keeps what was freed, for a
daemon that will not need so much again. On a small board that is memory others lack.
"""

from __future__ import annotations

import ctypes
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from curewatch.storage import Store


def give_back(store: Store) -> None:
    """Let go of what is free: the database's pages in memory, and what the C library holds."""
    store.db.release_memory()
    trim = getattr(ctypes.CDLL(None), "malloc_trim", None)  # glibc has it, others do not hold on
    if trim is not None:
        trim(0)
