"""A person's withdrawal of readings that cannot be true."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from curewatch.shop.reading import Quantity


@dataclass(frozen=True, slots=True)
class ReadingVoid:
    """One withdrawal: readings of a sensor in [start_ms, stop_ms) [ms], and why.

    Attributes
    ----------
    quantity: which; None where all of them.
    at_ms: when a person said so [ms].
    """

    sensor: str
    quantity: Quantity | None
    start_ms: int
    stop_ms: int
    why: str
    at_ms: int
