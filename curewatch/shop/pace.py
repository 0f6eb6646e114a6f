"""Pace: what a shop's own outcomes say of how long a finish really takes.

Outcomes move the cautious end of the waits alone (`waits`); the profile's own hours stay beside it.
Where nobody found anything yet, nothing changes.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from curewatch.science.learning import Learnt, Pace, learn, memory_share, pace, prior_for
from curewatch.shop.clocks import MS_PER_H
from curewatch.shop.findings import Evidence, evidence
from curewatch.shop.finish import MilestoneName, PacePriorName
from curewatch.shop.laws import CLOCK_OF, required_h
from curewatch.shop.milestones import PieceClocks
from curewatch.shop.reading import Standing

if TYPE_CHECKING:
    from collections.abc import Iterable

    from curewatch.science.learning import PacePrior
    from curewatch.shop.finish import Finish
    from curewatch.shop.piece import Piece
    from curewatch.shop.plain import Plain
    from curewatch.shop.shop import Shop

LEAST_COVERED = 0.8
"""Below this share of the time bridged by readings nothing is learnt: the hours would be too few,
and a 'fine' would pass for an early one."""
PRIOR_OF = {
    PacePriorName.RULE: prior_for("common-practice"),
    PacePriorName.MEMORY: prior_for("from-memory"),
}


@dataclass(frozen=True, slots=True)
class Judged:
    """A piece as it was when its outcomes were read, and what they say."""

    piece: Piece
    finish: Finish
    said: tuple[Evidence, ...]


def judge(piece: Piece, finish: Finish, shop: Shop) -> Judged:
    """Read a piece's outcomes by the clocks at their time; `shop`'s book must hold its record."""

    def hours_at(name: MilestoneName, at_ms: int) -> tuple[float, float] | None:
        clocks = PieceClocks(piece, finish, book=shop.book, rooms=shop.rooms, now_ms=at_ms)
        asked, reading = required_h(finish, name, clocks.coats), clocks.reading(CLOCK_OF[name])
        if asked is None or reading is None:
            return None
        wall_h = (at_ms - clocks.start_ms) / MS_PER_H
        if reading.covered_h < LEAST_COVERED * wall_h:
            return None
        return reading.effective_hours, asked

    return Judged(piece, finish, evidence(piece, finish, hours_at=hours_at))


def prior_of(finish: Finish) -> PacePrior:
    """Return what is believed of a finish's pace before any outcome."""
    buff = finish.requirements.get(MilestoneName.BUFF)
    standing = Standing.FROM_MEMORY if buff is None else buff.hours.standing
    if finish.pace_prior is None:
        return prior_for(str(standing))
    return replace(PRIOR_OF[finish.pace_prior], standing=str(standing))


def learnt_of(finish: Finish, judged: Iterable[Judged]) -> Learnt:
    """
    Return what all outcomes of a finish's name say of one of its revisions.

    Every revision between counts as a new formula: what was found under another one is remembered
    in part, and opens no guard.
    """
    found = []
    for one in judged:
        if one.finish.name == finish.name:
            share = memory_share(formulas=abs(finish.revision - one.finish.revision))
            found += [
                replace(each.finding, memory=share) for each in one.said if each.finding is not None
            ]
    return learn(found, prior_of(finish))


def paces(
    finishes: Iterable[Finish], judged: Iterable[Judged], before: dict[tuple[str, int], Learnt]
) -> dict[tuple[str, int], Learnt]:
    """Return what is learnt of each finish that outcomes speak of; the same object if the same."""
    all_judged, found = list(judged), dict[tuple[str, int], Learnt]()
    for finish in finishes:
        learnt, key = learnt_of(finish, all_judged), (finish.name, finish.revision)
        if not learnt.findings:
            continue
        known = before.get(key)
        same = known is not None and (known.prior, known.findings) == (
            learnt.prior,
            learnt.findings,
        )
        found[key] = known if known is not None and same else learnt
    return found


def pace_now(finish: Finish, learnt: Learnt | None) -> Pace:
    """Return a finish's pace as people read it; its prior where nothing is learnt."""
    return pace(learn((), prior_of(finish)) if learnt is None else learnt)


PACE_SOURCE = "what was found when testing here, on top of how cautious the profile's hours are"


def pace_plain(now: Pace) -> Plain:
    """Return a pace as plain data."""
    return {
        "median": now.median,
        "p10": now.p10,
        "p90": now.p90,
        "outcomes": now.outcomes,
        "standing": now.standing,
        "source": PACE_SOURCE,
        "changed": list(now.changed),
    }


def pace_sentence(now: Pace) -> str:
    """Say a pace in one sentence."""
    word = "no outcome" if now.outcomes == 0 else f"{now.outcomes} outcome"
    many = "s" if now.outcomes > 1 else ""
    return (
        f"Our pace: films take {now.median:.2f} times the profile's hours (eight in ten between "
        f"{now.p10:.2f} and {now.p90:.2f}), by {word}{many}; {now.standing}."
    )
