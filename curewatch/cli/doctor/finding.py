"""A finding: one thing that was looked at, how it stands, and what to do."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

    from curewatch.errors import BadConfig
    from curewatch.settings import Settings
    from curewatch.shop.plain import Plain
    from curewatch.storage import Store

MIB = 1024 * 1024


class State(StrEnum):
    """How a finding stands."""

    OK = "ok"
    LOOK = "look"
    FAULT = "fault"


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that was looked at.

    Attributes
    ----------
    area: what it belongs to.
    state: how it stands.
    what: what was found.
    fix: what to do; empty when nothing is to be done.
    """

    area: str
    state: State
    what: str
    fix: str = ""

    def plain(self) -> Plain:
        """Return it as plain data."""
        return {"area": self.area, "state": str(self.state), "what": self.what, "fix": self.fix}


@dataclass(frozen=True, slots=True)
class Open:
    """A shop whose database could be opened, for the checks that look into it.

    Attributes
    ----------
    settings, store: the shop's.
    now_ms: what the shop takes for now [ms].
    wall_ms: what the system's clock says [ms].
    """

    settings: Settings
    store: Store
    now_ms: int
    wall_ms: int


def count(number: int, what: str) -> str:
    """Return how many of `what`, in words."""
    return f"{number or 'no'} {what}{'' if number == 1 else 's'}"


def faults(area: str, error: BadConfig) -> Iterator[Finding]:
    """Yield every fault of a configuration."""
    for fault in error.faults:
        yield Finding(area, State.FAULT, fault, f"mend it in {error.source}")
