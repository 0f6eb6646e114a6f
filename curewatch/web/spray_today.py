"""What may be sprayed in a room today: one sentence for finishes of one verdict and one reason."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

    from curewatch.shop.spray_answer import SprayAnswer
    from curewatch.shop.spray_terms import Verdict


@dataclass(frozen=True, slots=True)
class Said:
    """A verdict of a room, the finishes it holds for, and why; '' where nothing binds."""

    verdict: Verdict
    finishes: tuple[str, ...]
    reason: str


def together(found: Iterable[SprayAnswer]) -> tuple[Said, ...]:
    """Return one entry for the finishes that share verdict and reason, in order of the first."""
    groups: dict[tuple[Verdict, str], list[str]] = {}
    for answer in found:
        reason = "" if answer.binding is None else answer.sentence.partition(": ")[2]
        groups.setdefault((answer.verdict, reason), []).append(answer.now.finish)
    return tuple(Said(verdict, tuple(names), reason) for (verdict, reason), names in groups.items())
