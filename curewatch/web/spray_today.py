"""What may be sprayed in a room today: one sentence for finishes of one verdict and one reason."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from curewatch.shop.assessment import conditions_of
from curewatch.shop.plain_spray import answer_sentence
from curewatch.shop.spray import aged
from curewatch.shop.spray_ahead import Ahead, spray_ahead
from curewatch.shop.spray_answer import Job, SprayAnswer
from curewatch.shop.spray_outlook import air_ahead
from curewatch.shop.spray_recoat import recoat

if TYPE_CHECKING:
    from collections.abc import Iterable

    from curewatch.shop.assessment import RoomNow
    from curewatch.shop.spray_terms import Verdict
    from curewatch.web.desk import Counter


@dataclass(frozen=True, slots=True)
class Said:
    """A verdict of a room, the finishes it holds for, and why; '' where nothing binds."""

    verdict: Verdict
    finishes: tuple[str, ...]
    reason: str


def answers(counter: Counter, room: RoomNow) -> tuple[SprayAnswer, ...]:
    """Return the spray check for every finish in use, with the hours that a coat needs.

    A question by itself, kept until something changes. The hours ahead are asked where this moment
    is fit; where it is not, they cannot make it so.
    """
    key = f"today {room.name}"
    found: tuple[SprayAnswer, ...] | None = counter.memo.get(key)
    if found is None:
        found = _answers(counter, room)
        if counter.clock_set:
            counter.memo[key] = found
    return found


def _answers(counter: Counter, room: RoomNow) -> tuple[SprayAnswer, ...]:
    shop, now_ms = counter.shop, counter.now_ms
    in_use = {found.name: found for found in map(shop.finish_of, shop.pieces.values())}
    asked = room.climate is not None and room.fresh and any(c.verdict.is_go for c in room.checks)
    air = air_ahead(shop, room.name, now_ms) if asked else None
    if room.climate is None or air is None:
        return tuple(
            SprayAnswer(Job(in_use[check.finish]), check, None, None, (), now_ms)
            for check in room.checks
        )
    here = aged(
        conditions_of(shop, room.name, room.climate), (now_ms - room.climate.at_ms) / 1000.0
    )
    made = []
    for check in room.checks:
        finish = in_use[check.finish]
        next_coat = ahead = None
        if check.verdict.is_go:
            next_coat = recoat(finish, here, air, coats=1)
            until_h = None if next_coat is None else next_coat.last.latest
            ahead = spray_ahead(Ahead(finish, here, air, shop.words), until_h)
        made.append(SprayAnswer(Job(finish), check, ahead, next_coat, (), now_ms))
    return tuple(made)


def together(found: Iterable[SprayAnswer]) -> tuple[Said, ...]:
    """Return one entry for the finishes that share verdict and reason, in order of the first."""
    groups: dict[tuple[Verdict, str], list[str]] = {}
    for answer in found:
        reason = "" if answer.binding is None else answer_sentence(answer).partition(": ")[2]
        groups.setdefault((answer.verdict, reason), []).append(answer.now.finish)
    return tuple(Said(verdict, tuple(names), reason) for (verdict, reason), names in groups.items())
